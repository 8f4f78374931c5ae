"""Which column of the file becomes which column of the log."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Final

import pyarrow as pa

from ..errors import ForeignFileError
from ..record import QUANTITIES, quantity_of
from .foreign import ImportOptions
from .headings import ROLES, Meaning, meaning_of, unit_of
from .source_table import SourceTable
from .units import Unit, dimension_of, find_unit


@dataclass(frozen=True, slots=True)
class Choice:
    """One column of the file, chosen for a log column or a role."""

    #: Its place in the file.
    number: int
    unit: Unit | None = None
    symbol: str = ""
    words: str = ""
    #: How much the heading is trusted; smaller is more.
    rank: int = 0


@dataclass(slots=True)
class Assignment:
    """Every column of the file, chosen or left out with a reason."""

    #: Log column or role -> column of the file.
    chosen: dict[str, Choice] = field(default_factory=dict)
    #: Columns that could be the time, the likeliest first.
    times: list[Choice] = field(default_factory=list)
    #: Column of the file -> why it is not used.
    unused: dict[int, str] = field(default_factory=dict)
    #: Columns that might as well have been chosen: log column, chosen and other heading.
    rivals: list[tuple[str, str, str]] = field(default_factory=list)

    def is_open(self, number: int) -> bool:
        """Whether nothing is decided about a column of the file yet."""
        return number not in self.unused and all(
            choice.number != number for choice in (*self.chosen.values(), *self.times))


def assign(source: SourceTable, options: ImportOptions) -> Assignment:
    """Decide for each column of the file what it is.

    Raises
    ------
    ForeignFileError
        If the person named a column or a unit that is not there.
    """
    assignment = Assignment()
    for name, target in options.columns.items():
        choice = _named(source, name, target)
        assignment.chosen[name] = choice
        if name == "time":
            assignment.times.append(choice)
            del assignment.chosen[name]
    meanings = dict(_meanings(source, assignment))
    _take_times(source, assignment, meanings)
    _take_cells(source, assignment, meanings)
    _take_singles(source, assignment, meanings)
    _take_temperatures(source, assignment, meanings)
    return assignment


def _named(source: SourceTable, name: str, target: str) -> Choice:
    """What ``--map name=heading:unit`` says."""
    _check_name(source, name)
    number, symbol = source.find(target), ""
    if number is None:
        heading, _, symbol = target.rpartition(":")
        number = source.find(heading) if heading else None
    if number is None:
        raise ForeignFileError(source.where, f"no column {target!r}", known_headings(source))
    unit = find_unit(symbol) if symbol else source.headings[number].unit
    if symbol and (unit is None or unit.dimension != dimension_of(unit_of(_quantity(name)))):
        raise ForeignFileError(source.where, f"unit {symbol!r} does not fit {name}",
                               f"{name} is kept in {unit_of(_quantity(name)) or 'words'}")
    if unit is not None and unit.dimension != dimension_of(unit_of(_quantity(name))):
        unit = None
    return Choice(number, unit, symbol or source.headings[number].symbol, _TOLD)


#: Words for what the person decided.
_TOLD: Final = "as you said"


def _check_name(source: SourceTable, name: str) -> None:
    try:
        if name not in ROLES:
            quantity_of(name)
    except KeyError:
        names = ", ".join(["time", *QUANTITIES])
        raise ForeignFileError(source.where, f"no log column {name!r}",
                               f"a log holds: {names}") from None


def _quantity(name: str) -> str:
    return name if name in ROLES else quantity_of(name).name


def known_headings(source: SourceTable) -> str:
    """The file's headings, for a message."""
    shown = [repr(h.text) for h in source.headings if h.text]
    more = f" and {len(shown) - 12} more" if len(shown) > 12 else ""
    return f"the headings are {', '.join(shown[:12])}{more}"


