"""Why nothing was heard for a while: told apart by the clocks and by the last figures.

=================  ==================================================================
link lost          the system says so; told by the source
silent             the link is open and the monitor stopped in the middle of its work
asleep             the link is open and the monitor stopped with the amps near zero
computer slept     the clock that counts sleep went on while the other one stood still
clock step         wall time and steady time part (no gap, but it looks like one)
restarted          the log before, of the same monitor, was never closed
=================  ==================================================================
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Final

from .clock import Clock, clock_step_s
from .rawfile import Chunk
from .record import Sample

#: Events that begin a stretch without samples.
GAP_KINDS: Final = ("link lost", "silent", "asleep", "computer slept")
#: How a source begins the words of a silence in which not one byte came.
NOTHING_HEARD: Final = "nothing was heard"
#: A monitor that stops at less than this was not being used. [A] Chosen here: above what a
#: display, a relay and a small zero error make, below any vehicle that moves.
RESTING_A: Final = 1.0
#: Sleep shorter than this is no sleep but the two clocks read one after the other. [s]
_SLEPT_MIN_S: Final = 1.0
#: A sleep lies in the step between two items that is at least this part as long.
_SLEPT_PART: Final = 0.9


class Witness:
    """Watches the clocks and the figures of one recording, and names what it sees.

    Parameters
    ----------
    names
        What each monitor is called, by the number of its source; told in its events where there
        are several.
    """

    def __init__(self, clock: Clock, names: Mapping[int, str]) -> None:
        self._clock = clock
        self._names = names
        self._amps: dict[int, float] = {}
        self._previous: tuple[int, float] | None = None
        self._slept_s = clock.slept()
        self._unplaced_s = 0.0

    def before(self, item: Chunk | Sample) -> Iterator[Sample]:
        """What happened to the computer between the last item and this one."""
        now = (item.time_ms, item.monotonic_s)
        if self._previous is not None:
            if slept_s := self._slept_between(self._previous, now):
                yield Sample(*now, event=f"computer slept: {slept_s:.0f} s")
            if step_s := clock_step_s(self._previous, now):
                way = "forward" if step_s > 0 else "back"
                yield Sample(*now, event=f"clock step: {abs(step_s):.3f} s {way}")
        self._previous = now

    def _slept_between(self, before: tuple[int, float], now: tuple[int, float]) -> float:
        """Seconds slept in this step. Items that waited in the queue while the computer slept
        come after it, but were stamped before: the sleep is kept for the step it lies in."""
        slept_s = self._clock.slept()
        self._unplaced_s += slept_s - self._slept_s
        self._slept_s = slept_s
        if not _SLEPT_MIN_S < self._unplaced_s * _SLEPT_PART <= now[1] - before[1]:
            return 0.0
        found_s, self._unplaced_s = self._unplaced_s, 0.0
        return found_s

    def named(self, source: int, sample: Sample) -> Sample:
        """A sample as it goes into the log: a silence by its cause, an event by its source."""
        if isinstance(amps := sample.values.get("current_a"), float | int):
            self._amps[source] = amps
        kind, _, words = sample.event.partition(": ")
        if kind not in (*GAP_KINDS, "link back"):
            return sample
        amps = self._amps.get(source, float("nan"))
        if kind == "silent" and words.startswith(NOTHING_HEARD) and abs(amps) <= RESTING_A:
            kind, words = "asleep", f"{words}; the link is open, the last amps were {amps:.1f} A"
        if len(self._names) > 1:
            words = f"{self._names[source]}: {words}"
        return replace(sample, event=f"{kind}: {words}")


def restarted(stem: str, last: tuple[int, float], now: tuple[int, float]) -> Sample:
    """The event of a log whose forerunner was cut off.

    Parameters
    ----------
    stem
        The forerunner.
    last, now
        Unix time [ms] and steady clock [s] of its last row, and of now. A steady clock that
        began again tells that the computer went down, too. Where the clock was set back meanwhile,
        only a steady clock that went on can tell how long nobody saw.
    """
    has_gone_on = now[1] >= last[1]
    who = "the recorder" if has_gone_on else "the computer"
    if now[0] >= last[0]:
        unseen = f"{(now[0] - last[0]) / 1000:.0f} s unseen"
    else:
        unseen = (f"{now[1] - last[1]:.0f} s unseen" if has_gone_on else
                  "nobody knows for how long: the computer's clock is behind that log")
    return Sample(*now, event=f"restarted: {who} stopped without closing {stem}; {unseen}")
