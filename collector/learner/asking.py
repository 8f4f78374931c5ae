"""What a person should do next when something cannot be told yet.

One reading in a new state is worth more than many in the old one: standing, pulling away and
charging give the bytes three different things to say.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from ..record import quantity_of
from .choice import Family, echoes
from .lesson import Lesson
from .mistyped import Misfit
from .readings import Reading
from .windows import windows_of

#: Typed readings below which more are asked for before anything else.
READINGS_LEAST: Final = 3
#: A reading with less than this share of the strongest amps is one at rest.
_REST_SHARE: Final = 0.15
#: Frames without which nothing can be told.
_FRAMES_LEAST: Final = 20

_STATES: Final = {
    "rest": "let the vehicle stand with everything off, then type a reading",
    "drive": "press the pedal, push the throttle or switch a big load on (somebody else reads the "
             "display while you drive), then type a reading",
    "charge": "plug the charger in, then type a reading",
}
#: What has to change before another reading of a slow figure tells anything.
_CHANGES: Final = {
    "temp_{n}_c": "go on until it is some degrees warmer or colder, then type a reading",
    "soc_pct": "go on until the percent has changed by 5 or more, then type a reading",
}
_ONE_MORE: Final = (
    "type one more reading with all figures steady, in the state not read for longest")


def ask_for(lesson: Lesson, column: str, readings: Sequence[Reading]) -> str:
    """The one thing to do next about a quantity that is not decided."""
    typed = [reading for reading in readings if column in reading.values]
    verdict = lesson.verdicts.get(column)
    if lesson.columns is None or len(lesson.columns.times_s) < _FRAMES_LEAST:
        return ("keep listening: too few frames were heard so far; if it stays so, check the "
                "baud rate")
    if not windows_of(column, readings, lesson.columns.times_s):
        return "type a reading while the monitor is being heard: none lies within the capture"
    if column in lesson.misfits:
        return _doubted(lesson.misfits[column])
    if (verdict is None or not verdict.families) and len(typed) >= READINGS_LEAST:
        return _misfit(typed)
    if column == "soc_pct" and verdict is not None and (twins := _twins(verdict.families)):
        return (f"{twins} say the same: one may be the amp-hours left of a pack that holds about "
                "100; type a reading with the pack full: percent is 100 then, amp-hours are what "
                "it holds")
    return _STATES.get(_missing_state(readings)) or _CHANGES.get(
        quantity_of(column).name, _ONE_MORE)


def _twins(found: Sequence[Family]) -> str:
    """Where the two likeliest lie, if they say the same in different places; else empty."""
    if len(found) < 2 or not echoes(found[0], found[1]):
        return ""
    one, other = found[0].chosen.spot, found[1].chosen.spot
    if one.bytes & other.bytes:
        return ""
    return f"{'keys' if one.form is None else 'bytes'} {one.place} and {other.place}"


def _doubted(misfit: Misfit) -> str:
    shown = f"{misfit.low:g}" if misfit.low == misfit.high else (
        f"{misfit.low:g} to {misfit.high:g}")
    return (f"reading {misfit.number} says {misfit.typed:g}, all others agree on {misfit.place}, "
            f"which said {shown} then: it may be mistyped; correct it, or leave it out")


def _misfit(typed: Sequence[Reading]) -> str:
    missing = _missing_state(typed)
    more = f"; or {_STATES[missing]}" if missing else ""
    return ("no bytes agree with all typed figures: look whether one was mistyped, and whether "
            f"the clock was right{more}")


def _missing_state(readings: Sequence[Reading]) -> str:
    """``rest``, ``drive`` or ``charge``, whichever nobody has read yet; empty for none."""
    amps = np.array([reading.values["current_a"] for reading in readings
                     if "current_a" in reading.values])
    if not len(amps):
        return "drive" if len(readings) < READINGS_LEAST else ""
    limit = _REST_SHARE * float(np.abs(amps).max())
    if np.abs(amps).max() < 3:
        return "drive"
    if (np.abs(amps) > limit).all():
        return "rest"
    # Which sign means what may be open: two signs beside rest are all there is.
    has_both = (amps > limit).any() and (amps < -limit).any()
    return "" if has_both else "charge"
