"""Bringing files into a logbook, one after the other, and asking what must not be guessed."""

from __future__ import annotations

import argparse
import math
import sys
from dataclasses import replace
from datetime import UTC, datetime
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from collector.errors import ForeignFileError
from collector.import_history import Answers, Batch, ImportHistory, Remembered
from collector.importing import ImportOptions, read_runs
from collector.logbook import Logbook
from collector.logfile import is_log, read_meta, write_log
from collector.meta import LogMeta, software

from ..load import telemetry_from_table
from ..one_log.instrument import sign_of_log
from .import_words import import_document, import_words

if TYPE_CHECKING:
    from collector.importing import Foreign

#: What ``--minus`` says about the sign.
_MINUS: Final = {"out": "negative_is_discharge", "in": "positive_is_discharge"}
#: Files of a folder that may be tables.
_SUFFIXES: Final = (".csv", ".tsv", ".txt", ".log", ".xlsx", ".parquet", ".gpx", ".gz")


def files_in(paths: list[Path]) -> list[Path]:
    """The files themselves, and of each folder those that may be tables, by name.

    Raises
    ------
    ForeignFileError
        If a folder holds none.
    """
    found: list[Path] = []
    for path in paths:
        inside = sorted(file for file in path.rglob("*") if file.suffix.lower() in _SUFFIXES
                        and file.is_file() and not _is_hidden(file.relative_to(path))
                        ) if path.is_dir() else [path]
        if not inside:
            raise ForeignFileError(str(path), "a folder without tables",
                                   f"tables end in {', '.join(_SUFFIXES)}")
        found += inside
    return found


def _is_hidden(path: Path) -> bool:
    """Whether a file is hidden, or only the mark that an office program has it open."""
    return any(part.startswith((".", "~$")) for part in path.parts)


class InLogbook(ForeignFileError):
    """The logbook holds this file already."""


