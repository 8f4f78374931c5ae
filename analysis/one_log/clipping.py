"""Amps beyond an instrument's range: they stand at its end while the volts go on moving.

A load that holds its amps holds its volts too, but for the slow sag of the cells; a control that
limits its amps does the same. Where amps stand at exactly one figure, none beyond it, and the volts
fall and rise meanwhile as they do for large changes of the amps elsewhere, it is the instrument
that stands and not the load. A figure that froze stands but once, and the volts go to either side
of it; in one long pull they stay beyond it all the while.

What the volts say that the amps were, beyond the end, is the most that may be missing: the slow sag
of the cells is in it too.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ..estimate import Estimate
from ..finding import Finding
from ..phrases import clock_text
from ..telemetry import Floats, Telemetry
from ..timebase import Observed, Rows, observe
from .charge import SECONDS_PER_HOUR

#: The end of an instrument's range is no smaller. Chosen here. [A]
END_MIN_A: Final = 5.0
#: Volts count as moved if they do so many times the scatter of volts against amps.
_SCATTERS: Final = 5.0
#: Amps must stand so long before and after, for volts may be told later or earlier. [s]
_SETTLED_S: Final = 2.0
#: So many moves down and so many up, for cells at rest or under a held load settle one way only;
#: in so many stretches, for a figure that stands still for any other reason does so once, or in one
#: whose volts lie beyond the end in this share of its rows; and in this share of the steps, for a
#: figure of the volts may be wrong now and then.
MOVES_MIN: Final = 3
STANDS_MIN: Final = 2
_BEYOND: Final = 0.98
_OFTEN: Final = 0.05
#: Fewer steps of the amps do not tell what they do to the volts.
_FITTED_MIN: Final = 30


@dataclass(frozen=True, slots=True)
class Clipping:
    """Amps that stood at the end of a range."""

    #: Positive into the pack. [A]
    end_a: float
    #: First moment at it. [s]
    first_s: float
    #: Observed time at it. [s]
    seconds: float
    #: The most that flowed beyond it, by the volts. [Ah]
    missing_ah: float


def find_clipping(telemetry: Telemetry, like: Observed | None = None) -> Iterator[Clipping]:
    """The end of the range each way, if amps stood at it on their way out of the pack or into it.

    Parameters
    ----------
    telemetry
        ``current_a``, positive into the pack, and ``voltage_v``. Rows that lack either are passed
        over.
    like
        As in ``timebase.observe``.
    """
    if not {"current_a", "voltage_v"} <= set(telemetry.columns):
        return
    seen = observe(telemetry, "current_a", "voltage_v", like=like)
    amps, volts = (seen.pick(telemetry[name]) for name in ("current_a", "voltage_v"))
    if not _may_stand(amps, seen.usual_s):
        return
    steps_a, is_seen = np.diff(amps), seen.width_s > 0
    settled = np.flatnonzero(_settled(is_seen & (steps_a == 0), seen.usual_s))
    settled = settled[np.abs(amps[settled]) >= END_MIN_A]
    if not len(settled):
        return
    steps_v, is_moving = np.diff(volts), is_seen & (steps_a != 0)
    ohm, scatter_v = _ohm(steps_a[is_moving], steps_v[is_moving])
    is_move = np.abs(steps_v[settled]) > _SCATTERS * scatter_v
    for way in (-1.0, 1.0):
        mine = way * amps[settled] > 0
        own, moves = settled[mine], is_move[mine]
        if not moves.any():
            continue
        end_a = _most_told(way * amps[own[moves]])
        beyond = _beyond(way * amps, way * volts, way * amps == end_a, ohm)
        at = _at_end(way * amps, steps_v, own, moves, end_a, beyond + scatter_v / ohm)
        if len(at):
            missing = float(seen.weights_s[at] @ np.maximum(beyond[at], 0.0)) / SECONDS_PER_HOUR
            yield Clipping(way * end_a, float(seen.time_s[at[0]]),
                           float(seen.weights_s[at].sum()), missing)


def _ohm(steps_a: Floats, steps_v: Floats) -> tuple[float, float]:
    """What the volts do for the amps in a step, and their scatter about it; the scatter is infinite
    if the amps tell too little. [ohm], [V]"""
    if len(steps_a) < _FITTED_MIN:
        return 1.0, math.inf
    ohm = float(steps_a @ steps_v / (steps_a @ steps_a))
    return (ohm, float(np.std(steps_v - ohm * steps_a))) if ohm > 0 else (1.0, math.inf)


def _most_told(figures: Floats) -> float:
    """The figure that comes most often."""
    each, counts = np.unique(figures, return_counts=True)
    return float(each[counts.argmax()])


def _beyond(amps: Floats, volts: Floats, is_end: NDArray[np.bool_], ohm: float) -> Floats:
    """How far the volts say that the amps were beyond what is told: from the last row before a
    stand on, or the first behind one that the log begins with. [A]

    ``amps`` and ``volts`` are positive the way that is looked at; volts rise with the amps then.
    """
    free = np.flatnonzero(~is_end)
    if not len(free):
        return np.zeros(len(amps))
    before = free[np.maximum(np.searchsorted(free, np.arange(len(amps)), side="right") - 1, 0)]
    return np.asarray((volts - volts[before]) / ohm - (amps - amps[before]))


def _around(usual_s: float) -> int:
    return max(1, math.ceil(_SETTLED_S / usual_s))


def _may_stand(amps: Floats, usual_s: float) -> bool:
    """Whether amps that could be an end stand long enough anywhere, told from a few of the rows.

    A settled step has standing ones for so long on both sides: two of those looked at, and all
    between them, are in it.
    """
    if len(amps) < _FITTED_MIN:
        return False
    around = _around(usual_s)
    before, behind = amps[:-1:around], amps[1::around]
    stands = (before == behind) & (np.abs(before) >= END_MIN_A)
    at = around * np.flatnonzero(stands[1:] & stands[:-1] & (before[1:] == before[:-1]))
    between = amps[at + np.arange(around)[:, None]]
    return bool((between == between[:1]).all(axis=0).any())


def _settled(stands: NDArray[np.bool_], usual_s: float) -> NDArray[np.bool_]:
    """The steps with standing amps for so long on both sides, too."""
    around = _around(usual_s)
    whole = 2 * around + 1
    settled = np.zeros(len(stands), bool)
    if len(stands) >= whole:
        count = np.concatenate(([0], np.cumsum(stands)))
        settled[around:-around] = count[whole:] - count[:-whole] == whole
    return settled


def _at_end(amps: Floats, steps_v: Floats, settled: Rows, is_move: NDArray[np.bool_],
            end_a: float, beyond: Floats) -> Rows:
    """The rows at the end of the range; none if it is no end.

    Parameters
    ----------
    amps
        Positive the way that is looked at. [A]
    settled, is_move
        The steps with standing amps, and whether the volts moved in each.
    end_a
        What may be the end. [A]
    beyond
        What the volts say beyond the amps, their scatter added. [A]
    """
    own = settled[is_move & (amps[settled] == end_a)]
    falls = int((steps_v[own] < 0).sum())
    elsewhere = np.concatenate(([-1], np.flatnonzero(amps != end_a), [len(amps)]))
    stands = np.unique(np.searchsorted(elsewhere, own, side="right"))
    first, end = int(elsewhere[stands[0] - 1]) + 1, int(elsewhere[stands[-1]])
    at = first + np.flatnonzero(amps[first:end] == end_a)
    is_told = (min(falls, len(own) - falls) >= MOVES_MIN
               and (len(stands) >= STANDS_MIN or float((beyond[at] > 0).mean()) >= _BEYOND)
               and amps[first:end].max() <= end_a
               and len(own) >= _OFTEN * (amps[settled] == end_a).sum())
    return at if is_told else at[:0]


def clipping_finding(found: Clipping, telemetry: Telemetry) -> Finding:
    """What a person reads of it."""
    at = clock_text(telemetry.at(found.first_s), str(telemetry.meta.get("time_zone", "UTC")))[:5]
    way = "out" if found.end_a < 0 else "in"
    return Finding(
        "amps_clipped", "yes",
        f"from {at} on the amps stood at exactly {abs(found.end_a):g} A {way} for "
        f"{found.seconds:.0f} s in all while the volts went on falling and rising: the monitor "
        f"tells no more than that; amp-hours {way}, energy and peaks are at least what is shown; "
        f"by the volts, up to {found.missing_ah:.2g} Ah more went {way}",
        Estimate(found.seconds, found.seconds, found.seconds, "s"),
        "look up what the shunt and the monitor can tell at most, and let a second person read a "
        "clamp meter at a hard pull; a shunt for more amps, fitted as its maker says and set in "
        "the monitor, mends it")
