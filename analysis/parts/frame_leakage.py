"""Insulation between pack and frame, from volts to the frame with and without a resistor."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from .cautions import FRAME
from .pack import PackFigures
from .verdict import Check, Judged, check

#: Yardsticks from other trades, none of them law for a pack below 60 V: road vehicles (as quoted
#: from their standard), the same for DC alone (common practice, no source), and each pole of a
#: lift truck's battery (a service manual). [ohm / V], [ohm / V], [ohm]
WANTED_OHM_PER_V: Final = 500.0
LEAST_OHM_PER_V: Final = 100.0
LIFT_TRUCK_OHM: Final = 50_000.0
#: A floating pack shows less than this of its volts to the frame: the same manual.
FLOATING_SHARE: Final = 0.3

_QUESTION: Final = "Is the pack kept apart from the frame?"


@dataclass(frozen=True, slots=True)
class FrameLeakage:
    """Readings by meter, one after the other; ``with_resistor_v`` on the side that showed more."""

    name: str
    pack_v: float
    minus_to_frame_v: float
    plus_to_frame_v: float
    #: Put between that side's pole and the frame for the third reading. [ohm]
    resistor_ohm: float | None = None
    with_resistor_v: float | None = None

    def __post_init__(self) -> None:
        shown = max(self.minus_to_frame_v, self.plus_to_frame_v)
        if min(self.minus_to_frame_v, self.plus_to_frame_v) < 0 or shown == 0:
            raise ValueError("volts to the frame are typed without a sign; both 0 says nothing")
        if (self.resistor_ohm is None) != (self.with_resistor_v is None):
            raise ValueError("resistor_ohm and with_resistor_v belong together")
        if self.with_resistor_v is not None and self.with_resistor_v > shown:
            raise ValueError("with_resistor_v must not be above the reading without the resistor")


def insulation_ohm(pack_v: float, shown_v: float, with_resistor_v: float,
                   resistor_ohm: float) -> float:
    """``R_i = R_o (V_b / V' - V_b / V)``: insulation of the weaker side. [ohm]

    The method of UN Regulation No. 100, annex on isolation resistance (text read second-hand). The
    meter's own resistance drops out.
    """
    return resistor_ohm * (pack_v / with_resistor_v - pack_v / shown_v)


def judge_frame_leakage(readings: FrameLeakage, pack: PackFigures) -> Judged:
    """The weaker side against the yardsticks."""
    return Judged("frame_leakage", readings.name, (_insulation(readings, pack),), (FRAME,),
                  if_no="find the leak and mend it")


def _insulation(readings: FrameLeakage, pack: PackFigures) -> Check:
    shown = max(readings.minus_to_frame_v, readings.plus_to_frame_v)
    weaker = "plus" if readings.minus_to_frame_v >= readings.plus_to_frame_v else "minus"
    share = shown / readings.pack_v
    lines = (f"minus to frame {readings.minus_to_frame_v:g} V, plus to frame "
             f"{readings.plus_to_frame_v:g} V: up to {100 * share:.0f} % of {readings.pack_v:g} V",)
    if readings.resistor_ohm is None or readings.with_resistor_v is None:
        usual = "a lift truck's floating pack shows less than 30 % to a common meter"
        wanted = WANTED_OHM_PER_V * pack.highest_v.value
        return check(_QUESTION, True if share < FLOATING_SHARE else None, (*lines, usual),
                     f"a third reading on that side, with a resistor of about {wanted / 1000:.0f} "
                     "kΩ from its pole to the frame")
    found = insulation_ohm(readings.pack_v, shown, readings.with_resistor_v, readings.resistor_ohm)
    wanted, least = (rate * pack.highest_v.value for rate in (WANTED_OHM_PER_V, LEAST_OHM_PER_V))
    return check(_QUESTION, _is_met(found, wanted, least), (
        *lines, f"{readings.resistor_ohm / 1000:g} kΩ x ({readings.pack_v:g} / "
        f"{readings.with_resistor_v:g} - {readings.pack_v:g} / {shown:g}) = {found / 1000:.1f} kΩ "
        f"on the {weaker} side",
        f"yardsticks: {wanted / 1000:.1f} kΩ (road vehicles, 500 Ω/V), {least / 1000:.1f} kΩ "
        f"(100 Ω/V), {LIFT_TRUCK_OHM / 1000:.0f} kΩ (lift trucks)"),
        "clean and dry wiring; repeat after cleaning, and on a wet day")


def _is_met(found: float, wanted: float, least: float) -> bool | None:
    """Above all yardsticks, below all, or between them."""
    if found >= max(wanted, LIFT_TRUCK_OHM):
        return True
    return None if found >= least else False