def _meanings(source: SourceTable, assignment: Assignment) -> Iterator[tuple[int, Meaning]]:
    """What each undecided column means; those that mean nothing are left out with a reason."""
    found = {n: meaning_of(heading) for n, heading in enumerate(source.headings)}
    has_weather = any(m is not None and m.quantity == "weather" for m in found.values())
    for number, meaning in found.items():
        if not assignment.is_open(number):
            continue
        column, heading = source.columns[number], source.headings[number]
        if column.null_count == len(column):
            assignment.unused[number] = "it is empty"
        elif pa.types.is_temporal(column.type) and (
                meaning is None or meaning.quantity not in ("time", "date")):
            assignment.unused[number] = "it holds times, but is not called so"
        elif meaning is None or meaning.quantity == "weather":
            assignment.unused[number] = "no quantity of a log by its name and unit"
        elif meaning.quantity == "temp_{n}_c" and has_weather and len(heading.words) == 1 \
                and meaning.number < 0:
            yield number, Meaning("ambient_c", rank=len(QUANTITIES))
        else:
            yield number, meaning


def _choice(source: SourceTable, number: int, words: str = "", rank: int = 0) -> Choice:
    heading = source.headings[number]
    return Choice(number, heading.unit, heading.symbol, words, rank)


def _take_times(source: SourceTable, assignment: Assignment,
                meanings: dict[int, Meaning]) -> None:
    """Times by trust, then dates, which may hold a time of day too."""
    if assignment.times:
        return
    ranked = sorted((m.quantity == "date", m.rank, n) for n, m in meanings.items()
                    if m.quantity in ("time", "date"))
    assignment.times = [_choice(source, n) for *_, n in ranked]


def _take_cells(source: SourceTable, assignment: Assignment,
                meanings: dict[int, Meaning]) -> None:
    cells = {n: m.number for n, m in meanings.items() if m.quantity == "cell_{n}_v"}
    shift = int(0 in cells.values())
    words = "the file counts cells from 0" if shift else ""
    for number, member in cells.items():
        _put(source, assignment, QUANTITIES["cell_{n}_v"].column(member + shift), number, words)


def _take_singles(source: SourceTable, assignment: Assignment,
                  meanings: dict[int, Meaning]) -> None:
    """Quantities there is one of: the most trusted wording wins, and the choice is said."""
    singles = sorted((m.rank, n, m.quantity) for n, m in meanings.items()
                     if m.quantity not in _GROUPS and m.quantity != "time")
    for _, number, quantity in singles:
        rank = meanings[number].rank
        _put(source, assignment, quantity, number, _WHY.get((quantity, rank), ""), rank)


_GROUPS: Final = ("cell_{n}_v", "temp_{n}_c")
_WHY: Final = {("ambient_c", len(QUANTITIES)): "taken for the air: the file tells the weather too"}


def _take_temperatures(source: SourceTable, assignment: Assignment,
                       meanings: dict[int, Meaning]) -> None:
    """Numbered sensors keep their numbers; those without take the first free ones."""
    sensors = {n: m.number for n, m in meanings.items() if m.quantity == "temp_{n}_c"}
    shift = int(0 in sensors.values())
    for number, member in sorted(sensors.items(), key=lambda item: item[1] < 0):
        wanted = member + shift if member >= 0 else next(
            k for k in range(1, len(sensors) + len(assignment.chosen) + 2)
            if f"temp_{k}_c" not in assignment.chosen)
        _put(source, assignment, f"temp_{wanted}_c", number)


def _put(source: SourceTable, assignment: Assignment, name: str, number: int,
         words: str = "", rank: int = 0) -> None:
    """Choose a column for ``name``, or say which one was chosen before it."""
    taken = assignment.chosen.get(name)
    if taken is None:
        assignment.chosen[name] = _choice(source, number, words, rank)
        return
    here, before = source.headings[number].text, source.headings[taken.number].text
    assignment.unused[number] = f"{name} is taken from {before!r}"
    if taken.rank == rank and taken.words != _TOLD:
        assignment.rivals.append((name, before, here))
    also = f"{before!r} chosen before {here!r}; --map {name}={here!r} takes the other"
    assignment.chosen[name] = replace(
        taken, words=f"{taken.words}; {also}" if taken.words else also)
