"""Workbooks: written by openpyxl, read as any table; what is no workbook is told apart."""

from __future__ import annotations

import gzip
import io
import zipfile
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from collector.errors import ForeignFileError
from collector.importing import ImportOptions, read_foreign

START = datetime(2026, 4, 2, 8, 15)  # noqa: DTZ001 - a workbook's times have no zone


def workbook(path: Path, **sheets: list[list[Any]]) -> Path:
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    book.save(path)
    return path


def test_a_sheet_with_a_preamble_and_a_unit_row(tmp_path: Path) -> None:
    """Moments, figures and empty cells keep their meaning; the other sheet is named as left out."""
    rows: list[list[Any]] = [["Bench log, shed 2"], [], ["Time", "Current", "Voltage", "SOC"],
                             ["", "A", "mV", "%"]]
    rows += [[START + timedelta(seconds=0.5 * k), -2 * k, 52_000 - k, None if k == 1 else 90.5]
             for k in range(4)]
    foreign = read_foreign(workbook(tmp_path / "a.xlsx", Notes=[["hello"]], Log=rows),
                           ImportOptions())

    assert foreign.table["current_a"].to_pylist() == [0, -2, -4, -6]
    assert foreign.table["voltage_v"].to_pylist() == [52.0, 51.999, 51.998, 51.997]
    assert foreign.table["soc_pct"].to_pylist() == [90.5, None, 90.5, 90.5]
    assert foreign.table["time"][1].as_py() == datetime(2026, 4, 2, 8, 15, 0, 500_000, UTC)
    assert foreign.words[0] == "A workbook; its sheet 'Log' is read. Left out: 'Notes'."


def test_date_and_time_in_two_columns_and_hours_as_a_duration(tmp_path: Path) -> None:
    """A date beside a time of day, and a time since the start, are both times."""
    dated = [["Date", "Time", "Amps"]] + [
        [date(2026, 4, 2), time(8, 15, k), float(k)] for k in range(3)]
    counted = [["Elapsed", "Amps"]] + [[timedelta(seconds=10 * k), float(k)] for k in range(3)]
    by_date = read_foreign(workbook(tmp_path / "a.xlsx", a=dated), ImportOptions())
    by_count = read_foreign(workbook(tmp_path / "b.xlsx", a=counted), ImportOptions())

    assert by_date.table["time"][2].as_py() == datetime(2026, 4, 2, 8, 15, 2, tzinfo=UTC)
    assert by_count.table["monotonic_s"].to_pylist() == [0.0, 10.0, 20.0]


def test_a_gzipped_workbook_reads_the_same(tmp_path: Path) -> None:
    """What the file is comes from its bytes, not from its name."""
    rows: list[list[Any]] = [["t_s", "amps"], [0, 1.5], [1, 2.5]]
    plain = workbook(tmp_path / "a.xlsx", a=rows)
    packed = tmp_path / "b.gz"
    packed.write_bytes(gzip.compress(plain.read_bytes()))

    assert read_foreign(packed, ImportOptions()).table["current_a"].to_pylist() == [1.5, 2.5]


def test_what_is_no_workbook_says_so(tmp_path: Path) -> None:
    """Another archive, a damaged one, the old binary kind, and one without figures."""
    archive = io.BytesIO()
    with zipfile.ZipFile(archive, "w") as packed:
        packed.writestr("a.csv", "t_s,amps\n0,1\n")
    whole = workbook(tmp_path / "a.xlsx", a=[["t_s", "amps"], [0, 1]]).read_bytes()
    empty = workbook(tmp_path / "e.xlsx", a=[]).read_bytes()
    for data, words in [(archive.getvalue(), "a zip archive, not a workbook"),
                        (whole[:-40], "not a readable workbook"),
                        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(512), "old binary kind"),
                        (empty, "a workbook without figures")]:
        path = tmp_path / "x.xlsx"
        path.write_bytes(data)
        with pytest.raises(ForeignFileError, match=words):
            read_foreign(path, ImportOptions())
