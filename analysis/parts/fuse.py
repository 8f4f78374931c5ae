"""A fuse: volts, long run, short circuit, its cable, its distance from the pack."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from ..incidents.breaker_heat import CONTINUOUS as CONTINUOUS_SHARE
from .cable import Cable
from .cautions import BREAK_DC, NEAR_SOURCE
from .pack import PackFigures
from .protection import (
    Marking,
    cable_check,
    continuous_check,
    highest_figure,
    interrupt_check,
    load_figure,
    minute_check,
    volts_check,
)
from .verdict import Check, Judged, check

#: From the source; 40 in where the conductor is sheathed: 33 CFR 183.455(b). [m]
BARE_REACH_M: Final = 7 * 0.0254
SHEATHED_REACH_M: Final = 40 * 0.0254


@dataclass(frozen=True, slots=True)
class Fuse:
    """A fuse as typed; ``None`` where nothing is marked on it."""

    name: str
    rating_a: float
    marked_v_dc: float | None = None
    marked_v_ac: float | None = None
    interrupt_a: float | None = None
    #: Amps that it carries, where they are not the pack's. [A]
    load_a: float | None = None
    #: The highest volts of its circuit, where they are not the pack's: behind a converter. [V]
    circuit_v: float | None = None
    #: Amps that it holds for a minute, by its maker's curve. [A]
    holds_1_min_a: float | None = None
    #: Along the conductor to the pack's post. [m]
    distance_m: float | None = None
    is_sheathed: bool = False
    #: Name of the cable behind it.
    protects: str = ""


def judge_fuse(fuse: Fuse, pack: PackFigures, cable: Cable | None = None) -> Judged:
    """All checks of a fuse."""
    marking = Marking(fuse.rating_a, fuse.marked_v_dc, fuse.marked_v_ac, fuse.interrupt_a)
    amps = load_figure(fuse.load_a, fuse.name, pack.rms_10_min_a)
    highest = highest_figure(fuse.circuit_v, fuse.name, pack)
    minute = load_figure(fuse.load_a, fuse.name, pack.rms_1_min_a)
    checks = [volts_check(marking, highest),
              continuous_check(fuse.rating_a, amps, CONTINUOUS_SHARE),
              minute_check(fuse.rating_a, minute, fuse.holds_1_min_a)]
    # Behind a converter its own limit counts, not the pack's short circuit.
    if fuse.circuit_v is None:
        checks.append(interrupt_check(marking, pack))
    if fuse.protects:
        checks.append(cable_check(fuse.rating_a, cable, highest))
    if fuse.distance_m is not None:
        checks.append(_distance(fuse, fuse.distance_m))
    return Judged("fuse", fuse.name, tuple(checks), (BREAK_DC, NEAR_SOURCE))


def _distance(fuse: Fuse, distance_m: float) -> Check:
    reach_m = SHEATHED_REACH_M if fuse.is_sheathed else BARE_REACH_M
    sheath = "sheathed" if fuse.is_sheathed else "not sheathed"
    return check("Does it sit close enough to the pack?", distance_m <= reach_m, (
        f"{distance_m:g} m of conductor before it, {sheath}; 33 CFR 183.455 (boats): at most "
        f"{reach_m:.2f} m",), f"at the pack's post, {reach_m:.2f} m away at most",
        if_no="move it to the pack")
