"""A spreadsheet's days: read whole or not at all."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

import packhand
from collector.day_table import read_day_table
from collector.errors import ForeignFileError
from collector.logbook import Logbook
from collector.notes import read_notes

TABLE = "Date,Ah out,kWh out,km,low %,high %\n2027-05-03,52.4,2.71,9.5,41,100\n2027-05-04,,,,,\n"


def written(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "days.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_row_becomes_a_days_words(tmp_path: Path) -> None:
    """Figures under their units; a day with nothing but its date is left out."""
    assert read_day_table(written(tmp_path, TABLE)) == [
        (date(2027, 5, 3), "52.4 Ah out, 2.71 kWh out, 9.5 km, low 41 %, high 100 %")]


def test_semicolons_and_decimal_commas(tmp_path: Path) -> None:
    """As a spreadsheet in many countries saves it."""
    table = written(tmp_path, "\ufeffdate; Ah out;km\n2027-05-03;52,4;9,5\n")

    assert read_day_table(table) == [(date(2027, 5, 3), "52,4 Ah out, 9,5 km")]


@pytest.mark.parametrize(("text", "where"), [
    ("day,km\n2027-05-03,9\n", "line 1: no heading 'date'"),
    ("date,km\n2027-05-03,9\n3/5/27,9\n", "line 3: Invalid isoformat"),
    ("date,km\n2027-05-03,many\n", "line 2: 'many km' is no figure"),
    ("date,mood\n2027-05-03,9\n", "line 2: '9 mood' is no figure"),
    ("", "line 1: no heading")])
def test_what_cannot_be_read_names_its_line(tmp_path: Path, text: str, where: str) -> None:
    """Nothing of such a table is kept."""
    table = written(tmp_path, text)

    with pytest.raises(ForeignFileError, match=where):
        read_day_table(table)
    assert packhand.main(["note", "day", "--table", str(table), "--logbook",
                          str(tmp_path / "book")]) == 1
    assert not (tmp_path / "book").exists()


def test_the_command_keeps_each_day(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One note a day, at noon; --table without day is misuse."""
    table, book = written(tmp_path, TABLE), ["--logbook", str(tmp_path / "book")]

    assert packhand.main(["note", "day", "--table", str(table), *book]) == 0
    assert "1 day kept" in capsys.readouterr().out
    (note,) = read_notes(Logbook(tmp_path / "book").notes_path).rows
    assert (note.kind, note.text.split(",")[0]) == ("day", "52.4 Ah out")
    with pytest.raises(SystemExit, match="2"):
        packhand.main(["note", "mark", "--table", str(table), *book])
