"""Bring a table from elsewhere into a logbook as a log.

Takes CSV (gzipped too) and Parquet. Columns, units, decimal mark and the order of dates are found
from the file; what was understood is printed, what was left out too. A file with several runs one
below the other becomes one log for each. The file itself is never changed.

example:
  packhand import drive.csv --zone Europe/Lisbon
  packhand import old.csv --map current_a='Strom 1:mA' --dates day-first --dry-run
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from collector.errors import ForeignFileError, PackhandError

if TYPE_CHECKING:
    import pyarrow as pa

    from collector.importing import Foreign, ImportOptions
    from collector.logbook import Logbook

#: What ``--minus`` says about the sign.
_MINUS = {"out": "negative_is_discharge", "in": "positive_is_discharge"}
#: Runs of one file that are listed by name before the rest is only counted.
_RUNS_LISTED = 10


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of ``packhand import``."""
    parser.add_argument("files", nargs="+", type=Path, metavar="FILE")
    parser.add_argument("--map", action="append", default=[], type=_pair, metavar="NAME=HEADING",
                        help="which column holds a quantity, with ':unit' if need be; NAME is "
                        "time, current_a, voltage_v, soc_pct, ...")
    parser.add_argument("--where", action="append", default=[], type=_pair,
                        metavar="HEADING=VALUE", help="only rows with this value")
    parser.add_argument("--dates", choices=("day-first", "month-first", "year-first"),
                        help="how 03/04/2026 reads, where the file cannot tell")
    parser.add_argument("--zone", type=_zone, metavar="AREA/CITY",
                        help="time zone of times that name none (default: UTC)")
    parser.add_argument("--start", type=_moment, metavar="TIME",
                        help="when times that count from zero begin, such as 2026-04-02T08:15Z "
                        "(default: when the file was last changed)")
    parser.add_argument("--decimal", choices=(".", ","), help="the decimal mark")
    parser.add_argument("--minus", choices=tuple(_MINUS),
                        help="what minus amps mean, where you know: out of the pack, or into it")
    parser.add_argument("--logbook", type=Path, default=Path("logbook"), metavar="DIR",
                        help="where the log goes (default: ./logbook, made if need be)")
    parser.add_argument("--pack", metavar="NAME", help="the pack's name in the logbook")
    parser.add_argument("--vehicle", metavar="NAME", help="the vehicle's name in the logbook")
    parser.add_argument("--again", action="store_true",
                        help="bring a file in although the logbook holds it")
    parser.add_argument("--dry-run", action="store_true", help="show how it reads, write nothing")
    parser.add_argument("--json", action="store_true", help="print JSON instead of words")


def _pair(text: str) -> tuple[str, str]:
    name, equals, value = text.partition("=")
    if not (name and equals and value):
        raise argparse.ArgumentTypeError(f"{text!r} is not NAME=VALUE")
    return name, value


def _zone(text: str) -> str:
    try:
        return ZoneInfo(text).key
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise argparse.ArgumentTypeError(
            f"{text!r} is no time zone; write one such as Europe/Lisbon or UTC") from None


def _moment(text: str) -> datetime:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not a time such as "
                                         "2026-04-02T08:15Z") from None
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)


def run(arguments: argparse.Namespace) -> int:
    """Import every file; 1 if one of them could not be, the others are brought in all the same."""
    documents: list[dict[str, Any]] = []
    failed = False
    for path in arguments.files:
        try:
            documents += _import_file(path, arguments)
        except PackhandError as error:
            print(f"packhand import: {error}", file=sys.stderr)
            failed = True
        except FileNotFoundError:
            print(f"packhand import: {path}: no such file", file=sys.stderr)
            failed = True
    if arguments.json:
        print(json.dumps({"schema": "packhand.import/1", "logs": documents}, indent=2,
                         ensure_ascii=False))
    return int(failed)


def _options(arguments: argparse.Namespace) -> ImportOptions:
    from collector.importing import ImportOptions

    return ImportOptions(columns=dict(arguments.map), date_order=arguments.dates,
                         zone=arguments.zone, start=arguments.start, decimal=arguments.decimal,
                         where=dict(arguments.where))


