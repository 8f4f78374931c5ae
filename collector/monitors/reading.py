"""From the tables of a TOML file to a ``Description``; every mistake is told by file and key.

What a person writes for a monitor on a serial line or a byte stream; ``*`` marks what is needed.
Bytes are given as ``..._hex = "C3 1E"`` or ``..._text = "!"``; places count from byte 0, the
frame's first, its start bytes included.

::

    name*, title, words             what it is called, and what a person should know about it
    byte_order = "big"              or "little": for every number that does not say otherwise

    [transport]  kind, baud = 9600, bytesize = 8, parity = "none", stopbits = 1,
                 period_s           how often it speaks
                 silence_s          no frame for so long is a gap: 5 periods, or 10 s
    [ask]        send*, every_s*    the request, if it speaks only when asked; of several, in a
                                    list, each is sent once in every_s, one after the other
    [framing]    kind*              "line", "delimited", "fixed", "length", "cobs", "slip"
                 start, end         bytes each frame begins and ends with
                 length             of a fixed frame
                 length_at, length_size = 1, length_order, length_adds = 0
                                    where a length frame tells its length, and how many bytes of
                                    the whole frame that does not count
                 max_length = 512   no frame is longer: set it, and junk cannot delay a frame
    [check]      kind = "none"      a rule or a CRC of ``frames.checks``, or "crc" with width*,
                                    poly*, reflected = false; init, xorout for each
                 at, from = 0, to   where it is (at the end) and what it covers (all before it);
                                    negative counts from behind the frame's end
                 order, digits = "bytes", or "hex" where written in digits, mark before them
    [text]       form*              "comma", "key=value" (separator = ","), "json", "nmea"
    [sign]       current_a          "negative_is_discharge", "positive_is_discharge",
                                    "unsigned", "undecided"
    [[constant]] at*, data*         bytes that never change, for playing the monitor
    [[example]]  heard*, values*    a captured frame and what it says
    [[field]]    name*              a quantity of ``collector.record``; for a group, such as
                                    "cell_{n}_v", also count*, first = 1, stride
        binary   at*, length = 1, order, mask, type = "unsigned" (``frames.place``),
                 scale = 1, offset = 0, missing = [bits that mean no figure]
                 base = { at ... }  a figure that is added to each of a group
                 direction = { at*, mask, out = 1 }   the flag that makes amps negative
        in text  at* (comma) or key*, key_first = 1 the number that {n} begins with,
                 scale, offset, missing = ["--"], decimals = 3 when sent
                 direction = { key*, out*, in* }
        words    type = "code" or "flags", words = { 0 = "idle" }, none = "no flag set", missing
        either   only = { at*, codes* }   in frames that carry one of these codes there

A figure is raw x scale + offset. Fields of registers and of Bluetooth peripherals:
``register_map``, ``peripheral``.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final, get_args

from ..errors import DescriptionError
from ..frames.checks import CATALOGUE, PLAIN_RULES, Check, Crc, Rule, Sum, Xor
from ..frames.fields import Field, Only
from ..frames.framing import Framing, Kind
from ..frames.place import Order, Place
from ..frames.text import Form, FormKind, TextField, TextOnly
from .columns import binary_field, text_field
from .peripheral import peripheral
from .register_map import register_map
from .schema import (
    CONVENTIONS,
    SILENCE_PERIODS,
    SILENCE_S,
    Ask,
    Constant,
    Description,
    Example,
    Parity,
    Sign,
    Transport,
)
from .table import Table

#: Kinds of transport whose standard says how frames are made.
OWN_FRAMES: Final = ("modbus", "gatt")
#: What the sign can be where a flag gives amps their direction.
_DIRECTED: Final = ("negative_is_discharge", "undecided")


def description_from_tables(tables: Mapping[str, Any], where: str) -> Description:
    """The description that these tables are; ``where`` names the file in errors.

    Raises
    ------
    DescriptionError
        If a key is missing, unknown, of the wrong type or out of its range.
    """
    top = Table(tables, where)
    transport = _transport(top)
    if transport.kind in OWN_FRAMES:
        return _with_own_frames(top, transport, tables)
    order: Order = top.choice("byte_order", get_args(Order), "big")
    form = _form(top)
    framing = _framing(top, order)
    parts = top.tables("field")
    if not parts:
        raise DescriptionError(where, "no field", "write at least one [[field]]")
    description = Description(
        name=top.text("name"),
        title=top.text("title", ""),
        words=top.text("words", ""),
        transport=transport,
        ask=_ask(top),
        framing=framing,
        check=_check(top, framing, order),
        form=form,
        fields=() if form else tuple(binary_field(part, order) for part in parts),
        text_fields=tuple(text_field(part, form) for part in parts) if form else (),
        constants=tuple(_constant(part) for part in top.tables("constant")),
        sign=_sign(top, has_direction=any(map(_is_directed_current, parts))),
        examples=tuple(_example(part) for part in top.tables("example")),
        _tables=tables,
    )
    top.finish()
    _agrees(description, where)
    return description


def _with_own_frames(top: Table, transport: Transport, tables: Mapping[str, Any]) -> Description:
    """A monitor of a standard that brings framing and check with it."""
    registers = transport.registers
    parts = top.tables("field") if registers else []
    description = Description(
        name=top.text("name"),
        title=top.text("title", ""),
        words=top.text("words", ""),
        transport=transport,
        ask=None,
        framing=Framing("fixed"),
        check=None,
        form=None,
        fields=tuple(field for _, field in registers.fields) if registers else (),
        text_fields=(),
        constants=(),
        sign=_sign(top, has_direction=any(map(_is_directed_current, parts))),
        examples=tuple(_example(part) for part in top.tables("example")),
        _tables=tables,
    )
    top.finish()
    return description


def _transport(top: Table) -> Transport:
    table = top.table("transport")
    kind = table.choice("kind", ["serial", "modbus", "ble", "gatt"], "serial")
    period_s = table.number("period_s", 0.0, above=0) or _period_asked_s(top)
    transport = Transport(
        kind=kind,
        baud=table.integer("baud", 9600, low=50, high=4_000_000),
        bytesize=table.integer("bytesize", 8, low=5, high=8),
        parity=table.choice("parity", get_args(Parity), "none"),
        stopbits=table.choice("stopbits", [1, 1.5, 2], 1),
        silence_s=table.number("silence_s", SILENCE_PERIODS * period_s or SILENCE_S, above=0),
        registers=register_map(top) if kind == "modbus" else None,
        peripheral=peripheral(top, kind) if kind in ("ble", "gatt") else None,
    )
    table.finish()
    return transport


def _period_asked_s(top: Table) -> float:
    return top.table("ask").number("every_s", 0.0, above=0)


def _ask(top: Table) -> Ask | None:
    table = top.table("ask")
    if "ask" not in top:
        return None
    ask = Ask(table.octets_each("send"), table.number("every_s", above=0))
    table.finish()
    return ask


def _framing(top: Table, order: Order) -> Framing:
    table = top.table("framing")
    kind: Kind = table.choice("kind", get_args(Kind))
    end = {"line": b"\r\n"}.get(kind, b"")
    framing = Framing(
        kind=kind,
        start=table.octets("start", b"") if kind not in ("cobs", "slip") else b"",
        end=table.octets("end", end or None) if kind in ("line", "delimited") else b"",
        length=table.integer("length", low=1, high=4096) if kind == "fixed" else 0,
        length_place=_length_place(table, order) if kind == "length" else Place(0),
        length_adds=table.integer("length_adds", 0) if kind == "length" else 0,
        max_length=table.integer("max_length", 512, low=1, high=65536),
    )
    table.finish()
    if kind == "delimited" and not framing.start:
        raise table.error("start_hex", "is missing", "delimited frames need start and end bytes")
    return framing


def _length_place(table: Table, order: Order) -> Place:
    return Place(
        at=table.integer("length_at", low=0),
        length=table.integer("length_size", 1, low=1, high=4),
        order=table.choice("length_order", get_args(Order), order),
    )


def _check(top: Table, framing: Framing, order: Order) -> Check | None:
    table = top.table("check")
    kind = table.choice("kind", ["none", "crc", *PLAIN_RULES, *CATALOGUE], "none")
    if kind == "none":
        table.finish()
        return None
    rule = _rule(table, kind)
    is_hex = table.choice("digits", ["bytes", "hex"], "bytes") == "hex"
    end = framing.end if framing.kind == "delimited" else b""
    at = table.integer("at", -(rule.width // (4 if is_hex else 8)) - len(end))
    mark = table.octets("mark", b"")
    start = table.integer("from", 0)
    to = table.integer("to", at - len(mark))
    is_ahead = 0 <= at <= start and "to" not in table
    check = Check(
        rule=rule,
        at=at,
        start=start,
        stop=None if is_ahead else to,
        order=table.choice("order", get_args(Order), order),
        is_hex=is_hex,
        mark=mark,
    )
    table.finish()
    return check


def _rule(table: Table, kind: str) -> Rule:
    if kind in CATALOGUE:
        return CATALOGUE[kind]
    if kind == "crc":
        width = table.choice("width", [8, 16, 24, 32])
        top = (1 << width) - 1
        return Crc(
            width=width,
            poly=table.integer("poly", low=1, high=top),
            init=table.integer("init", 0, low=0, high=top),
            is_reflected=table.choice("reflected", [False, True], False),
            xorout=table.integer("xorout", 0, low=0, high=top),
        )
    plain = PLAIN_RULES[kind]
    top = (1 << plain.width) - 1
    init = table.integer("init", 0, low=0, high=top)
    xorout = table.integer("xorout", 0, low=0, high=top)
    if isinstance(plain, Sum):
        return Sum(plain.width, init, xorout, plain.is_negated)
    return Xor(init, xorout)


def _form(top: Table) -> Form | None:
    table = top.table("text")
    if "text" not in top:
        return None
    kind: FormKind = table.choice("form", get_args(FormKind))
    has_separator = kind in ("comma", "key=value")
    form = Form(kind, table.text("separator", ",")) if has_separator else Form(kind)
    table.finish()
    if not form.separator:
        raise table.error("separator", "''", "at least one character is needed")
    return form


def _constant(table: Table) -> Constant:
    constant = Constant(table.integer("at", low=0), table.octets("data"))
    table.finish()
    return constant


def _example(table: Table) -> Example:
    example = Example(table.octets("heard"), table.items("values"))
    for column, value in example.values.items():
        if not isinstance(value, int | float | str):
            raise table.error(f"values, {column}", f"{value!r}", "a number or words are needed")
    table.finish()
    return example


def _is_directed_current(part: Table) -> bool:
    return "direction" in part and part.text("name") == "current_a"


def _sign(top: Table, has_direction: bool = False) -> Sign:
    """What is said of the sign; a direction flag has made it negative out of the pack."""
    table = top.table("sign")
    known, default = (_DIRECTED, _DIRECTED[0]) if has_direction else (CONVENTIONS, "undecided")
    sign = Sign(table.choice("current_a", known, default))
    table.finish()
    return sign


def _agrees(description: Description, where: str) -> None:
    """What no key can be blamed for on its own."""
    framing, check = description.framing, description.check
    if doubled := _doubled(description):
        raise DescriptionError(where, f"{doubled} is described twice",
                               "keep one of the two fields")
    allowed = framing.length if framing.kind == "fixed" else framing.max_length
    if description.longest > allowed:
        raise DescriptionError(
            f"{where}, framing",
            f"frames of {allowed} bytes, but fields and check need {description.longest}",
            "make length or max_length greater, or move the field")
    if framing.kind in ("fixed", "length") and not framing.start and check is None:
        raise DescriptionError(where, "frames with neither start bytes nor a check",
                               "a frame cannot be found without one of them")
    if description.form is None and framing.kind == "line":
        raise DescriptionError(f"{where}, framing, kind", "'line' without [text]",
                               "add a table [text] with its form")


def _doubled(description: Description) -> str:
    """A column that one frame could fill twice, empty if there is none."""
    seen: dict[str, set[Any]] = {}
    parts = [(part.columns, _kinds(part)) for part in description.fields]
    parts += [(part.columns, _kinds(part)) for part in description.text_fields]
    for columns, kinds in parts:
        for column in columns:
            others = seen.setdefault(column, set())
            if others & kinds or (others and None in others | kinds):
                return column
            others |= kinds
    return ""


def _kinds(part: Field | TextField) -> set[Any]:
    """The kinds of frame that have the field, ``None`` for every kind."""
    return set(part.codes) if isinstance(part, Only | TextOnly) else {None}
