"""A fuse: volts, long run, short circuit, its cable, its distance from the pack."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from ..incidents.breaker_heat import CONTINUOUS as CONTINUOUS_SHARE
from .cable import Cable
from .cautions import BREAK_DC, NEAR_SOURCE
from .pack import PackFigures
from .protection import continuous_check, load_figure, protective_checks
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
    amps = load_figure(fuse.load_a, fuse.name, pack.rms_10_min_a)
    own = () if fuse.distance_m is None else (_distance(fuse, fuse.distance_m),)
    checks = protective_checks(fuse, pack, cable,
                               continuous_check(fuse.rating_a, amps, CONTINUOUS_SHARE), *own)
    return Judged("fuse", fuse.name, checks, (BREAK_DC, NEAR_SOURCE))


def _distance(fuse: Fuse, distance_m: float) -> Check:
    reach_m = SHEATHED_REACH_M if fuse.is_sheathed else BARE_REACH_M
    sheath = "sheathed" if fuse.is_sheathed else "not sheathed"
    return check("Does it sit close enough to the pack?", distance_m <= reach_m, (
        f"{distance_m:g} m of conductor before it, {sheath}; 33 CFR 183.455 (boats): at most "
        f"{reach_m:.2f} m",), f"at the pack's post, {reach_m:.2f} m away at most",
        if_no="move it to the pack")
