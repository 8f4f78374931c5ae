"""What was learned, as a monitor description that ``packhand record`` uses at once."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from ..frames.checks import CATALOGUE, PLAIN_RULES, Check, Crc, Rule, Sum, Xor
from ..frames.decoder import Decoder
from ..monitors import Description
from ..rawfile import Chunk
from .candidates import Candidate
from .cells import Cells
from .columns import tables
from .cutting import Cut, with_start
from .directed import direction_table
from .lesson import Lesson
from .sag import Sag, relation
from .text_cells import TextCells
from .text_lines import TextCut

#: Volts that follow amps at least so well tell which sign means out of the pack.
_SIGN_FROM = 0.5


def description_tables(lesson: Lesson, name: str, baud: int = 9600) -> dict[str, Any] | None:
    """The tables of a description file, ``None`` where no figure is decided.

    ``baud`` is the speed at which the capture was made; bytes do not tell it.
    """
    cut = lesson.cut
    if cut is None or not lesson.found:
        return None
    top: dict[str, Any] = {
        "name": name, "title": "Learned from its display",
        "words": "Worked out by packhand learn from bytes heard and figures typed.",
        "transport": {"kind": "serial", "baud": baud, "period_s": _period_s(cut)},
        "framing": _framing(cut, lesson),
    }
    if cut.check:
        top["check"] = _check(cut.check.check)
    if isinstance(cut, TextCut):
        top["text"] = {"form": cut.form.kind} | (
            {} if cut.form.kind == "json" else {"separator": cut.form.separator})
    if sign := _sign(lesson):
        top["sign"] = {"current_a": sign}
    fields = [_field(lesson, column, c) for column, c in lesson.found.items()]
    if len(lesson.cells) == 1:
        fields += _cell_fields(lesson, lesson.cells[0])
    if lesson.sequence is not None:
        at, form = lesson.sequence
        fields.append(tables(lesson.spot(form, at), "sequence", 1, 0))
    return top | {"field": fields}


def _cell_fields(lesson: Lesson, cells: Cells | TextCells) -> list[dict[str, Any]]:
    if isinstance(cells, TextCells):
        return cells.tables()
    return [cells.table(lesson.spot(cells.form, cells.at))]


def _field(lesson: Lesson, column: str, candidate: Candidate) -> dict[str, Any]:
    table = tables(candidate.spot, column, candidate.scale, candidate.offset)
    if candidate.flag is None:
        return table
    return table | {"direction": direction_table(candidate.flag, _sag(lesson).slope_ohm > 0)}


def is_usable(top: Mapping[str, Any]) -> bool:
    """Whether frames can be found again: by start bytes, a check, or their framing."""
    framing = top["framing"]
    return bool(framing["kind"] != "fixed" or "start_hex" in framing or "check" in top)


def _period_s(cut: Cut | TextCut) -> float:
    return float(f"{max(float(np.median(np.diff(cut.times_s))), 0.01):.2g}")


def _framing(cut: Cut | TextCut, lesson: Lesson) -> dict[str, Any]:
    framing = cut.framing
    if isinstance(cut, Cut):
        used = {byte for c in lesson.found.values() for byte in c.spot.bytes}
        used |= {byte for cells in lesson.cells for byte in cells.bytes}
        framing = with_start(cut, used)
    table: dict[str, Any] = {"kind": framing.kind}
    if framing.start:
        table |= {"start_text": framing.start.decode()} if isinstance(cut, TextCut) else {
            "start_hex": framing.start.hex(" ").upper()}
    if framing.kind == "length":
        place = framing.length_place
        table |= {"length_at": place.at, "length_adds": framing.length_adds}
        table |= {"length_size": 2, "length_order": place.order} if place.length == 2 else {}
    return table | ({"length": framing.length} if framing.kind == "fixed" else {})


def _check(check: Check) -> dict[str, Any]:
    table = _rule(check.rule) | {"at": check.at, "from": check.start, "to": check.stop}
    if check.is_hex:
        table |= {"digits": "hex", "mark_text": check.mark.decode()}
    return table | ({"order": check.order} if check.rule.width > 8 else {})


def check_name(check: Check) -> str:
    """The rule by its name and what it covers, in words."""
    table = _check(check)
    return f"{table['kind']} from byte {check.start} on"


def _rule(rule: Rule) -> dict[str, Any]:
    if isinstance(rule, Crc):
        names = [name for name, crc in CATALOGUE.items() if crc == rule]
        return {"kind": names[0]} if names else {
            "kind": "crc", "width": rule.width, "poly": rule.poly, "init": rule.init,
            "reflected": rule.is_reflected, "xorout": rule.xorout}
    assert isinstance(rule, Sum | Xor)
    bare = Sum(rule.width, is_negated=rule.is_negated) if isinstance(rule, Sum) else Xor()
    kind = next(name for name, plain in PLAIN_RULES.items() if plain == bare)
    extra = {"init": rule.init, "xorout": rule.xorout}
    return {"kind": kind} | {key: value for key, value in extra.items() if value}


def _sign(lesson: Lesson) -> str:
    """What the volts say about the sign of the amps; empty where they say too little."""
    sag, amps = _sag(lesson), lesson.found.get("current_a")
    if sag.r_squared < _SIGN_FROM or amps is None:
        return ""
    is_minus_out = sag.slope_ohm > 0
    if amps.flag is not None:
        return "negative_is_discharge" if is_minus_out or amps.flag.other is not None else ""
    return "negative_is_discharge" if is_minus_out else "positive_is_discharge"


def _sag(lesson: Lesson) -> Sag:
    """How volts answer amps; nothing where one of them is open."""
    volts, amps = lesson.found.get("voltage_v"), lesson.found.get("current_a")
    if volts is None or amps is None or lesson.columns is None:
        return Sag(0.0, 0.0, 0)
    return relation(lesson.columns, volts, amps)


def toml_text(top: Mapping[str, Any]) -> str:
    """The tables as the text of a TOML file."""
    plain = {key: value for key, value in top.items() if not isinstance(value, dict | list)}
    lines = _lines(plain)
    for key, value in top.items():
        if isinstance(value, dict):
            lines += ["", f"[{key}]", *_lines(value)]
        elif isinstance(value, list):
            for table in value:
                lines += ["", f"[[{key}]]", *_lines(table)]
    return "\n".join(lines) + "\n"


def _lines(table: Mapping[str, Any]) -> list[str]:
    # A JSON string, number or truth value is written the same way in TOML.
    return [f"{key} = {json.dumps(value, ensure_ascii=False)}" if not isinstance(value, dict)
            else f"{key} = {{ {', '.join(_lines(value))} }}" for key, value in table.items()]


def share_read_back(description: Description, chunks: Sequence[Chunk], lesson: Lesson) -> float:
    """Share of the frames learned from that the description reads from the capture, 0 to 1.

    A frame counts where every decided figure of its kind of message is there; of several kinds
    the one read worst is told.
    """
    decoder = Decoder(description)
    rows = [row for chunk in chunks for row in decoder.feed(chunk.data)]
    shares = []
    for kind in {candidate.spot.only for candidate in lesson.found.values()}:
        own = {column: c for column, c in lesson.found.items() if c.spot.only == kind}
        if lesson.columns is not None:
            heard = len(lesson.columns.news(next(iter(own.values())).spot))
            shares.append(sum(own.keys() <= row.keys() for row in rows) / max(heard, 1))
    return min(shares, default=0.0)
