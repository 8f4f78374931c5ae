"""The whole way from bytes and typed figures to what each figure's bytes are.

Volts come first, because nothing else lies in their range and moves as they do; amps with the
help of the sag, then percent, which follows the counted charge; then what needs those three.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from ..rawfile import Chunk
from ..record import in_log_order, quantity_of
from .candidates import Candidate, Hunt, hunt, hunt_zero_point
from .cells import Cells, find_cells
from .choice import Family, Verdict, decide, families, tells_one_way
from .codings import Form
from .columns import BinaryColumns, Columns, Spot, TextColumns
from .cutting import Cut, binary_cuts
from .directed import hunt_directed
from .mistyped import Misfit, find_misfit
from .readings import Reading
from .sag import charge_support, leaping, relation, unsteadiness
from .sequence import find_sequence
from .stream import Stream
from .text_cells import TextCells, find_text_cells
from .text_lines import TextCut, text_cut
from .windows import Window, joint_lag_spread_s, log10_chance, windows_of

#: Cuts that are searched where no check rule settles which one is right.
_CUTS_MOST: Final = 3
#: Readings of a figure without which nothing is claimed about it.
_READINGS_LEAST: Final = 3
#: With fewer readings of a figure none is kept back as an exam.
_EXAM_FROM: Final = 5
#: A wording of amps that costs less needs no look at others with a zero point. [log10]
_PLAIN_COST: Final = 0.9
#: Displays lag by about the same time at each look; more than this apart speaks against. [s]
_LAG_SPREAD_S: Final = 0.5
#: Percent that follows the counted charge so well needs no second typed figure. [log10]
_FOLLOWS: Final = 2.0
#: Volts and amps that belong together explain at least so much of each other.
_SAG_LEAST: Final = 0.15


@dataclass(frozen=True)
class Lesson:
    """What was learned from one capture."""

    cut: Cut | TextCut | None
    columns: Columns | None
    verdicts: dict[str, Verdict] = field(default_factory=dict)
    #: Columns whose answer was found without the reading kept back, and agreed with it.
    examined: frozenset[str] = frozenset()
    #: Groups of cells that add up to the pack; several where neighbours fit as well.
    cells: tuple[Cells | TextCells, ...] = ()
    #: Place and form of a running number.
    sequence: tuple[int, Form] | None = None
    #: The one reading that cannot be right, for columns that are open because of it.
    misfits: dict[str, Misfit] = field(default_factory=dict)

    @property
    def found(self) -> dict[str, Candidate]:
        """What is decided, by column."""
        return {column: verdict.chosen for column, verdict in self.verdicts.items()
                if verdict.chosen is not None}

    def spot(self, form: Form, place: int) -> Spot:
        """The name of a place in the frames."""
        return Spot(place, form) if self.columns is None else self.columns.spot(form, place)


def learn(chunks: Sequence[Chunk], readings: Sequence[Reading]) -> Lesson:
    """Work out how an unknown monitor's bytes say what its display shows.

    Parameters
    ----------
    chunks
        The raw capture in order.
    readings
        What was typed, as displayed, at moments within the capture.

    Returns
    -------
    Lesson
        Without a cut where no frames can be told; a quantity that the readings cannot settle
        has a verdict that is not decided.
    """
    stream = Stream.of(chunks)
    lines = text_cut(stream)
    if lines is not None:
        return _lesson(lines, TextColumns(lines.table, lines.times_s), readings)
    best = Lesson(None, None)
    for cut in binary_cuts(stream)[:_CUTS_MOST]:
        columns = BinaryColumns(cut.frames, cut.times_s, cut.taken, cut.kinds)
        lesson = _lesson(cut, columns, readings)
        if best.cut is None or len(lesson.found) > len(best.found):
            best = lesson
        if cut.check is not None or "voltage_v" in best.found:
            break
    return best


def _lesson(cut: Cut | TextCut, columns: Columns, readings: Sequence[Reading]) -> Lesson:
    typed = in_log_order({column for reading in readings for column in reading.values})
    search = _Search(columns, readings)
    for column in sorted(typed, key=_turn):
        search.look_for(column)
        if column == "current_a" and "voltage_v" in search.open:
            search.look_for("voltage_v")
    lesson = _with_cells(Lesson(cut, columns, search.verdicts, frozenset(search.examined),
                                misfits=search.misfits))
    return _with_sequence(lesson, columns) if isinstance(columns, BinaryColumns) else lesson


def _with_cells(lesson: Lesson) -> Lesson:
    """With cells, which nobody has to type, among what nothing else takes."""
    volts, columns = lesson.found.get("voltage_v"), lesson.columns
    if volts is None or any(column.startswith("cell_") for column in lesson.found):
        return lesson
    amps = lesson.verdicts.get("current_a")
    # The likeliest amps will do: wrong ones explain nothing.
    current_a = amps.families[0].chosen.values if amps and amps.families else None
    if isinstance(columns, TextColumns):
        keys = {c.spot.at for c in lesson.found.values()}
        return replace(lesson, cells=tuple(find_text_cells(
            columns, volts.values, keys, current_a)))
    if isinstance(columns, BinaryColumns):
        used = columns.taken | {byte for c in lesson.found.values() for byte in c.spot.bytes}
        rows = columns.all_new(volts.spot)
        return replace(lesson, cells=tuple(find_cells(
            columns.frames[rows], volts.values[rows], used,
            None if current_a is None else current_a[rows])))
    return lesson


def _with_sequence(lesson: Lesson, columns: BinaryColumns) -> Lesson:
    used = columns.taken | {byte for c in lesson.found.values() for byte in c.spot.bytes}
    used |= {byte for cells in lesson.cells[:1] for byte in cells.bytes}
    return replace(lesson, sequence=find_sequence(columns.frames, used))


def _turn(column: str) -> int:
    order = ("voltage_v", "current_a", "soc_pct")
    return order.index(column) if column in order else len(order)


class _Search:
    """One quantity after the other, each with what is known from those before."""

    def __init__(self, columns: Columns, readings: Sequence[Reading]) -> None:
        self.verdicts: dict[str, Verdict] = {}
        self.examined: set[str] = set()
        self.misfits: dict[str, Misfit] = {}
        self._columns = columns
        self._readings = readings
        self._used: set[int] = set()

    @property
    def open(self) -> set[str]:
        """Columns that were looked for and are not decided."""
        return {column for column, verdict in self.verdicts.items() if not verdict.is_decided}

    def look_for(self, column: str) -> None:
        verdict = self._look(column, self._readings)
        if not verdict.is_decided and (not verdict.families or verdict.log10_chance > 0):
            known = frozenset(self.examined)
            doubt = find_misfit(column, self._readings, self._columns.times_s,
                                lambda readings: self._look(column, readings))
            self.examined &= known
            if doubt:
                self.misfits[column] = doubt[0]
                verdict = replace(doubt[1], is_decided=False)
        self.verdicts[column] = verdict
        if verdict.chosen:
            self._used |= verdict.chosen.spot.bytes

    def _look(self, column: str, readings: Sequence[Reading]) -> Verdict:
        windows = windows_of(column, readings, self._columns.times_s)
        if not windows:
            return Verdict(column, (), 0.0, False)
        found = hunt(self._columns, column, _without(windows, _exam(windows)))
        verdict = self._verdict(column, windows, found)
        plain = verdict.chosen is not None and verdict.chosen.cost < _PLAIN_COST
        if column == "current_a" and not plain:
            zeros = hunt_zero_point(self._columns, column, _without(windows, _exam(windows)))
            both = Hunt(found.candidates + zeros.candidates, found.tried + zeros.tried,
                        found.is_crowded or zeros.is_crowded)
            verdict = self._verdict(column, windows, both)
            found = both
        if column == "current_a" and self._may_have_flag(verdict):
            sized = hunt_directed(self._columns, column, _without(windows, _exam(windows)))  # type: ignore[arg-type]
            verdict = self._verdict(column, windows, Hunt(
                found.candidates + sized.candidates, found.tried + sized.tried,
                found.is_crowded))
        if column == "current_a" and verdict.chosen and tells_one_way(verdict.chosen):
            # Half of the story is missing: amps that go the other way would be read wrong.
            verdict = replace(verdict, is_decided=False)
        return verdict

    def _may_have_flag(self, verdict: Verdict) -> bool:
        """Whether amps may be a size with a flag: nothing plainer shows both signs."""
        if not isinstance(self._columns, BinaryColumns) or self._known("voltage_v") is None:
            return False
        if verdict.chosen is None:
            return True
        values = verdict.chosen.values
        return not (values.min() < 0 < values.max())

    def _verdict(self, column: str, windows: Sequence[Window], found: Hunt) -> Verdict:
        """What was found without the exam reading, then what of it agrees with that too."""
        exam = _exam(windows)
        most = _without(windows, exam)
        free = [c for c in found.candidates if not c.spot.bytes & self._used]
        before = self._ranked(column, replace(found, candidates=free), most)
        if exam is None:
            return before
        passed = [_again(c, windows, most) for c in free if exam.shows(c.values[exam.rows])]
        after = self._ranked(column, replace(found, candidates=passed), windows)
        if before.chosen and after.chosen and np.array_equal(
                before.chosen.values, after.chosen.values, equal_nan=True):
            self.examined.add(column)
        return after

    def _ranked(self, column: str, found: Hunt, windows: Sequence[Window]) -> Verdict:
        judged = [self._judged(column, c, windows) for c in found.candidates]
        verdict = decide(column, found.tried, families(
            judged, lambda c: _need(column, c)))
        if found.is_crowded or len(windows) < _READINGS_LEAST or not (
                _has_variety(windows) or self._follows_charge(column, verdict)):
            return replace(verdict, is_decided=False)
        if column == "current_a" and verdict.families:
            return replace(verdict, is_decided=verdict.is_decided and self._sags(
                verdict.families[0]))
        return verdict

    def _judged(self, column: str, candidate: Candidate, windows: Sequence[Window]) -> Candidate:
        """With what the rest of the capture says for it."""
        spread_s = joint_lag_spread_s(candidate.values, windows, self._columns.times_s)
        candidate = candidate.supported(-3 * max(0.0, min(spread_s, 2.0) - _LAG_SPREAD_S))
        volts, amps = self._known("voltage_v"), self._known("current_a")
        if column == "current_a" and volts is not None and not self._is_in_volts(candidate):
            return candidate.supported(relation(self._columns, volts, candidate).support)
        if column == "voltage_v" and amps is not None and "current_a" not in self.open:
            return candidate.supported(relation(self._columns, candidate, amps).support)
        if column == "soc_pct":
            return candidate.supported(self._charge_support(candidate) - unsteadiness(
                candidate.values, abs(candidate.scale)))
        if column.startswith("temp_"):
            return candidate.supported(-leaping(candidate.values, candidate.scale))
        return candidate

    def _charge_support(self, percent: Candidate) -> float:
        """How well percent follows the likeliest amps; 0 without any. [log10]"""
        amps = self._known("current_a")
        return 0.0 if amps is None else charge_support(
            percent.values, amps.values, self._columns.times_s, abs(percent.scale))

    def _follows_charge(self, column: str, verdict: Verdict) -> bool:
        """Whether percent falls as amp-hours leave: then one figure, typed often, will do."""
        return (column == "soc_pct" and "current_a" not in self.open and bool(verdict.families)
                and self._charge_support(verdict.families[0].chosen) >= _FOLLOWS)

    def _known(self, column: str) -> Candidate | None:
        """The likeliest answer so far, decided or not."""
        verdict = self.verdicts.get(column)
        return verdict.families[0].chosen if verdict is not None and verdict.families else None

    def _is_in_volts(self, candidate: Candidate) -> bool:
        """Whether amps are read from the bytes of the volts: those always go together."""
        volts = self._known("voltage_v")
        return volts is not None and bool(volts.spot.bytes & candidate.spot.bytes)

    def _sags(self, family: Family) -> bool:
        """Whether volts answer these amps; without volts nobody can say."""
        volts = self._known("voltage_v")
        if volts is None or self._is_in_volts(family.chosen):
            return False
        return relation(self._columns, volts, family.chosen).r_squared >= _SAG_LEAST


def _has_variety(windows: Sequence[Window]) -> bool:
    """Whether more than one figure was typed: a single one agrees with every byte that pauses."""
    return len({window.value for window in windows}) > 1


def _exam(windows: Sequence[Window]) -> Window | None:
    """The reading that the others can best do without: the one nearest to another one."""
    if len(windows) < _EXAM_FROM:
        return None

    def loneliness(window: Window) -> tuple[float, float]:
        return (min(abs(window.value - other.value) for other in windows if other is not window),
                -window.time_s)

    return min(windows, key=loneliness)


def _without(windows: Sequence[Window], exam: Window | None) -> list[Window]:
    return [window for window in windows if window is not exam]


def _again(candidate: Candidate, windows: Sequence[Window], before: Sequence[Window]) -> Candidate:
    """Odds with the exam reading among the others."""
    more = log10_chance(candidate.values, windows, 1) - log10_chance(candidate.values, before, 1)
    return replace(candidate, log10_p=candidate.log10_p + min(more, 0.0))


def _need(column: str, candidate: Candidate) -> tuple[float, float]:
    """The lowest and highest figure that this quantity has to have room for on this vehicle."""
    lowest, highest = float(np.nanmin(candidate.values)), float(np.nanmax(candidate.values))
    name = quantity_of(column).name
    if name == "current_a":
        size = max(1.3 * highest, -1.3 * lowest, 60.0)
        return -size, size
    if name == "soc_pct":
        return 0.0, 99.0
    if name == "temp_{n}_c":
        return min(1.3 * lowest, -20.0), max(1.3 * highest, 60.0)
    return 0.0, 1.1 * highest