class Importer:
    """One call of ``packhand import``."""

    def __init__(self, arguments: argparse.Namespace) -> None:
        self._arguments = arguments
        self._said = Answers(dict(arguments.map), arguments.dates or "", arguments.zone or "",
                             arguments.decimal or "", arguments.minus or "")
        self._history = ImportHistory.read(arguments.logbook)
        self._now = datetime.now(UTC).isoformat(timespec="seconds")
        self._brought: list[tuple[str, str]] = []
        self._files: list[str] = []
        self._learned: list[str] = []
        #: The logs' entries in the JSON document.
        self.documents: list[dict[str, Any]] = []

    def bring_in(self, path: Path) -> None:
        """Read one file, ask what it leaves open, write its logs, tell what was understood.

        Raises
        ------
        ForeignFileError
            If it cannot be read, or nobody can answer.
        InLogbook
            If it was brought in before.
        """
        if is_log(path):
            raise ForeignFileError(str(path), "this is a packhand log already",
                                   "copy it into the logbook's folder logs/")
        runs, said, answers = self._settled(path, self._said)
        writes = not self._arguments.dry_run
        if writes and not self._arguments.again:
            self._refuse_twice(runs)
        signs = _signs(runs, answers.minus)
        logs = [self._write(foreign, sign) if writes else None
                for foreign, sign in zip(runs, signs, strict=True)]
        if writes:
            self._keep(runs[0], path, said)
        if not self._arguments.json:
            print("\n".join(import_words(runs, signs, logs)))
        self.documents += [import_document(*one) for one in zip(runs, signs, logs, strict=True)]

    def _settled(self, path: Path, said: Answers) -> tuple[list[Foreign], Answers, Answers]:
        """The runs of a file, what was said and answered now, and the same over what was before."""
        recalled: list[Remembered] = []

        def recall(headings: tuple[str, ...]) -> ImportOptions:
            known = self._history.recall(headings)
            recalled[:] = [known] if known else []
            return self._options(said.over(known.answers) if known else said)

        runs = read_runs(path, self._options(said), recall)
        answers = said.over(recalled[0].answers) if recalled else said
        if recalled:
            runs = [replace(run, words=(*run.words, _as_before(recalled[0]))) for run in runs]
        doubts = [doubt for doubt in runs[0].doubts if doubt.must_ask]
        if self._arguments.dry_run or not doubts:
            return runs, said, answers
        for doubt in doubts:
            if not sys.stdin.isatty():
                raise ForeignFileError(str(path), doubt.question,
                                       f"say {doubt.option} {' or '.join(doubt.choices)}")
            name = doubt.option.removeprefix("--")
            answer = _ask(doubt.question, doubt.choices)
            said = replace(said, **{name: answer})  # type: ignore[arg-type]
        return self._settled(path, said)

    def _options(self, answers: Answers) -> ImportOptions:
        return ImportOptions(
            answers.columns, answers.dates or None, answers.zone or None,  # type: ignore[arg-type]
            self._arguments.start, answers.decimal or None,  # type: ignore[arg-type]
            dict(self._arguments.where))

    @cached_property
    def _book(self) -> Logbook:
        """Made only when there is something to write."""
        return Logbook.create(self._arguments.logbook)

    @cached_property
    def _origins(self) -> dict[tuple[Any, Any], str]:
        """File and run of every log that was imported before."""
        metas = {entry.stem: read_meta(entry.path) for entry in Logbook(
            self._arguments.logbook).logs() if not entry.is_journal}
        return {(meta.origin.get("sha256"), meta.origin.get("run", "")): stem
                for stem, meta in metas.items()}

    def _refuse_twice(self, runs: list[Foreign]) -> None:
        for foreign in runs:
            stem = self._origins.get((foreign.sha256, foreign.run))
            if stem is not None:
                raise InLogbook(str(foreign.path), f"the logbook holds this file as {stem}",
                                "--again brings it in once more")

    def _write(self, foreign: Foreign, sign: dict[str, Any]) -> Path:
        book, arguments = self._book, self._arguments
        origin = {"file": foreign.path.name, "sha256": foreign.sha256,
                  "mapping": {name: mapped.as_json() for name, mapped in foreign.mapping.items()}}
        if foreign.run:
            origin["run"] = foreign.run
        meta = LogMeta(sign=sign, time_zone=foreign.time_zone, origin=origin, software=software(),
                       pack=arguments.pack or "", vehicle=arguments.vehicle or "")
        stem = book.stem_for(foreign.table["time"][0].as_py())
        path = write_log(book.log_path(stem), meta, foreign.table)
        self._origins[foreign.sha256, foreign.run] = stem
        self._brought.append((path.relative_to(book.root).as_posix(), foreign.sha256))
        return path

    def _keep(self, foreign: Foreign, path: Path, said: Answers) -> None:
        """Remember what was said about such tables, and what was brought in so far."""
        self._files.append(path.name)
        if said and self._history.remember(foreign.headings, said, path.name, self._now):
            self._learned.append(self._history.remembered[-1].fingerprint)
        batch = Batch(self._now, tuple(self._files), tuple(self._brought), tuple(self._learned))
        if len(self._files) > 1:
            self._history.batches.pop()
        self._history.batches.append(batch)
        self._history.save()


def _as_before(known: Remembered) -> str:
    return (f"As for {known.file}: {known.answers.words} "
            f"('packhand import --forget {known.fingerprint}' forgets it).")


def _ask(question: str, choices: tuple[str, ...]) -> str:
    while True:
        print(f"{question} [{' / '.join(choices)}] ", end="", file=sys.stderr, flush=True)
        answer = sys.stdin.readline()
        if answer.strip() in choices:
            return answer.strip()
        if not answer:
            raise ForeignFileError("import", "no answer", f"say one of {', '.join(choices)}")


def _signs(runs: list[Foreign], minus: str) -> list[dict[str, Any]]:
    """The sign of each run; where one cannot tell, the run of the file that tells best does. One
    whose sign turns within it has none."""
    findings = []
    for foreign in runs:
        told = {"convention": _MINUS[minus], "decided_by": "person"} if minus else foreign.sign
        meta = {"sign": dict(told), "origin": {"file": foreign.path.name}}
        findings.append(sign_of_log(telemetry_from_table(foreign.table, meta, str(foreign.path))))
    best = max(range(len(runs)), key=lambda n: findings[n].log10_odds)
    proof = findings[best].as_json()
    borrowed = proof | {"from_run": runs[best].run,
                        "words": f"As in {runs[best].run}: {proof['words']}"}
    can_tell = proof["convention"] != "undecided"
    return [borrowed if can_tell and finding.convention == "undecided"
            and not math.isfinite(finding.turned_s) else finding.as_json() for finding in findings]
