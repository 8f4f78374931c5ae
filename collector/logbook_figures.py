"""Keeping typed figures in ``logbook.toml``: one table at a time, with what stood there before.

A figure that replaces another leaves the old one behind as a dated note of the kind ``label``.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from .clock import Clock
from .errors import LogbookError
from .logbook import CONFIG_NAME, Logbook
from .notes import Note, add_note
from .table_file import TablePlace, add_table, change_table
from .typed_figures import (
    VEHICLE_KINDS,
    WHEELS,
    Group,
    Typed,
    TypedFigure,
    check_order,
    figures_of,
    read_typed,
    told,
)

#: Kind of the note that keeps what stood there before.
LABEL: Final = "label"


@dataclass(frozen=True, slots=True)
class Change:
    """One figure that was set, changed or taken away."""

    figure: TypedFigure
    #: ``None`` where there was none, or none is left.
    before: Any
    after: Typed | None


def place_of(config: Mapping[str, Any], kind: str, name: str) -> int | None:
    """Which of the tables ``[[kind]]`` has a name, counted from 0; ``None`` if there is none.

    A log that names no pack or vehicle means the only one there is.
    """
    tables = config.get(kind)
    names = [each.get("name", "") for each in (tables if isinstance(tables, list) else [])
             if isinstance(each, dict)]
    return names.index(name) if name in names else 0 if not name and len(names) == 1 else None


def table_of(config: Mapping[str, Any], kind: str, name: str) -> dict[str, Any]:
    """The table of a pack or vehicle; empty if nobody typed one."""
    place = place_of(config, kind, name)
    return {} if place is None else config[kind][place]


def typed_of(config: Mapping[str, Any], group: Group, name: str) -> dict[str, Any]:
    """The table that holds a group of figures; empty if nobody typed one."""
    table = table_of(config, owner_of(group), name)
    found = table.get(group) if owner_of(group) != group else table
    return found if isinstance(found, dict) else {}


def vehicle_kind_of(config: Mapping[str, Any], name: str) -> str:
    """What a vehicle is, one of ``VEHICLE_KINDS``; on wheels where nobody said."""
    kind = table_of(config, "vehicle", name).get("kind")
    return kind if isinstance(kind, str) and kind in VEHICLE_KINDS else WHEELS


def owner_of(group: Group) -> str:
    """Which kind of table a group belongs to: a ``pack`` or a ``vehicle``."""
    return "vehicle" if group == "vehicle" else "pack"


def edition_of(book: Logbook) -> str:
    """Tells one state of ``logbook.toml`` from another."""
    try:
        return hashlib.sha256((book.root / CONFIG_NAME).read_bytes()).hexdigest()[:16]
    except OSError:
        return "none"


def keep_figures(book: Logbook, group: Group, name: str, typed: Mapping[str, str],
                 units: Mapping[str, str]) -> list[Change]:
    """Set the figures of one table that were typed differently from what stands there.

    Parameters
    ----------
    name
        Of the pack or vehicle; its table is added if there is none.
    typed
        By key; an empty text takes a figure away, a key that is absent stays.
    units
        As for ``read_typed``.

    Raises
    ------
    LogbookError
        If a figure cannot be meant or contradicts another, or the file cannot be changed. Nothing
        is changed then.
    DescriptionError
        If ``logbook.toml`` is not TOML.
    """
    config = book.config()
    table = typed_of(config, group, name)
    changes = [change for figure in figures_of(group) if figure.key in typed
               for change in _change(figure, table.get(figure.key), typed[figure.key], units)]
    values = {change.figure.key: change.after for change in changes}
    check_order(group, table | values, units)
    if changes:
        _write(Logbook.create(book.root), config, group, name, values)
        _remember(book, name, changes, units)
    return changes


def _change(figure: TypedFigure, before: Any, typed: str,
            units: Mapping[str, str]) -> Sequence[Change]:
    """What was typed as a change; none if it says what stands there."""
    words = " ".join(typed.split())
    if words == told(figure, before, units):
        return ()
    after = read_typed(figure, words, units) if words else None
    return (Change(figure, before, _with_bands(before, after)),) if after != before else ()


def _with_bands(before: Any, after: Typed | None) -> Typed | None:
    """An alarm's limits with the bands that were written by hand for them."""
    if not isinstance(after, list) or not isinstance(before, list):
        return after
    bands = [each.get("band") if isinstance(each, dict) else None for each in before]
    return [entry | ({"band": band} if band is not None else {}) for entry, band in
            zip(after, [*bands, *[None] * len(after)], strict=False)]


def _write(book: Logbook, config: Mapping[str, Any], group: Group, name: str,
           values: Mapping[str, Any]) -> None:
    path, owner = book.root / CONFIG_NAME, owner_of(group)
    place = place_of(config, owner, name)
    if place is None:
        if isinstance(config.get(owner), list) and not name:
            raise LogbookError(str(path), f"several tables [[{owner}]], none of them meant",
                               "say which by its name")
        add_table(path, owner, {"name": name} if name else {})
        place = len(config.get(owner, []))
    change_table(path, TablePlace(owner, place, under=group if group != owner else ""), values)


def _remember(book: Logbook, name: str, changes: Sequence[Change],
              units: Mapping[str, str]) -> None:
    """Keep what stood there before as notes of this moment."""
    time_ms, _ = Clock().now()
    for change in changes:
        if change.before is None:
            continue
        figure, after = change.figure, told(change.figure, change.after, units)
        is_number = isinstance(change.before, int | float)
        then = f"then {after}" if after else "then taken away"
        add_note(book.notes_path, Note(
            time_ms, LABEL, float(change.before) if is_number else float("nan"),
            figure.unit if is_number else "", joint=figure.words, pack=name,
            text=then if is_number else f"{told(figure, change.before, units)}; {then}"))
