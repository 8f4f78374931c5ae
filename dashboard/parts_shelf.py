"""The parts list as the pages read it and add to it: ``parts.toml`` of the logbook."""

from __future__ import annotations

import threading
from collections.abc import Mapping
from typing import Any

from analysis.asking.book import Book
from analysis.asking.listed_parts import listed_tables
from analysis.parts.listing import check_part
from collector.errors import DescriptionError, LogbookError
from collector.logbook import Logbook
from collector.parts_file import NEW_PARTS, PARTS_NAME
from collector.table_file import (
    TablePlace,
    Value,
    add_table,
    change_table,
    read_tables,
    strike_table,
)

from .part_fields import FORMS, PartField, PartForm, in_plain_words
from .typed_form import one_line


class PartsShelf:
    """The parts list of one logbook. Safe to use from several threads."""

    def __init__(self, logbook: Logbook) -> None:
        self._logbook = logbook
        self._path = logbook.root / PARTS_NAME
        self._lock = threading.Lock()

    def tables(self) -> dict[str, Any]:
        """The list as typed; raises ``DescriptionError`` if it is not TOML."""
        return listed_tables(Book.open(self._logbook.root))

    def typed(self, kind: str, number: int | None) -> dict[str, Any]:
        """What is known of the n-th part of a kind, from 0; empty if there is no such."""
        tables = self.tables().get(kind)
        if number is None:
            return tables if isinstance(tables, dict) else {}
        there = tables[number:number + 1] if isinstance(tables, list) else []
        return dict(there[0]) if there and isinstance(there[0], dict) else {}

    def cables(self) -> list[str]:
        """Names of the cables that a breaker or fuse can protect."""
        tables = self.tables().get("cable", [])
        return [str(each["name"]) for each in (tables if isinstance(tables, list) else [])
                if isinstance(each, dict) and "name" in each]

    def take(self, form: Mapping[str, str]) -> str:
        """Do what a form says and tell it: ``part`` (its kind), ``at`` (its place, empty for a
        new one), ``was`` (its name there), ``strike`` to take it off, and the fields by key.

        Raises as ``keep``.
        """
        kind, at, was = (form.get(name, "") for name in ("part", "at", "was"))
        if at and not (at.isascii() and at.isdigit() and len(at) < 4):
            raise LogbookError("part", f"{at!r} is no place", "open the page again")
        number = int(at) if at else None
        if "strike" in form and number is not None:
            self.strike(kind, number, was)
            return f"{was} is off the list."
        self.keep(kind, number, was, form)
        return "Kept."

    def keep(self, kind: str, number: int | None, name: str, words: Mapping[str, str]) -> None:
        """Add a part, or change the one at a place.

        Parameters
        ----------
        number, name
            The n-th of its kind and how it was called; ``None`` for a new part, and for a table
            that stands once.
        words
            What was typed, by key; an empty field takes a key away.

        Raises
        ------
        PackhandError
            If a figure cannot be read or does not do, or the list cannot be changed. Nothing is
            changed then.
        """
        form, place = _form(kind), TablePlace(kind, number, name)
        values = {field.key: _value(field, words.get(field.key, "")) for field in form.fields}
        told = {key: value for key, value in values.items() if value is not None}
        with self._lock:
            self._check(place, values)
            if form.is_many and number is None:
                add_table(self._path, kind, told, NEW_PARTS)
            else:
                change_table(self._path, place, self._own(place, values), NEW_PARTS)

    def strike(self, kind: str, number: int, name: str) -> None:
        """Take a part off the list; it stays in the file as a comment. Raises as ``keep``."""
        _form(kind)
        with self._lock:
            strike_table(self._path, TablePlace(kind, number, name))

    def _own(self, place: TablePlace,
             values: Mapping[str, Value | None]) -> dict[str, Value | None]:
        """Without what ``logbook.toml`` says already: a copy would stay when that is changed."""
        written = read_tables(self._path).get(place.kind) if self._path.exists() else {}
        shown = self.typed(place.kind, place.number)
        return {key: value for key, value in values.items()
                if place.number is not None or value != shown.get(key)
                or (isinstance(written, dict) and key in written)}

    def _check(self, place: TablePlace, values: Mapping[str, Value | None]) -> None:
        """Whether the part as it would be can be judged."""
        table = self.typed(place.kind, place.number) | dict(values)
        table = {key: value for key, value in table.items() if value is not None}
        try:
            check_part(place.kind, table, str(table.get("name") or FORMS[place.kind].words))
        except DescriptionError as error:
            raise DescriptionError(*(in_plain_words(part, place.kind) for part in (
                error.where, error.found, error.remedy))) from None


def _form(kind: str) -> PartForm:
    if kind not in FORMS:
        raise LogbookError("part", f"{kind!r} is none", "choose one")
    return FORMS[kind]


def _value(field: PartField, words: str) -> Value | None:
    """What was typed as the list holds it; ``None`` for nothing."""
    told = one_line(words)
    if not told:
        return None
    if field.kind == "yes or no":
        return told == "yes"
    if field.kind in ("text", "cable") or not (field.options == () or told.isdigit()):
        return told
    try:
        number = float(told.replace(",", ".").replace("\N{MINUS SIGN}", "-"))
    except ValueError:
        raise LogbookError(field.label, f"{told!r} is no number",
                           "type digits alone, without the unit") from None
    return int(number) if number.is_integer() and abs(number) < 1e9 else number
