"""Which alarms of a live log still stand, from the events that the recorder wrote.

The recorder judges the limits; here its words are only taken apart: what is wrong, what to do, and
which earlier alarm a later "over" ends.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

KIND: Final = "alarm"
CAUTION: Final = ("An alarm may come late or not at all, and protects nothing: the board, the "
                  "breaker and you do.")

_RAISED: Final = re.compile(
    r"(?P<what>.+?) (?P<value>-?[\d.]+) (?P<unit>\S+), (?P<beyond>above|below) "
    r"(?P<limit>-?[\d.]+(?:e[-+]\d+)?) .*")
_OVER: Final = re.compile(r"over: (?P<what>.+?)(?: (?P<value>-?[\d.]+) (?P<unit>\S+))?")


@dataclass(frozen=True, slots=True)
class Alarm:
    """An alarm that stands."""

    #: What is wrong, such as ``amps out 212 A, above 200 A for 2 s``.
    what: str
    #: What to do; empty if the event does not say.
    action: str


class Standing:
    """The alarms that stand, oldest first."""

    def __init__(self) -> None:
        self._standing: dict[str, Alarm] = {}

    @property
    def alarms(self) -> tuple[Alarm, ...]:
        return tuple(self._standing.values())

    def take(self, words: str) -> None:
        """An alarm began or is over; words that are neither stand as they are."""
        if over := _OVER.fullmatch(words):
            self._standing = {limit: alarm for limit, alarm in self._standing.items()
                              if not _ends(over, alarm)}
            return
        what, _, action = words.partition(" \N{EM DASH} ")
        raised = _RAISED.fullmatch(what)
        limit = f"{raised['what']} {raised['beyond']} {raised['limit']}" if raised else what
        self._standing[limit] = Alarm(what, action)


def _ends(over: re.Match[str], alarm: Alarm) -> bool:
    """Whether an "over" is of this limit: the same quantity, and back on its right side."""
    raised = _RAISED.fullmatch(alarm.what)
    if raised is None or raised["what"] != over["what"]:
        return False
    if over["value"] is None:
        return True
    value, limit = float(over["value"]), float(raised["limit"])
    return value <= limit if raised["beyond"] == "above" else value >= limit
