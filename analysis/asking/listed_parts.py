"""The parts list that lies in a logbook, judged at what its logs measured."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from typing import Any, Final

from collector.errors import DescriptionError, LogbookError
from collector.parts_file import PARTS_NAME
from collector.table_file import read_tables

from ..parts.judged import JudgedParts
from ..parts.listing import KINDS, PartsList, read_parts_list
from ..parts.pack import SeenPack
from .book import Asked, Book
from .questions import ask_parts, ask_seen_pack

#: Key of a logbook's pack -> that of a parts list's; and of its limits.
_KNOWN: Final[Mapping[str, str]] = {"name": "name", "cells": "cells", "rated_ah": "capacity_ah"}
_ALLOWED: Final[Mapping[str, str]] = {"cell_low_v": "low_cell_v", "charge_a": "charge_max_a"}


@dataclass(frozen=True, slots=True)
class ListedParts:
    """A parts list and the verdicts on it."""

    #: As typed, with what ``logbook.toml`` knows of the pack.
    tables: Mapping[str, Any]
    #: ``None`` where there is a problem or nothing is listed yet.
    listed: PartsList | None = None
    judged: JudgedParts | None = None
    #: What the logs measured; ``None`` without logs.
    seen: SeenPack | None = None
    #: Why the list cannot be judged, in one line.
    problem: str = ""


def ask_listed_parts(book: Book) -> Asked[ListedParts]:
    """The verdicts on the logbook's own list; without logs at the volts and amps typed.

    Raises
    ------
    DescriptionError
        If ``parts.toml`` is not TOML.
    """
    tables = listed_tables(book)
    if not any(kind in tables for kind in (*KINDS, "lead_acid")):
        return Asked(ListedParts(tables))
    try:
        listed = read_parts_list(tables, PARTS_NAME)
    except DescriptionError as error:
        return Asked(ListedParts(tables, problem=str(error)))
    seen = _seen(Book(book.root, book.config, listed.pack.name or None, book.progress))
    judged = ask_parts(listed, seen.answer)
    return Asked(ListedParts(tables, listed, judged, seen.answer), seen.left_out)


def listed_tables(book: Book) -> dict[str, Any]:
    """The tables as typed; what ``logbook.toml`` knows of pack and vehicle stands where nothing
    was."""
    tables: dict[str, Any] = {}
    with suppress(FileNotFoundError):
        tables = read_tables(book.root / PARTS_NAME)
    packs = book.config.get("pack")
    typed = tables.get("pack", {})
    if not isinstance(typed, dict):
        return tables
    known = [each for each in (packs if isinstance(packs, list) else []) if isinstance(each, dict)
             and typed.get("name", each.get("name")) == each.get("name")]
    if known:
        told = {key: known[0][own] for own, key in _KNOWN.items() if own in known[0]}
        allowed = {key: book.limit(str(known[0].get("name", "")), own)
                   for own, key in _ALLOWED.items()}
        tables["pack"] = told | {key: typed for key, typed in allowed.items() if typed} | typed
    mass_kg = book.figure("vehicle", "", "mass_kg")
    if mass_kg and isinstance(tables.get("vehicle", {}), dict):
        tables["vehicle"] = {"mass_kg": mass_kg} | tables.get("vehicle", {})
    if book.config.get("invented") is True:
        tables.setdefault("invented", True)
    return tables


def _seen(book: Book) -> Asked[SeenPack | None]:
    """What the logs measured; without it, why."""
    if not book.has_logs:
        return Asked(None)
    try:
        asked = ask_seen_pack(book)
    except LogbookError as error:
        return Asked(None, (str(error),))
    return Asked(asked.answer, asked.left_out)
