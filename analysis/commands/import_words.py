"""What ``packhand import`` prints: how a file was understood, as words and as JSON."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    import pyarrow as pa

    from collector.importing import Foreign

#: Runs of one file that are listed by name before the rest is only counted.
_RUNS_LISTED: Final = 10


def import_document(foreign: Foreign, sign: dict[str, Any], log: Path | None) -> dict[str, Any]:
    """One entry of ``logs`` in the JSON document."""
    return {
        "file": str(foreign.path), "run": foreign.run, "log": str(log) if log else None,
        "rows": foreign.table.num_rows, "dropped": foreign.dropped.as_json(),
        "mapping": {name: mapped.as_json() for name, mapped in foreign.mapping.items()},
        "sign": sign, "words": [*foreign.words, *map(str, foreign.doubts)],
        "doubts": [doubt.as_json() for doubt in foreign.doubts],
        "preview": _json_rows(foreign), "sha256": foreign.sha256,
    }


def _json_rows(foreign: Foreign) -> list[dict[str, Any]]:
    return [{name: value.isoformat() if isinstance(value, datetime) else value
             for name, value in row.items()} for row in foreign.preview()]


def import_words(runs: list[Foreign], signs: list[dict[str, Any]],
                 logs: list[Path | None]) -> Iterator[str]:
    """What a person reads: how the file was understood, then each log."""
    first = runs[0]
    rows = sum(foreign.table.num_rows for foreign in runs)
    several = f" in {len(runs)} runs" if len(runs) > 1 else ""
    yield f"{first.path.name}: {rows:,} rows{several}"
    yield from (f"  {line}" for line in first.words)
    yield from _columns(first)
    yield from _left_out(first)
    yield from (f"  open: {doubt}" for doubt in first.doubts)
    yield f"  {_sign_words(first, signs[0])}"
    for foreign, sign, log in list(zip(runs, signs, logs, strict=True))[:_RUNS_LISTED]:
        name = f"{foreign.run}: " if foreign.run else ""
        yield f"  {name}{_span(foreign.table)} -> {log or 'not saved (dry run)'}"
        if sign["convention"] != signs[0]["convention"]:
            yield f"    {_sign_words(foreign, sign)}"
    if len(runs) > _RUNS_LISTED:
        yield f"  and {len(runs) - _RUNS_LISTED} more, the last {_span(runs[-1].table)}"


def _columns(foreign: Foreign) -> Iterator[str]:
    """A line for each column; of a numbered group, its first and the number of the others."""
    from collector.record import member_of, quantity_of

    names = list(foreign.mapping)
    for name in names:
        others = [n for n in names[1:] if member_of(n) and quantity_of(n) == quantity_of(name)] \
            if name != "time" and member_of(name) else []
        if others and name != others[0]:
            continue
        more = f", and {len(others) - 1} more to {others[-1]}" if len(others) > 1 else ""
        yield f"  {name:<14} {_reads_as(foreign, name)}{more}"


def _sign_words(foreign: Foreign, sign: dict[str, Any]) -> str:
    if "current_a" not in foreign.table.column_names:
        return "The file holds no amps."
    is_open = sign["convention"] == "undecided" and "turned_s" not in sign
    told = " If you know it, say --minus out or --minus in." if is_open else ""
    return f"{sign['words']}{told}"


def _reads_as(foreign: Foreign, name: str) -> str:
    """Where a column comes from, and its first figure before and after."""
    mapped = foreign.mapping[name]
    column = foreign.table[name].drop_null()
    value = column[0].as_py() if len(column) else None
    if isinstance(value, float):
        from collector.record import quantity_of

        found = (value - mapped.offset) / mapped.factor
        unit = quantity_of(name).unit
        same = mapped.factor == 1 and not mapped.offset
        shown = f"{value:.6g} {unit}" if same else (
            f"{found:.6g} {mapped.unit} reads as {value:.6g} {unit}")
    else:
        shown = f"{value:%Y-%m-%d %H:%M:%S} UTC" if isinstance(value, datetime) else repr(value)
    return f"{mapped.source!r}: {shown}" + (f" ({mapped.words})" if mapped.words else "")


def _left_out(foreign: Foreign) -> Iterator[str]:
    dropped = foreign.dropped
    reasons: dict[str, list[str]] = {}
    for heading, reason in dropped.columns.items():
        reasons.setdefault(reason, []).append(repr(heading))
    for reason, headings in reasons.items():
        more = f" and {len(headings) - 8} more" if len(headings) > 8 else ""
        yield f"  left out: {', '.join(headings[:8])}{more} ({reason})"
    for reason, count in dropped.rows.items():
        yield f"  left out: {count:,} rows ({reason})"
    if dropped.figures:
        yield (f"  missing: {sum(dropped.figures.values()):,} figures in "
               f"{len(dropped.figures)} columns that stand for no reading or are no figures")


def _span(table: pa.Table) -> str:
    start, end = table["time"][0].as_py(), table["time"][-1].as_py()
    return f"{start:%Y-%m-%d %H:%M:%S} to {end:%Y-%m-%d %H:%M:%S} UTC, {table.num_rows:,} rows"
