"""One function a question of a whole logbook. All raise ``LogbookError`` where no log answers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from collector.notes import Note

from ..ahead.claims import Claim, Judged
from ..ahead.compare import PARTS_NEEDED as COMPARE_PARTS
from ..ahead.compare import Comparison, compare_digests
from ..ahead.range_answer import PARTS_NEEDED as RANGE_PARTS
from ..ahead.range_answer import RangeAnswer, Wish, find_range
from ..ahead.routes import day_of
from ..ahead.speed_bands import LogBands, SpeedBand, speed_bands
from ..cells.summary import CELL_PARTS, CellReport, find_cells
from ..digest import LogDigest
from ..load_logbook import read_digests
from ..one_log.use import LogUse
from ..parts.judged import JudgedParts, judge_parts
from ..parts.listing import PartsList
from ..parts.pack import SeenPack, pack_figures, seen_pack
from ..season.fills import FILL_PARTS, Fills, find_fills
from ..season.parked import PARKED_PARTS, USUAL_AH, Parked, find_parked
from ..season.resistance_trend import LogResistance
from ..season.summary import PARTS_NEEDED as SEASON_PARTS
from ..season.summary import Season, find_season
from .book import Asked, Book
from .told import claims_told, conditions_noted, days_told

#: First and last day, both included.
Span = tuple[date, date]


@dataclass(frozen=True, slots=True)
class Compared:
    """Two spans of days, and what each used in its bands of speed."""

    change: Comparison
    before: tuple[SpeedBand, ...]
    after: tuple[SpeedBand, ...]


@dataclass(frozen=True, slots=True)
class ParkedPack:
    """What parking costs; of which capacity [Ah]; the end of the last log [s, Unix time] and its
    time zone."""

    parked: Parked
    capacity_ah: float
    last_s: float
    time_zone: str = "UTC"


def ask_logs(book: Book) -> Asked[tuple[LogDigest, ...]]:
    """Use and course of every log of every pack, oldest first; none if there is none."""
    read = read_digests(book.root, ("use", "course"), book.progress, book.keep)
    return Asked(read.digests, read.problems)


def ask_season(book: Book) -> Asked[Season]:
    """Capacity, fade, resistance, efficiency and use of the pack; what was beyond its labels."""
    asked = book.digests(SEASON_PARTS)
    pack = asked.answer[-1].head.pack
    told = days_told(book.notes(), pack, asked.answer[-1].head.time_zone)
    return Asked(find_season(asked.answer, rated_ah=_rated_ah(book, pack),
                             limits=book.limits(pack), told=told.answer),
                 (*asked.left_out, *told.left_out))


def ask_cells(book: Book, capacity_ah: float | None = None,
              bleed_a: float | None = None) -> Asked[CellReport]:
    """Who leads and lags; what the pack holds and the board bleeds as typed, unless given."""
    asked = book.digests(CELL_PARTS)
    pack = asked.answer[-1].head.pack
    return Asked(find_cells(asked.answer, capacity_ah=capacity_ah or _rated_ah(book, pack),
                            bleed_a=bleed_a or book.limit(pack, "bleed_a")), asked.left_out)


def ask_range(book: Book, wish: Wish, claims: Sequence[Claim] = ()) -> Asked[RangeAnswer]:
    """How far and how long, and what these claims and those of the logbook are worth.

    ``wish`` needs neither mass nor rating nor the board's peak: the logbook's tables tell them.
    """
    asked = book.digests(RANGE_PARTS)
    notes = book.notes()
    told = claims_told(book, notes)
    head = asked.answer[-1].head
    wish = replace(wish, mass_kg=book.figure("vehicle", head.vehicle, "mass_kg"),
                   rated_ah=_rated_ah(book, head.pack),
                   board_a=book.limit(head.pack, "peak_a"))
    noted = conditions_noted(asked.answer, notes)
    answer = find_range(asked.answer, (*claims, *told.answer), wish, noted)
    return Asked(answer, (*asked.left_out, *told.left_out))


def ask_claims(book: Book) -> Asked[tuple[Judged, ...]]:
    """What the logbook's claims are worth; before the first log, what they need."""
    if book.has_logs:
        found = ask_range(book, Wish())
        return Asked(found.answer.claims, found.left_out)
    told = claims_told(book, book.notes())
    return Asked(find_range((), told.answer).claims, told.left_out)


def ask_compare(book: Book, before: Span, after: Span) -> Asked[Compared]:
    """Did what happened between two spans of days change the use of energy?"""
    asked = book.digests(COMPARE_PARTS)
    return Asked(compare_spans(asked.answer, book.notes(), before, after), asked.left_out)


def compare_spans(digests: Sequence[LogDigest], notes: Sequence[Note], before: Span,
                  after: Span) -> Compared:
    """The drives of two spans of days; digests of one pack with the parts of a comparison."""
    old, new = ([d for d in digests if first <= day_of(d) <= last]
                for first, last in (before, after))
    return Compared(compare_digests(old, new, conditions_noted(digests, notes)),
                    *(speed_bands(d.of(LogBands) for d in side) for side in (old, new)))


def ask_fills(book: Book) -> Asked[Fills]:
    """Every fill of the pack: full or not, and who stopped it."""
    asked = book.digests(FILL_PARTS)
    return Asked(find_fills(asked.answer, book.limits(asked.answer[-1].head.pack)), asked.left_out)


def ask_parked(book: Book, capacity_ah: float | None = None) -> Asked[ParkedPack]:
    """What the pack loses while it stands."""
    asked = book.digests(PARKED_PARTS)
    held_ah = capacity_ah or _rated_ah(book, asked.answer[-1].head.pack) or USUAL_AH
    return Asked(ParkedPack(find_parked(asked.answer, held_ah), held_ah,
                            max(d.end_s for d in asked.answer),
                            asked.answer[-1].head.time_zone), asked.left_out)


def ask_seen_pack(book: Book) -> Asked[SeenPack]:
    """The hardest that was measured of the pack: volts, amps, resistance."""
    asked = book.digests(("use", "resistance"))
    return Asked(seen_pack((d.of(LogUse), d.of(LogResistance)) for d in asked.answer),
                 asked.left_out)


def ask_parts(listed: PartsList, seen: SeenPack | None = None) -> JudgedParts:
    """A parts list judged at the volts and amps typed, or measured where they are harder."""
    return judge_parts(listed, pack_figures(listed.pack, seen))


def _rated_ah(book: Book, pack: str) -> float | None:
    return book.figure("pack", pack, "rated_ah")
