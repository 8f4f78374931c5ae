"""From a ``[[field]]`` table to a field that reads and writes its columns."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, TypeVar, get_args

from ..frames.fields import Direction, Field, Number, Only, Word
from ..frames.place import CODINGS, Order, Place
from ..frames.scaling import Scaling
from ..frames.text import Form, TextDirection, TextField, TextNumber, TextOnly, TextWord
from ..record import QUANTITIES, Quantity, quantity_of
from .table import Table

Codes = TypeVar("Codes", tuple[int, ...], tuple[str, ...])

#: No scale or offset of a real monitor is beyond this, and no figure overflows within it.
_LARGEST: Final = 1e12


def binary_field(table: Table, order: Order) -> Field:
    """A field of a binary frame; ``order`` is what the description says for the whole frame."""
    columns, quantity = _columns(table)
    field: Field = (_word if quantity.is_text else _number)(table, order, columns)
    if "only" in table:
        inner = table.table("only")
        kind = _place(inner, order)
        field = Only(field, kind, _codes(inner, inner.integers("codes")))
    table.finish()
    return field


def text_field(table: Table, form: Form) -> TextField:
    """A field of a line of text."""
    columns, quantity = _columns(table)
    keys = _keys(table, form, len(columns))
    field: TextField
    if quantity.is_text:
        field = TextWord(columns[0], keys[0], _words(table), table.texts("missing"))
    else:
        field = TextNumber(
            columns, keys, _scaling(table), table.texts("missing"),
            table.integer("decimals", 3, low=0, high=9), _text_direction(table, form, columns))
    if "only" in table:
        inner = table.table("only")
        key = _keys(inner, form, 1)[0]
        field = TextOnly(field, key, _codes(inner, inner.texts("codes")))
    table.finish()
    return field


def _codes(inner: Table, codes: Codes) -> Codes:
    """The codes of a kind of frame, at least one."""
    if not codes:
        raise inner.error("codes", "no code", "a list of the codes that frames with it carry")
    inner.finish()
    return codes


def _columns(table: Table) -> tuple[tuple[str, ...], Quantity]:
    """The columns a field fills; a name with ``{n}`` is a group of ``count`` members."""
    name = table.text("name")
    quantity = QUANTITIES.get(name)
    if quantity is not None and quantity.is_group:
        first = table.integer("first", 1, low=1)
        count = table.integer("count", low=1, high=10 ** quantity.digits - first)
        return tuple(quantity.column(first + n) for n in range(count)), quantity
    try:
        return (name,), quantity_of(name)
    except KeyError:
        raise table.error("name", f"{name!r} is no quantity",
                          f"known: {', '.join(QUANTITIES)}") from None


def _place(table: Table, order: Order, lengths: tuple[int, ...] = (1, 2, 3, 4)) -> Place:
    length = table.choice("length", lengths, lengths[0])
    mask = table.integer("mask", 0, low=0, high=(1 << 8 * length) - 1)
    at = table.integer("at", low=0)
    if mask and (mask // (mask & -mask)) & (mask // (mask & -mask) + 1):
        raise table.error("mask", f"{mask:#x}", "the bits have to be neighbours")
    return Place(at, length, table.choice("order", get_args(Order), order), mask)


def _scaling(table: Table) -> Scaling:
    scale, offset = table.number("scale", 1), table.number("offset", 0)
    if not 1 / _LARGEST <= abs(scale) <= _LARGEST:
        raise table.error("scale", f"{scale:g}",
                          f"the size of a step, {1 / _LARGEST:g} to {_LARGEST:g}")
    if abs(offset) > _LARGEST:
        raise table.error("offset", f"{offset:g}", f"up to {_LARGEST:g} either way")
    return Scaling.of(scale, offset)


def _bare_number(table: Table, order: Order, columns: tuple[str, ...]) -> Number:
    """Place, coding and scaling, as a field and the base of a group share them."""
    coding = table.choice("type", CODINGS, "unsigned")
    place = _place(table, order, CODINGS[coding].lengths)
    if place.mask and coding in ("digits", "float"):
        raise table.error("mask", f"stands beside {coding!r}", "leave the mask out")
    return Number(columns, place, table.integer("stride", place.length, low=place.length), coding,
                  _scaling(table), _missing(table, coding, place))


def _number(table: Table, order: Order, columns: tuple[str, ...]) -> Number:
    bare = _bare_number(table, order, columns)
    return Number(bare.columns, bare.place, bare.stride, bare.coding, bare.scaling, bare.missing,
                  _base(table, order), _direction(table, order, columns))


def _missing(table: Table, coding: str, place: Place) -> tuple[int, ...]:
    """Bare bits that mean missing; of decimal digits it is the number they spell."""
    values = table.integers("missing")
    if coding in ("bcd", "digits"):
        try:
            return tuple(CODINGS[coding].encode(value, place.bits) for value in values)
        except ValueError as error:
            raise table.error("missing", str(error), "give the number the digits spell") from None
    for value in values:
        if not 0 <= value < 1 << place.bits:
            raise table.error("missing", f"{value:#x}",
                              f"bits as they are sent, 0 to {(1 << place.bits) - 1:#x}")
    return values


def _base(table: Table, order: Order) -> Number | None:
    inner = table.table("base")
    if "base" not in table:
        return None
    base = _bare_number(inner, order, ("base",))
    inner.finish()
    return base


def _direction(table: Table, order: Order, columns: tuple[str, ...]) -> Direction | None:
    inner = table.table("direction")
    if "direction" not in table:
        return None
    _takes_direction(table, columns)
    place = _place(inner, order)
    direction = Direction(place, inner.integer("out", 1, low=0, high=(1 << place.bits) - 1))
    inner.finish()
    return direction


def _takes_direction(table: Table, columns: tuple[str, ...]) -> None:
    if columns[0] not in ("current_a", "power_w"):
        raise table.error("direction", f"{columns[0]} has no direction",
                          "only current_a and power_w have")


def _word(table: Table, order: Order, columns: tuple[str, ...]) -> Word:
    place = _place(table, order)
    is_flags = table.choice("type", ["code", "flags"], "code") == "flags"
    words = {}
    for number, word in _words(table).items():
        top = place.bits - 1 if is_flags else (1 << place.bits) - 1
        if not number.isdecimal() or int(number) > top:
            raise table.error("words", f"{number!r}",
                              f"{'bits' if is_flags else 'codes'} are 0 to {top}")
        words[int(number)] = word
    return Word(columns[0], place, words, is_flags, table.text("none", ""),
                _missing(table, "unsigned", place))


def _words(table: Table) -> Mapping[str, str]:
    words = table.items("words")
    for key, word in words.items():
        if not isinstance(word, str) or not word or "; " in word:
            raise table.error(f"words, {key}", f"{word!r}", "a word without '; ' is needed")
    if len(set(words.values())) < len(words):
        raise table.error("words", "one word twice", "give each code its own word")
    return words


def _keys(table: Table, form: Form, count: int) -> tuple[str, ...]:
    """The token of each column: its place in a comma line, else its key."""
    if form.kind == "comma":
        at, stride = table.integer("at", low=0), table.integer("stride", 1, low=1)
        return tuple(str(at + n * stride) for n in range(count))
    key = table.text("key")
    first = table.integer("key_first", 1, low=0)
    if count > 1 and "{n}" not in key:
        raise table.error("key", f"{key!r}", f"write {{n}} where the number of the {count} stands")
    return tuple(key.replace("{n}", str(first + n)) for n in range(count))


def _text_direction(table: Table, form: Form, columns: tuple[str, ...]) -> TextDirection | None:
    inner = table.table("direction")
    if "direction" not in table:
        return None
    _takes_direction(table, columns)
    direction = TextDirection(_keys(inner, form, 1)[0], inner.text("out"), inner.text("in"))
    inner.finish()
    return direction
