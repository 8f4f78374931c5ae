"""What a person told beside the logs: claims, and the air, load and wind of each drive."""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import median

from collector.errors import LogbookError
from collector.logbook import CONFIG_NAME
from collector.notes import Note

from ..ahead.claims import Claim, claims_of, parse_claim
from ..ahead.consumption import Conditions
from ..digest import LogDigest
from .book import Asked, Book

#: A note belongs to a drive if it was taken in it, or so long before it. [s]
BEFORE_DRIVE_S = 2 * 3600.0


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
    """What was noted by hand of each log: air, load against the usual, wind. NaN if nothing."""

    def last(digest: LogDigest, kind: str) -> float:
        told = [n.value for n in notes if n.kind == kind and math.isfinite(n.value)
                and digest.start_s - BEFORE_DRIVE_S <= n.time_ms / 1000 <= digest.end_s]
        return told[-1] if told else math.nan

    loads = {d.log: last(d, "load") for d in digests}
    known = [kg for kg in loads.values() if math.isfinite(kg)]
    usual_kg = median(known) if known else math.nan
    return {d.log: Conditions(last(d, "air-temperature"), loads[d.log] - usual_kg,
                              last(d, "wind")) for d in digests}
