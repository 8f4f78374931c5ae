"""A breaker, in the order it is checked: volts, long run and heat, short circuit, polarity."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from ..incidents.breaker_heat import CONTINUOUS as CONTINUOUS_SHARE
from ..incidents.breaker_heat import derating
from .cable import Cable
from .cautions import BREAK_DC, NEAR_SOURCE
from .pack import PackFigures
from .protection import continuous_check, load_figure, protective_checks
from .verdict import Check, Judged, check

#: Thermal breakers are usually set at this temperature; common practice, no source. [degC]
CALIBRATED_C: Final = 40.0


@dataclass(frozen=True, slots=True)
class Breaker:
    """A breaker as typed; ``None`` where the nameplate says nothing."""

    name: str
    rating_a: float
    marked_v_dc: float | None = None
    marked_v_ac: float | None = None
    interrupt_a: float | None = None
    is_thermal: bool = True
    #: Marked for its full rating in the long run.
    is_full_duty: bool = False
    calibrated_c: float = CALIBRATED_C
    #: Where it sits, on a hot day. [degC]
    enclosure_c: float | None = None
    #: The maker's table: percent of the rating at a temperature.
    percent_at_c: Mapping[float, float] = field(default_factory=dict)
    is_polarised: bool = False
    #: Whether amps flow through it both ways: charging, or regeneration.
    carries_both_ways: bool = True
    #: Amps that it carries, where they are not the pack's. [A]
    load_a: float | None = None
    #: The highest volts of its circuit, where they are not the pack's: behind a converter. [V]
    circuit_v: float | None = None
    #: Amps that it holds for a minute, by its maker's trip curve. [A]
    holds_1_min_a: float | None = None
    #: Name of the cable behind it.
    protects: str = ""


def judge_breaker(breaker: Breaker, pack: PackFigures, cable: Cable | None = None) -> Judged:
    """All checks of a breaker."""
    checks = protective_checks(breaker, pack, cable, _continuous(breaker, pack),
                               _polarity(breaker))
    return Judged("breaker", breaker.name, checks, (BREAK_DC, NEAR_SOURCE))


def rating_share(percent_at_c: Mapping[float, float], celsius: float) -> float:
    """Share of the rating that is left, straight between the table's points.

    Outside the table its nearest point stands; beyond the hottest that is too much.
    """
    at_c = sorted(percent_at_c)
    return float(np.interp(celsius, at_c, [percent_at_c[c] for c in at_c])) / 100


def _continuous(breaker: Breaker, pack: PackFigures) -> Check:
    share = 1.0 if breaker.is_full_duty else CONTINUOUS_SHARE
    amps = load_figure(breaker.load_a, breaker.name, pack.rms_10_min_a)
    if not breaker.is_thermal or breaker.enclosure_c is None:
        note = ("temperature of its place not typed: heat is left out",)
        return continuous_check(breaker.rating_a, amps, share,
                                heat=note if breaker.is_thermal else ())
    hot_c, table = breaker.enclosure_c, breaker.percent_at_c
    if hot_c <= breaker.calibrated_c:
        return continuous_check(breaker.rating_a, amps, share)
    is_known = bool(table) and hot_c <= max(table)
    left, origin = ((rating_share(table, hot_c), "the maker's table") if is_known else
                    (derating(hot_c), "an example from another device"))
    return continuous_check(
        breaker.rating_a, amps, share, heat_share=left, is_heat_known=is_known,
        heat=(f"at {hot_c:.0f} °C {100 * left:.0f} % of the rating is left, by {origin}",))


def _polarity(breaker: Breaker) -> Check:
    is_wrong = breaker.is_polarised and breaker.carries_both_ways
    marked = "polarity marked" if breaker.is_polarised else "no polarity marked"
    ways = "both ways" if breaker.carries_both_ways else "one way"
    return check("May amps flow through it as they do here?", not is_wrong,
                 (f"{marked}; amps flow {ways}",),
                 "a device without polarity, or charging by another way")