def _import_file(path: Path, arguments: argparse.Namespace) -> list[dict[str, Any]]:
    from collector.importing import read_runs
    from collector.logbook import Logbook
    from collector.logfile import is_log

    if is_log(path):
        raise ForeignFileError(str(path), "this is a packhand log already",
                               "copy it into the logbook's folder logs/")
    runs = _settled(read_runs(path, _options(arguments)), path, arguments)
    book = None if arguments.dry_run else Logbook.create(arguments.logbook)
    if book is not None and not arguments.again:
        _refuse_twice(book, runs)
    signs = _signs(runs, arguments.minus)
    logs = [_write(book, foreign, sign, arguments) if book else None
            for foreign, sign in zip(runs, signs, strict=True)]
    if not arguments.json:
        print("\n".join(_words(runs, signs, logs)))
    return [_document(*one) for one in zip(runs, signs, logs, strict=True)]


def _settled(runs: list[Foreign], path: Path, arguments: argparse.Namespace) -> list[Foreign]:
    """Ask what must not be guessed: on a terminal once, else by refusing."""
    from collector.importing import read_runs

    open_doubts = [doubt for doubt in runs[0].doubts if doubt.must_ask]
    if arguments.dry_run or not open_doubts:
        return runs
    options = _options(arguments)
    for doubt in open_doubts:
        if not sys.stdin.isatty():
            raise ForeignFileError(str(path), doubt.question,
                                   f"say {doubt.option} {' or '.join(doubt.choices)}")
        answer = _ask(doubt.question, doubt.choices)
        name = {"--dates": "date_order", "--decimal": "decimal"}[doubt.option]
        options = replace(options, **{name: answer})  # type: ignore[arg-type]
    return read_runs(path, options)


def _ask(question: str, choices: tuple[str, ...]) -> str:
    while True:
        print(f"{question} [{' / '.join(choices)}] ", end="", file=sys.stderr, flush=True)
        answer = sys.stdin.readline()
        if answer.strip() in choices:
            return answer.strip()
        if not answer:
            raise ForeignFileError("import", "no answer", f"say one of {', '.join(choices)}")


def _refuse_twice(book: Logbook, runs: list[Foreign]) -> None:
    from collector.logfile import read_meta

    origins = {(meta.origin.get("sha256"), meta.origin.get("run", "")): entry.stem
               for entry in book.logs() if not entry.is_journal
               for meta in [read_meta(entry.path)]}
    for foreign in runs:
        stem = origins.get((foreign.sha256, foreign.run))
        if stem is not None:
            raise ForeignFileError(str(foreign.path), f"the logbook holds this file as {stem}",
                                   "--again brings it in once more")


def _signs(runs: list[Foreign], minus: str | None) -> list[dict[str, Any]]:
    """The sign of each run; where one cannot tell, the run of the file that tells best does."""
    from ..load import telemetry_from_table
    from ..sign import find_sign

    findings = []
    for foreign in runs:
        told = {"convention": _MINUS[minus], "decided_by": "person"} if minus else foreign.sign
        meta = {"sign": dict(told), "origin": {"file": foreign.path.name}}
        findings.append(find_sign(telemetry_from_table(foreign.table, meta, str(foreign.path))))
    best = max(range(len(runs)), key=lambda n: findings[n].log10_odds)
    proof = findings[best].as_json()
    borrowed = proof | {"from_run": runs[best].run,
                        "words": f"As in {runs[best].run}: {proof['words']}"}
    can_tell = proof["convention"] != "undecided"
    return [borrowed if can_tell and finding.convention == "undecided" else finding.as_json()
            for finding in findings]


def _write(book: Logbook, foreign: Foreign, sign: dict[str, Any],
           arguments: argparse.Namespace) -> Path:
    from collector.logfile import write_log
    from collector.meta import LogMeta, software

    origin = {"file": foreign.path.name, "sha256": foreign.sha256,
              "mapping": {name: mapped.as_json() for name, mapped in foreign.mapping.items()}}
    if foreign.run:
        origin["run"] = foreign.run
    meta = LogMeta(sign=sign, time_zone=foreign.time_zone, origin=origin, software=software(),
                   pack=arguments.pack or "", vehicle=arguments.vehicle or "")
    stem = book.stem_for(foreign.table["time"][0].as_py())
    return write_log(book.log_path(stem), meta, foreign.table)


def _document(foreign: Foreign, sign: dict[str, Any], log: Path | None) -> dict[str, Any]:
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


def _words(runs: list[Foreign], signs: list[dict[str, Any]],
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
    told = " If you know it, say --minus out or --minus in." \
        if sign["convention"] == "undecided" else ""
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
