"""The pack's ledger: cycles, full charges, peaks, and time at the limits."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from itertools import pairwise
from typing import Any, Final

from ..digest import LogDigest
from ..local_days import local, midnight_s
from ..one_log.anchors import LogAnchors
from ..one_log.use import LogUse
from ..phrases import iso_utc
from .day_use import DAY_S, USES, ToldDay, sum_known, use_by_day

#: A pack that goes longer than this without a full charge drifts out of balance, and its percent
#: with it. [days] (a warranty clause asks for one every 10 days; common practice)
FULL_EVERY_DAYS: Final = 10.0
#: What counts as the top, here and wherever it is told.
TOP_FORMULA: Final = ("at the top = the amps fell away by themselves, the volts rose steeply at "
                      "the end, or one cell stood at its limit; the volts say so, not the display. "
                      "Fills tells which of those ended full")
#: From full to full without any use that anybody told, so long: it was laid up. Chosen here. [s]
LAID_UP_S: Final = 28 * DAY_S
#: When a typed day was in use, and when it came to full. [s after midnight]
NOON_S, EVENING_S = 0.5 * DAY_S, 0.75 * DAY_S


@dataclass(frozen=True, slots=True)
class Stretch:
    """Days in a row without a charge to the top; from the last such to the next. [Unix s]"""

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
    #: Days on which it came to the top, braking included, see ``TOP_FORMULA``.
    full_charges: int
    observed_h: float
    charge_out_ah: float
    energy_out_wh: float
    distance_m: float
    #: Amp-hours out over rated amp-hours; NaN if the rating is not known.
    equivalent_full_cycles: float
    days_since_full: float
    #: Days with use that are known from what was typed alone, their amp-hours out, their way.
    typed_days: int
    typed_out_ah: float
    typed_distance_m: float
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


def make_ledger(digests: Sequence[LogDigest], rated_ah: float | None,
                told: Sequence[ToldDay] = ()) -> Ledger:
    """The ledger of one pack.

    Parameters
    ----------
    digests
        With the parts ``anchors`` and ``use``, oldest first.
    rated_ah
        What the pack is rated at, if known. [Ah]
    told
        Days as read off the display. Their use counts where no log has any; a day that came to
        100 % counts as one with a full charge.
    """
    uses = [d.of(LogUse) for d in digests]
    fulls = sorted([d.start_s + anchor.elapsed_s for d in digests
                    for anchor in d.of(LogAnchors).anchors if anchor.kind == "full"]
                   + [day.day_s + EVENING_S for day in told if day.is_full])
    end_s = max([d.end_s for d in digests] + [day.day_s + EVENING_S for day in told])
    typed = [day for day in use_by_day(digests, told) if day.is_typed]
    used_s = [d.start_s for d in digests if d.of(LogUse).kind in USES]
    used_s += [day.day_s + NOON_S for day in typed]
    typed_ah, typed_m = (sum_known(getattr(day, name) for day in typed)
                         for name in ("out_ah", "distance_m"))
    out_ah = sum_known([*(use.out_ah for use in uses), typed_ah])
    return Ledger(
        len(digests), _count(uses, "drive"), _count(uses, "charge"), _days_with(fulls),
        sum_known(use.observed_s for use in uses) / 3600, out_ah,
        sum_known(use.out_wh for use in uses),
        sum_known([*(use.distance_m for use in uses), typed_m]),
        out_ah / rated_ah if rated_ah else math.nan,
        (end_s - fulls[-1]) / DAY_S if fulls else math.nan,
        len(typed), typed_ah, typed_m,
        _without_full(fulls, digests[0].start_s, end_s, used_s),
        _largest([u.peak_out_a for u in uses]), _largest([u.peak_in_a for u in uses]),
        (_largest([u.rms_a[0] for u in uses]), _largest([u.rms_a[1] for u in uses]),
         _largest([u.rms_a[2] for u in uses])),
        -_largest([-u.voltage_min_v for u in uses]), _largest([u.voltage_max_v for u in uses]),
        -_largest([-u.temp_min_c for u in uses]), _largest([u.temp_max_c for u in uses]),
        *(sum_known([getattr(u, name) for u in uses]) / 3600
          for name in ("high_s", "low_s", "hot_s", "frost_charge_s")))


def _without_full(fulls: list[float], start_s: float, end_s: float,
                  used_s: Sequence[float]) -> tuple[Stretch, ...]:
    """Stretches longer than ``FULL_EVERY_DAYS``, longest first; from midnight to midnight.

    The calendar day of the full charge counts whole, so that 13 days without one read as 13. A
    pack that is laid up needs none until it is used.
    """
    ends = list(pairwise([start_s - DAY_S, *fulls, end_s + DAY_S]))
    found = [Stretch(midnight_s(a, 1), midnight_s(b)) for a, b in ends
             if b - a < LAID_UP_S or any(a < used < b for used in used_s)]
    long = [stretch for stretch in found if stretch.days > FULL_EVERY_DAYS]
    return tuple(sorted(long, key=lambda stretch: -stretch.days))


def _days_with(fulls: list[float]) -> int:
    return len({local(full).date() for full in fulls})


def _count(uses: list[LogUse], kind: str) -> int:
    return sum(use.kind == kind for use in uses)


def _largest(values: list[float]) -> float:
    return max((value for value in values if math.isfinite(value)), default=math.nan)


def _finite(value: Any) -> Any:
    return None if isinstance(value, float) and not math.isfinite(value) else value
