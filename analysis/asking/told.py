"""What a person told beside the logs: claims, days off the display, air, load and wind."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Iterable, Sequence
from statistics import median

from collector.day_figures import DAY, read_day
from collector.errors import LogbookError
from collector.logbook import CONFIG_NAME
from collector.notes import Note

from ..ahead.claims import Claim, claims_of, parse_claim
from ..ahead.consumption import Conditions, is_drive
from ..digest import LogDigest
from ..season.day_use import ToldDay, day_of
from .book import Asked, Book

#: A note belongs to a drive if it was taken in it, or so long before it. [s]
BEFORE_DRIVE_S = 2 * 3600.0
#: Kind of the note that names the way of a drive.
ROUTE = "route"


def claims_told(book: Book, notes: Sequence[Note]) -> Asked[tuple[Claim, ...]]:
    """Claims of ``logbook.toml`` and of the notes; a note that is no claim is left out.

    Raises
    ------
    LogbookError
        If a claim in ``logbook.toml`` cannot be read.
    """
    try:
        claims = list(claims_of(book.config))
    except ValueError as error:
        raise LogbookError(str(book.root / CONFIG_NAME), str(error), "mend that table") from error
    left_out = []
    for note in notes:
        if note.kind == "claim":
            try:
                claims.append(parse_claim(note.text or note.typed))
            except ValueError as error:
                left_out.append(f"claim in notes: {error}")
    return Asked(tuple(claims), tuple(left_out))


def conditions_noted(digests: Sequence[LogDigest],
                     notes: Sequence[Note]) -> dict[str, Conditions]:
    """What was noted by hand of each log: air, load against the usual, wind; NaN if nothing. And
    the name of its way; empty if nothing.

    The digests are of one pack, with the parts that ``is_drive`` needs.
    """
    notes = [n for n in notes if n.pack in ("", *{d.head.pack for d in digests})]
    ways = ways_noted([(d.log, d.start_s, d.end_s) for d in digests if is_drive(d)], notes)
    known = {kind: [n for n in notes if n.kind == kind and math.isfinite(n.value)]
             for kind in ("load", "air-temperature", "wind")}

    def last(digest: LogDigest, kind: str) -> float:
        told = [n.value for n in known[kind]
                if digest.start_s - BEFORE_DRIVE_S <= n.time_ms / 1000 <= digest.end_s]
        return told[-1] if told else math.nan

    loads = {d.log: last(d, "load") for d in digests}
    told_kg = [kg for kg in loads.values() if math.isfinite(kg)]
    usual_kg = median(told_kg) if told_kg else math.nan
    return {d.log: Conditions(last(d, "air-temperature"), loads[d.log] - usual_kg,
                              last(d, "wind"), ways.get(d.log, "")) for d in digests}


def ways_noted(drives: Iterable[tuple[str, float, float]],
               notes: Iterable[Note]) -> dict[str, str]:
    """The names of the ways of drives, by the drives' own.

    A note is of the drive that it was taken in, else of the first one that began soon after it; of
    one drive the last that was written counts. Names that differ in capitals or spaces are one; it
    is told as it was written last.

    Parameters
    ----------
    drives
        Of one pack: name, start and end. [s, Unix time]
    notes
        In the order of writing.
    """
    in_turn = sorted(drives, key=lambda drive: drive[2])
    ends = [end_s for *_, end_s in in_turn]
    found: dict[str, str] = {}
    spelled: dict[str, str] = {}
    for note in notes:
        name, at_s = " ".join(note.text.split()), note.time_ms / 1000
        place = bisect_left(ends, at_s)
        if note.kind == ROUTE and name and place < len(ends) and (
                in_turn[place][1] - BEFORE_DRIVE_S <= at_s):
            spelled[name.casefold()] = name
            found[in_turn[place][0]] = name.casefold()
    return {log: spelled[name] for log, name in found.items()}


def days_told(notes: Sequence[Note], pack: str, time_zone: str) -> Asked[tuple[ToldDay, ...]]:
    """Days of a pack as somebody read them off the display, oldest first.

    A note tells of the day on which it was typed, in the logs' time zone. Of one day the last that
    was written counts; what cannot be read is left out.
    """
    days: dict[float, ToldDay] = {}
    left_out = []
    for note in notes:
        if note.kind != DAY or note.pack not in ("", pack):
            continue
        day_s = day_of(note.time_ms / 1000, time_zone)
        try:
            read = read_day(note.text)
        except ValueError as error:
            left_out.append(f"day in notes: {error}")
            continue
        days[day_s] = ToldDay(day_s, read.out_ah, read.out_wh, read.distance_m, read.used_h,
                              read.high_pct)
    return Asked(tuple(days[day_s] for day_s in sorted(days)), tuple(left_out))
