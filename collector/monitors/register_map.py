"""From ``[modbus]`` and its ``[[field]]`` tables to a register map.

What a person writes for a Modbus unit; ``*`` marks what is needed::

    [transport]  kind* = "modbus", baud and so on; a network address needs none of them
    [modbus]     unit = 1           its number on the line
                 every_s = 1.0      from one poll to the next
                 timeout_s = 0.5    an answer comes within this time or not at all
                 retries = 2        how often a request without answer is repeated
                 function = 3       or 4: for every field that does not say otherwise
                 word_order = "high-first", or "low-first": of figures of two or four registers
                 max_gap = 4        so many registers between two fields are read along
                 sunspec = "no"     or "yes": models are found by walking the device's chain
                 bases              where a SunSpec device may have its marker
                 groups             of models that repeat a group for each string: {803 = [28, 32]},
                                    the group's first register and its length
    [[field]]    name*, type, mask, scale, offset, missing, words and so on as in binary frames
                 register*          counted from 0, as it goes over the wire
                 registers = 1      two or four for longer figures; stride counts registers too
                 function, word_order
                 power_register     the register with the power of ten of this figure
                 direction, base, only    with register* in the place of at
                 model*             of a SunSpec device; register then counts from the model's
                                    first one, and the first field that says something wins
                 join = "first"     of a SunSpec device with several of the model: "sum", "mean",
                                    "lowest", "highest", or "in-turn" for cells of several modules
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final

from ..errors import DescriptionError
from ..frames.fields import Field, Number
from ..frames.joining import JOINS, Join
from ..frames.place import Place
from ..frames.registers import Block, PowerScaled, RegisterMap, planned
from .columns import binary_field
from .table import Table

#: Where a SunSpec device may have its marker.
SUNSPEC_BASES: Final = (40000, 0, 50000)
WORD_ORDERS: Final = ("high-first", "low-first")

#: Tables inside a field that have a place of their own.
_PARTS: Final = ("direction", "base", "only")
#: Keys that only registers have.
_OWN_KEYS: Final = frozenset({"model", "join", "register", "registers", "stride", "function",
                              "word_order", "power_register"})


def register_map(top: Table) -> RegisterMap:
    """The register map of a description whose transport is Modbus.

    Raises
    ------
    DescriptionError
        If a key is missing, unknown, of the wrong type or out of its range.
    """
    table = top.table("modbus")
    is_sunspec = table.choice("sunspec", ["yes", "no"], "no") == "yes"
    defaults = _Defaults(table)
    parts = [_Part(part, defaults, is_sunspec) for part in top.tables("field")]
    if not parts:
        raise DescriptionError(top.where, "no field", "write at least one [[field]]")
    max_gap = table.integer("max_gap", 4, low=0, high=124)
    blocks = () if is_sunspec else planned([s for part in parts for s in part.spans], max_gap)
    place = _own_places if is_sunspec else _places_in(blocks)
    registers = RegisterMap(
        device_id=table.integer("unit", 1, low=1, high=247),
        every_s=table.number("every_s", 1.0, above=0),
        timeout_s=table.number("timeout_s", 0.5, above=0),
        retries=table.integer("retries", 2, low=0, high=10),
        fields=tuple((part.model, part.field(place)) for part in parts),
        blocks=blocks,
        bases=(table.integers("bases") or SUNSPEC_BASES) if is_sunspec else (),
        swapped=tuple(swap for part in parts for swap in part.swapped(place)),
        joins=tuple(part.join for part in parts) if is_sunspec else (),
        groups=_groups(table) if is_sunspec else {},
    )
    table.finish()
    _no_column_twice(registers, top.where)
    return registers


def _own_places(_function: int, register: int) -> int:
    """In a SunSpec model registers are counted from its first one."""
    return 2 * register


def _places_in(blocks: tuple[Block, ...]) -> Callable[[int, int], int]:
    starts = {}
    at = 0
    for block in blocks:
        for n in range(block.count):
            starts[block.function, block.address + n] = at + 2 * n
        at += 2 * block.count
    return lambda function, register: starts[function, register]


class _Defaults:
    """What holds for each field that says nothing else."""

    def __init__(self, table: Table) -> None:
        self.function = table.choice("function", [3, 4], 3)
        self.word_order = table.choice("word_order", WORD_ORDERS, WORD_ORDERS[0])


class _Part:
    """One ``[[field]]`` of a register map."""

    def __init__(self, table: Table, defaults: _Defaults, is_sunspec: bool) -> None:
        self._table = table
        self._tables = table.as_tables()
        self.model = table.integer("model", low=1, high=0xFFFE) if is_sunspec else 0
        self._function = 3 if is_sunspec else table.choice("function", [3, 4], defaults.function)
        self._is_swapped = table.choice(
            "word_order", WORD_ORDERS, defaults.word_order) != WORD_ORDERS[0]
        self._register = _register(table)
        self._registers = _registers(table)
        self._stride = table.integer("stride", self._registers, low=1, high=100)
        self._count = table.integer("count", 1, low=1, high=250)
        if "stride" in table and "count" not in table:
            raise table.error("stride", "stands beside a single figure", "leave it out")
        self.join: Join = table.choice("join", JOINS, "first") if is_sunspec else "first"
        foreign = ("function", "word_order") if is_sunspec else ("model", "join")
        for key in foreign:
            if key in table:
                raise table.error(key, "has no meaning here", "SunSpec devices have models, "
                                  "other units have functions and word orders")
        self._power = _register(table, "power_register") if "power_register" in table else None

    @property
    def spans(self) -> list[Block]:
        """The registers it needs, each run that must not be torn by itself."""
        spans = [self._span(self._register + n * self._stride, self._registers)
                 for n in range(self._count)]
        spans += [self._span(_register(inner), _registers(inner))
                  for inner in self._inner()]
        return spans + ([self._span(self._power, 1)] if self._power is not None else [])

    def _span(self, register: int, count: int) -> Block:
        if register + count > 0x10000:
            raise self._table.error("register", f"{register}", "the last register is 65535")
        return Block(self._function, register, count)

    def _inner(self) -> list[Table]:
        return [self._table.table(key) for key in _PARTS if key in self._table]

    def swapped(self, place: Callable[[int, int], int]) -> list[Place]:
        """Runs whose low register comes first."""
        return [Place(place(span.function, span.address), 2 * span.count)
                for span in self.spans if self._is_swapped and span.count > 1]

    def field(self, place: Callable[[int, int], int]) -> Field:
        """The field as it lies in the frame."""
        tables = _in_bytes(self._tables, self._function, place)
        field = binary_field(Table(tables, self._table.where), "big")
        if self._power is None:
            return field
        if not isinstance(field, Number):
            raise self._table.error("power_register", "stands beside something else than a number",
                                    "only a plain number has a power of ten")
        return PowerScaled(field, Place(place(self._function, self._power), 2))


def _groups(table: Table) -> dict[int, tuple[int, int]]:
    groups = {}
    for model, group in table.items("groups").items():
        is_pair = isinstance(group, list) and len(group) == 2 and all(
            type(each) is int and 0 < each < 0x10000 for each in group)
        if not model.isdecimal() or not is_pair:
            raise table.error(f"groups, {model}", f"{group!r}",
                              "a model's number and two of registers, such as 803 = [28, 32]")
        groups[int(model)] = (group[0], group[1])
    return groups


def _register(table: Table, key: str = "register") -> int:
    return table.integer(key, low=0, high=0xFFFF)


def _registers(table: Table) -> int:
    """Registers a figure takes: one, two, or four for a floating-point number."""
    return int(table.choice("registers", [1, 2, 4], 1))


def _in_bytes(tables: Mapping[str, Any], function: int,
              place: Callable[[int, int], int]) -> dict[str, Any]:
    """The same field as one of a binary frame."""
    registers = tables.get("registers", 1)
    converted = {key: value for key, value in tables.items() if key not in _OWN_KEYS}
    converted |= {"at": place(function, tables["register"]), "length": 2 * registers}
    if "{n}" in str(tables.get("name")):
        converted["stride"] = 2 * tables.get("stride", registers)
    for key in _PARTS:
        if key in tables:
            converted[key] = _in_bytes(tables[key], function, place)
    return converted


def _no_column_twice(registers: RegisterMap, where: str) -> None:
    """Models may tell the same quantity, a register map may not."""
    seen: set[tuple[int, str]] = set()
    for model, field in registers.fields:
        if doubled := seen & {(model, column) for column in field.columns}:
            raise DescriptionError(where, f"{min(doubled)[1]} is described twice",
                                   "keep one of the two fields")
        seen |= {(model, column) for column in field.columns}
