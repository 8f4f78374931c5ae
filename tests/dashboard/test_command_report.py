"""``packhand report``: files of each kind, one line where it cannot."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest

import packhand
from collector.logbook import Logbook
from tests.dashboard.papers_book import CUT_OUT_LOG


@pytest.mark.parametrize(("kind", "name", "begins"), [
    ("health", "a.html", b"<!DOCTYPE html>"), ("sale", "a.PDF", b"%PDF-"),
    ("card", "a.pdf", b"%PDF-"), ("reminders", "a.ics", b"BEGIN:VCALENDAR\r\n"),
])
def test_each_kind_is_written(papers_book: Logbook, tmp_path: Path, kind: str, name: str,
                              begins: bytes, capsys: pytest.CaptureFixture[str]) -> None:
    """The end of the name says how it is set; the line says where it is."""
    out = tmp_path / name

    assert packhand.main(["report", str(papers_book.root), "--kind", kind, "-o", str(out)]) == 0
    assert out.read_bytes().startswith(begins)
    assert f"wrote {out}" in capsys.readouterr().out
    assert [path.name for path in tmp_path.iterdir()] == [name]


def test_evidence_comes_along(papers_book: Logbook, tmp_path: Path,
                              capsys: pytest.CaptureFixture[str]) -> None:
    """One zip with the paper and the raw logs, and what it holds is said."""
    bundle = tmp_path / "claim.zip"
    packhand.main(["report", str(papers_book.root), "--kind", "warranty", "-o",
                   str(tmp_path / "c.pdf"), "--evidence", str(bundle), "--from", "2026-04-16"])

    with zipfile.ZipFile(bundle) as archive:
        names = archive.namelist()
    assert f"logs/{CUT_OUT_LOG}.parquet" in names
    assert not [name for name in names if "2026-04-15" in name]
    assert "with places and names" in capsys.readouterr().out


@pytest.mark.parametrize("words", [
    ["--kind", "health", "-o", "a.doc"], ["--kind", "reminders", "-o", "a.pdf"],
    ["--from", "yesterday", "-o", "a.pdf"], ["--full-weeks", "0", "-o", "a.pdf"],
])
def test_misuse_is_two(papers_book: Logbook, words: list[str]) -> None:
    """Wrong words are the caller's; nothing is read."""
    with pytest.raises(SystemExit) as stopped:
        packhand.main(["report", str(papers_book.root), *words])

    assert stopped.value.code == 2


def test_a_place_that_takes_no_file_is_told(papers_book: Logbook, tmp_path: Path,
                                            capsys: pytest.CaptureFixture[str]) -> None:
    """One line: where, what, what to do."""
    code = packhand.main(["report", str(papers_book.root), "-o", str(tmp_path / "no" / "a.html")])

    assert code == 1
    told = capsys.readouterr().err.strip()
    assert told.count("\n") == 0
    assert "cannot be written" in told
