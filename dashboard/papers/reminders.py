"""Reminders for any calendar, as iCalendar (RFC 5545): the same logbook gives the same bytes."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Final

from analysis.asking.evidence import Evidence
from analysis.estimate import Estimate
from analysis.local_days import local
from analysis.season.parked import USUAL_AH, lay_up

from ..shell import INVENTED

#: A line has 75 octets at most, its end left out (RFC 5545, section 3.1).
LINE_OCTETS: Final = 75
#: Times of the yearly round (common practice, no source). [weeks]
JOINT_WEEKS: Final = 13
CLAMP_WEEKS: Final = 26
#: Laid up at this, if nobody says. [%] (common practice, no source)
LAY_UP_PCT: Final = 55.0
#: Names the reminders of packhand among all (RFC 4122, section 4.3).
_NAMESPACE: Final = uuid.UUID("5b0e0c6e-6a3c-5d7e-9c11-0d5a7c1f2b64")


@dataclass(frozen=True, slots=True)
class Reminder:
    """One entry for a whole day, repeated every so many weeks if ``weeks`` is not 0."""

    name: str
    day: date
    title: str
    words: str
    weeks: int = 0


def reminders(evidence: Evidence, full_weeks: int = 1,
              lay_up_pct: float = LAY_UP_PCT) -> tuple[Reminder, ...]:
    """What to be reminded of, from the day after the last log on.

    Parameters
    ----------
    full_weeks
        A full charge every so many weeks.
    lay_up_pct
        What the pack will be laid up at. [%]
    """
    end = local(evidence.season.end_s)
    first = end.date() + timedelta(days=1)
    pack = evidence.pack or "the pack"
    return (
        Reminder("full", first + timedelta(weeks=full_weeks), f"Charge {pack} until full",
                 "Until the charger tapers off by itself: cells level out and the percent counts "
                 "from a known point. Not below 0 °C; the maker's papers come first.", full_weeks),
        Reminder("joints", first + timedelta(weeks=JOINT_WEEKS), f"Check the joints of {pack}",
                 "Main switch off: look for loose, dark or melted joints, torque as the maker "
                 "says. Under load, millivolts across each joint. Live metal: insulated tools, "
                 "no rings; or someone licensed.", JOINT_WEEKS),
        Reminder("clamp", first + timedelta(weeks=CLAMP_WEEKS),
                 f"Check the amps of {pack} by clamp meter",
                 "Zero the clamp, one cable in it, read it and the display at rest and at one "
                 "steady load, and note both in the Diary.", CLAMP_WEEKS),
        *_laid_up(evidence, lay_up_pct, end, pack))


def _laid_up(evidence: Evidence, percent: float, end: datetime, pack: str) -> Iterator[Reminder]:
    drain = evidence.parked.usual_a
    if not isinstance(drain, Estimate) or not drain.high > 0:
        return
    found = lay_up(percent, drain, evidence.rated_ah or USUAL_AH, end)
    if isinstance(found.days, Estimate):
        day = (end + timedelta(days=found.days.low)).date()
        yield Reminder("top-up", day, f"Top up {pack} if it was laid up", found.words)


def as_calendar(entries: tuple[Reminder, ...], evidence: Evidence) -> str:
    """One calendar, lines folded and ended as RFC 5545 asks."""
    stamp = datetime.fromtimestamp(evidence.season.end_s, UTC)
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//packhand//reminders//EN",
             "CALSCALE:GREGORIAN"]
    for entry in entries:
        lines += _event(entry, evidence, stamp)
    return "".join(f"{folded}\r\n" for line in [*lines, "END:VCALENDAR"] for folded in _fold(line))


def _event(entry: Reminder, evidence: Evidence, stamp: datetime) -> Iterator[str]:
    words = f"{INVENTED} {entry.words}" if evidence.is_invented else entry.words
    identity = uuid.uuid5(_NAMESPACE, f"{evidence.pack}/{entry.name}")
    yield from ("BEGIN:VEVENT", f"UID:{identity}", f"DTSTAMP:{stamp:%Y%m%dT%H%M%SZ}",
                f"DTSTART;VALUE=DATE:{entry.day:%Y%m%d}")
    if entry.weeks:
        yield f"RRULE:FREQ=WEEKLY;INTERVAL={entry.weeks}"
    yield from (f"SUMMARY:{_text(entry.title)}", f"DESCRIPTION:{_text(words)}",
                "TRANSP:TRANSPARENT", "END:VEVENT")


def _text(words: str) -> str:
    """A TEXT value (RFC 5545, section 3.3.11): one line, specials behind a backslash."""
    plain = "".join(c for c in " ".join(words.split()) if c.isprintable())
    return plain.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,")


def _fold(line: str) -> Iterator[str]:
    """The line in pieces of ``LINE_OCTETS``, each after the first begun with a space; no letter
    is cut in two."""
    piece = ""
    for letter in line:
        if len((piece + letter).encode()) > LINE_OCTETS:
            yield piece
            piece = " "
        piece += letter
    yield piece
