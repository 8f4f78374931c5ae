"""The pack's ledger: cycles, full charges, peaks, and time at the limits."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any, Final

from ..digest import LogDigest
from ..one_log.anchors import LogAnchors
from ..one_log.use import LogUse
from ..phrases import iso_utc

DAY_S: Final = 86400.0
#: A pack that goes longer than this without a full charge drifts out of balance, and its percent
#: with it. [days] (a warranty clause asks for one every 10 days; common practice)
FULL_EVERY_DAYS: Final = 10.0


@dataclass(frozen=True, slots=True)
class Stretch:
    """Days in a row without a full charge; from the last full one to the next. [Unix s]"""

    from_s: float
    until_s: float

    @property
    def days(self) -> float:
        return (self.until_s - self.from_s) / DAY_S


@dataclass(frozen=True, slots=True)
class Ledger:
    """What a pack has been through in a logbook. NaN where no log tells."""

    logs: int
    drives: int
    charges: int
    full_charges: int
    observed_h: float
    charge_out_ah: float
    energy_out_wh: float
    distance_m: float
    #: Amp-hours out over rated amp-hours; NaN if the rating is not known.
    equivalent_full_cycles: float
    days_since_full: float
    without_full: tuple[Stretch, ...]
    peak_out_a: float
    peak_in_a: float
    #: Worst RMS of 10 s, 1 min, 10 min. [A]
    rms_a: tuple[float, float, float]
    voltage_min_v: float
    voltage_max_v: float
    temp_min_c: float
    temp_max_c: float
    high_h: float
    low_h: float
    hot_h: float
    frost_charge_h: float

    def as_json(self) -> dict[str, Any]:
        plain = {name: value for name, value in asdict(self).items() if name != "without_full"}
        plain["rms_a"] = dict(zip(("10 s", "1 min", "10 min"), map(_finite, self.rms_a),
                                  strict=True))
        return {name: _finite(value) for name, value in plain.items()} | {
            "without_full": [{"from": iso_utc(s.from_s), "until": iso_utc(s.until_s),
                              "days": round(s.days, 1)} for s in self.without_full]}


def make_ledger(digests: Sequence[LogDigest], rated_ah: float | None) -> Ledger:
    """The ledger of one pack; ``digests`` with the parts ``anchors`` and ``use``, oldest first."""
    uses = [d.of(LogUse) for d in digests]
    fulls = [d.start_s + anchor.elapsed_s for d in digests
             for anchor in d.of(LogAnchors).anchors if anchor.kind == "full"]
    end_s = max(d.end_s for d in digests)
    out_ah = _sum([use.out_ah for use in uses])
    return Ledger(
        len(digests), _count(uses, "drive"), _count(uses, "charge"), _days_with(fulls),
        _sum([use.observed_s for use in uses]) / 3600, out_ah, _sum([u.out_wh for u in uses]),
        _sum([use.distance_m for use in uses]), out_ah / rated_ah if rated_ah else math.nan,
        (end_s - fulls[-1]) / DAY_S if fulls else math.nan,
        _without_full(fulls, digests[0].start_s, end_s),
        _largest([u.peak_out_a for u in uses]), _largest([u.peak_in_a for u in uses]),
        (_largest([u.rms_a[0] for u in uses]), _largest([u.rms_a[1] for u in uses]),
         _largest([u.rms_a[2] for u in uses])),
        -_largest([-u.voltage_min_v for u in uses]), _largest([u.voltage_max_v for u in uses]),
        -_largest([-u.temp_min_c for u in uses]), _largest([u.temp_max_c for u in uses]),
        *(_sum([getattr(u, name) for u in uses]) / 3600
          for name in ("high_s", "low_s", "hot_s", "frost_charge_s")))


def _without_full(fulls: list[float], start_s: float, end_s: float) -> tuple[Stretch, ...]:
    """Stretches longer than ``FULL_EVERY_DAYS``, longest first; from midnight to midnight.

    The calendar day of the full charge counts whole, so that 13 days without one read as 13.
    """
    days = [start_s // DAY_S - 1, *(full // DAY_S for full in fulls)]
    nexts = [*(full // DAY_S for full in fulls), end_s // DAY_S + 1]
    found = [Stretch((a + 1) * DAY_S, b * DAY_S) for a, b in zip(days, nexts, strict=True)]
    long = [stretch for stretch in found if stretch.days > FULL_EVERY_DAYS]
    return tuple(sorted(long, key=lambda stretch: -stretch.days))


def _days_with(fulls: list[float]) -> int:
    return len({full // DAY_S for full in fulls})


def _count(uses: list[LogUse], kind: str) -> int:
    return sum(use.kind == kind for use in uses)


def _sum(values: list[float]) -> float:
    finite = [value for value in values if math.isfinite(value)]
    return math.fsum(finite) if finite else math.nan


def _largest(values: list[float]) -> float:
    return max((value for value in values if math.isfinite(value)), default=math.nan)


def _finite(value: Any) -> Any:
    return None if isinstance(value, float) and not math.isfinite(value) else value
