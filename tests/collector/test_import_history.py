"""What a logbook keeps about its imports."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from collector.errors import LogbookError
from collector.import_history import HISTORY_NAME, Answers, Batch, ImportHistory, fingerprint_of

HEADINGS = ("Zeit", "Strom 1", "Spannung")
MAP = Answers({"current_a": "Strom 1:mA"}, dates="day-first")


def test_what_was_written_is_read_again(tmp_path: Path) -> None:
    """Answers and batches survive the way to disk and back."""
    history = ImportHistory.read(tmp_path)
    assert history.remember(HEADINGS, MAP, "a.csv", "2026-04-02T08:15:00+00:00")
    history.batches.append(Batch("2026-04-02T08:15:00+00:00", ("a.csv",),
                                 (("logs/x.parquet", "ab12"),), ("12345678",)))
    history.save()
    again = ImportHistory.read(tmp_path)

    assert again == history
    assert not list(tmp_path.glob("*.part"))
    assert again.remembered[0].answers.words == "--map current_a='Strom 1:mA' --dates day-first"


def test_other_headings_are_another_table(tmp_path: Path) -> None:
    """One more column, or another order, and nothing is recalled."""
    history = ImportHistory.read(tmp_path)
    history.remember(HEADINGS, MAP, "a.csv", "now")
    known = history.recall(HEADINGS)

    assert known is not None
    assert known.answers == MAP
    assert history.recall((*HEADINGS, "SOC")) is None
    assert history.recall(HEADINGS[::-1]) is None
    assert fingerprint_of(("a", "b")) != fingerprint_of(("ab",))


def test_a_newer_answer_goes_over_an_older_one(tmp_path: Path) -> None:
    """What is said anew replaces its like and leaves the rest."""
    history = ImportHistory.read(tmp_path)
    history.remember(HEADINGS, MAP, "a.csv", "1")
    is_first = history.remember(
        HEADINGS, Answers({"voltage_v": "Spannung"}, dates="month-first"), "b.csv", "2")

    assert not is_first
    assert [one.answers for one in history.remembered] == [
        Answers({"current_a": "Strom 1:mA", "voltage_v": "Spannung"}, "month-first")]
    assert history.remembered[0].file == "b.csv"


def test_forgetting_takes_one_or_all(tmp_path: Path) -> None:
    """By fingerprint or by 'all'; nothing found is told."""
    history = ImportHistory.read(tmp_path)
    history.remember(HEADINGS, MAP, "a.csv", "1")
    history.remember(HEADINGS[:2], MAP, "b.csv", "1")

    assert not history.forget("00000000")
    assert history.forget(fingerprint_of(HEADINGS))
    assert [one.file for one in history.remembered] == ["b.csv"]
    assert history.forget("all")
    assert not history.forget("all")


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"remembered": [{}], "batches": []}'])
def test_a_spoilt_file_is_named(tmp_path: Path, text: str) -> None:
    """One line, and the file stays for whoever wants to mend it."""
    path = tmp_path / HISTORY_NAME
    path.write_text(text)
    with pytest.raises(LogbookError, match="not an import history") as error:
        ImportHistory.read(tmp_path)

    assert error.value.where == str(path)
    assert path.read_text() == text


@pytest.mark.skipif(os.name == "nt", reason="a folder in the file's place says it elsewhere")
def test_a_folder_that_takes_no_file_is_named(tmp_path: Path) -> None:
    """The history cannot be lost in silence."""
    history = ImportHistory.read(tmp_path / "gone")
    with pytest.raises(LogbookError, match="cannot be written"):
        history.save()


def test_a_file_in_the_place_of_a_logbook_is_told(tmp_path: Path) -> None:
    """Nobody is sent to ask for permission."""
    (tmp_path / "notes.txt").write_text("")

    with pytest.raises(LogbookError, match=r"notes.txt: a file, not a folder — choose another"):
        ImportHistory.read(tmp_path / "notes.txt")
