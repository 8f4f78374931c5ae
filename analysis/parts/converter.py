"""A 12 V converter: its input window, its load, its standby, and where it is connected."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from .cautions import NO_TAP
from .pack import PackFigures
from .verdict import Check, Judged, check, unknown

#: Of what goes in, where no efficiency was typed; common practice, no source.
USUAL_EFFICIENCY: Final = 0.9
#: Of its rating, in the long run; common practice, no source.
LOAD_SHARE: Final = 0.8


@dataclass(frozen=True, slots=True)
class Converter:
    """A converter as typed."""

    name: str
    input_max_v: float
    input_min_v: float
    output_w: float
    load_w: float
    standby_w: float | None = None
    efficiency_pct: float = 100 * USUAL_EFFICIENCY
    #: False if it hangs on part of the string.
    is_on_whole_pack: bool = True


def input_current_a(output_w: float, input_v: float, efficiency: float) -> float:
    """``I = P / (eta V)``; the most amps at the lowest volts. [A]"""
    return output_w / (efficiency * input_v)


def standby_ah_per_day(standby_w: float, pack_v: float) -> float:
    """``24 P / V``. [Ah a day]"""
    return 24 * standby_w / pack_v


def judge_converter(converter: Converter, pack: PackFigures) -> Judged:
    """Volts at both ends, watts, place."""
    return Judged("converter", converter.name, (
        _top(converter, pack), _bottom(converter, pack), _load(converter, pack),
        _place(converter)), (NO_TAP,))


def _top(converter: Converter, pack: PackFigures) -> Check:
    return check("Does its input stand the pack's highest volts?",
                 converter.input_max_v >= pack.highest_v.value, (
                     f"input to {converter.input_max_v:g} V; highest {pack.highest_v.text}",),
                 f"an input to {pack.highest_v.value:.1f} V or more")


def _bottom(converter: Converter, pack: PackFigures) -> Check:
    question = "Does it still work at the lowest volts?"
    if pack.lowest_v is None:
        return unknown(question, "the lowest volts are not known", "log drives, or type lowest_v")
    low_v, share = pack.lowest_v.value, converter.efficiency_pct / 100
    lines = [f"input from {converter.input_min_v:g} V; lowest {pack.lowest_v.text}",
             f"most amps in: {converter.load_w:g} W / ({share:.2f} x {low_v:.1f} V) = "
             f"{input_current_a(converter.load_w, low_v, share):.1f} A, to fuse at the pack"]
    return check(question, converter.input_min_v <= low_v, tuple(lines),
                 f"an input from {low_v:.0f} V or less")


def _load(converter: Converter, pack: PackFigures) -> Check:
    limit_w = LOAD_SHARE * converter.output_w
    lines = [f"{converter.load_w:g} W; {100 * LOAD_SHARE:.0f} % of {converter.output_w:g} W = "
             f"{limit_w:.0f} W"]
    if converter.standby_w is not None:
        nominal_v = pack.nominal_v.value
        lines.append(f"standby: 24 h x {converter.standby_w:g} W / {nominal_v:.1f} V = "
                     f"{standby_ah_per_day(converter.standby_w, nominal_v):.1f} Ah a day; switch "
                     "it off for a lay-up")
    return check("Does it carry its load?", converter.load_w <= limit_w, tuple(lines),
                 f"{converter.load_w / LOAD_SHARE:.0f} W or more, or less load")


def _place(converter: Converter) -> Check:
    where = "the whole pack" if converter.is_on_whole_pack else "part of the string"
    return check("Is it connected to the whole pack?", converter.is_on_whole_pack,
                 (f"connected to {where}",), "connected across the whole pack, with its own fuse",
                 if_no="connect it to the whole pack")
