"""An old volt gauge: what its lead-acid scale makes of an iron-phosphate pack."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from .iron_phosphate import rest_cell_v
from .lead_acid import lead_rest_cell_v
from .pack import PackFigures
from .verdict import Check, Judged, check, unknown

#: A gauge of charge that is off by more points than this is none.
TOLERANCE_PCT: Final = 10.0
#: Charges that it is tried at. [%]
TRIED_PCT: Final = (90.0, 50.0, 20.0)
#: The ends of a lead gauge's scale, in percent of a rested lead bank.
_SCALE_PCT: Final = (0.0, 100.0)


@dataclass(frozen=True, slots=True)
class Gauge:
    """A gauge as typed: its two end marks, or the lead cells it was made for."""

    name: str
    empty_v: float | None = None
    full_v: float | None = None
    #: 18 for 36 V, 24 for 48 V.
    lead_cells: int | None = None
    #: The most that its movement or electronics stand. [V]
    max_v: float | None = None

    def __post_init__(self) -> None:
        if self.empty_v is not None and self.full_v is not None and self.empty_v >= self.full_v:
            raise ValueError("full_v must be above empty_v")

    @property
    def scale_v(self) -> tuple[float, float] | None:
        """Volts at empty and at full; ``None`` if unknown."""
        if self.empty_v is not None and self.full_v is not None:
            return self.empty_v, self.full_v
        if self.lead_cells is None:
            return None
        empty, full = (self.lead_cells * lead_rest_cell_v(pct) for pct in _SCALE_PCT)
        return empty, full


def shown_pct(volts: float, scale_v: tuple[float, float]) -> float:
    """Where the needle stands, 0 to 100, held at its ends. [%]"""
    empty, full = scale_v
    return min(100.0, max(0.0, 100 * (volts - empty) / (full - empty)))


def judge_gauge(gauge: Gauge, pack: PackFigures) -> Judged:
    """Whether its needle follows the charge, and whether it stands the volts."""
    checks = [_follows(gauge, pack)]
    if gauge.max_v is not None:
        checks.append(check("Does it stand the pack's highest volts?",
                            gauge.max_v >= pack.highest_v.value,
                            (f"to {gauge.max_v:g} V; highest {pack.highest_v.text}",),
                            f"one for {pack.highest_v.value:.1f} V or more"))
    return Judged("gauge", gauge.name, tuple(checks),
                  ("Its last quarter falls within minutes: a needle that moves is late.",),
                  if_no="do not read charge from it; count amp-hours")


def _follows(gauge: Gauge, pack: PackFigures) -> Check:
    question = "Does its needle follow the charge?"
    scale = gauge.scale_v
    if scale is None:
        return unknown(question, "its scale is not known", "type empty_v and full_v, or lead_cells")
    lines = [f"scale: empty {scale[0]:.1f} V, full {scale[1]:.1f} V"]
    amps, ohm = pack.rms_10_s_a, pack.resistance_ohm
    sag_v = amps.value * ohm.value if amps and ohm else None
    is_off = False
    for pct in TRIED_PCT:
        volts = pack.cells * rest_cell_v(pct)
        shown = [shown_pct(volts - sag, scale) for sag in (0.0, sag_v) if sag is not None]
        loaded = f", {shown[1]:.0f} % at {amps.text}" if amps and len(shown) > 1 else ""
        lines.append(f"iron phosphate at {pct:.0f} %: {volts:.1f} V resting, the needle shows "
                     f"{shown[0]:.0f} %{loaded}")
        is_off |= any(abs(needle - pct) > TOLERANCE_PCT for needle in shown)
    # A needle that fits at rest still has to hold under load.
    follows = False if is_off else (None if sag_v is None else True)
    return check(question, follows, tuple(lines),
                 "a display that counts amp-hours; keep the gauge only as a volts lamp")
