"""The probe ladder of a vehicle that will not move: where along a path the volts end.

A path is a row of points from the pack towards what does not answer. With the circuit asked to
work, each point shows the volts of the one before it, less what the cables drop. The fault lies
between the last point that has the volts and the first that has not. Halving the row finds it in
the fewest probes (binary search); common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from ..estimate import Verdict

#: A point has the volts if it shows this share of the first; between the two it is a poor joint.
GOOD_SHARE: Final = 0.95
DEAD_SHARE: Final = 0.5
#: Below this the pack itself does not answer. [V]
PACK_ALIVE_V: Final = 10.0


@dataclass(frozen=True, slots=True)
class Rung:
    """A point of the ladder and what was read there; NaN if nothing was. [V]"""

    name: str
    volts: float = math.nan


@dataclass(frozen=True, slots=True)
class LadderFinding:
    """What the readings say so far."""

    verdict: Verdict
    words: str
    #: The point to probe next; empty when the search is over.
    next: str = ""


def climb(points: Sequence[str], volts: Mapping[str, float]) -> LadderFinding:
    """Where the volts end, or which point to probe next.

    Parameters
    ----------
    points
        From the pack on; the first is the pack itself.
    volts
        Readings by point, as magnitudes; points without one are left out. [V]
    """
    rungs = [Rung(point, abs(volts.get(point, math.nan))) for point in points]
    pack = rungs[0]
    if math.isnan(pack.volts):
        return LadderFinding("cannot tell yet", "Begin at the pack's own posts.", pack.name)
    if pack.volts < PACK_ALIVE_V:
        return LadderFinding(
            "yes", f"The pack itself shows {pack.volts:.1f} V: its board is off, or a main switch "
            "or fuse within it is open. Wake it by the maker's way only; never bypass the board.")
    return _narrowed(rungs, _last_good(rungs), _first_bad(rungs))


def _narrowed(rungs: Sequence[Rung], good: int, bad: int) -> LadderFinding:
    """What is left between the last point with volts and the first without."""
    between = _halfway(rungs, good, bad)
    above = rungs[good].name
    if good > bad:
        return LadderFinding(
            "cannot tell yet", f"{above} has the volts though {rungs[bad].name}, nearer to the "
            "pack, has not: one of the two readings is wrong.", rungs[bad].name)
    if bad == len(rungs):
        return (LadderFinding("cannot tell yet", f"The volts reach {above}.", between.name)
                if between else LadderFinding("no", "The volts reach the end of this path: the "
                                              "fault is not in it."))
    if between:
        return LadderFinding("cannot tell yet", f"The fault is somewhere between {above} and "
                             f"{rungs[bad].name}.", between.name)
    return LadderFinding("yes", _found(rungs[good], rungs[bad]))


def _found(good: Rung, bad: Rung) -> str:
    kind = ("nothing comes through: open" if bad.volts < DEAD_SHARE * good.volts
            else "some comes through: a poor joint, a burnt contact or a thin wire")
    return (f"The fault is between {good.name} ({good.volts:.1f} V) and {bad.name} "
            f"({bad.volts:.1f} V); {kind}.")


def _last_good(rungs: Sequence[Rung]) -> int:
    return max(place for place, rung in enumerate(rungs)
               if rung.volts >= GOOD_SHARE * rungs[0].volts)


def _first_bad(rungs: Sequence[Rung]) -> int:
    """Place of the first point without the volts; the row's length if there is none."""
    return next((place for place, rung in enumerate(rungs)
                 if rung.volts < GOOD_SHARE * rungs[0].volts), len(rungs))


def _halfway(rungs: Sequence[Rung], good: int, bad: int) -> Rung | None:
    """The point that was not probed and halves what is left; ``None`` if all were."""
    left = [rung for rung in rungs[good + 1:bad] if math.isnan(rung.volts)]
    return left[len(left) // 2] if left else None
