"""What was said about a track's table is remembered for the next one like it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pyarrow as pa
import pytest

import packhand
from analysis.load import load_telemetry
from collector.import_history import ImportHistory
from collector.journal import log_schema
from collector.logbook import Logbook
from collector.logfile import write_log
from collector.meta import LogMeta

BEGUN = datetime(2026, 4, 2, 8, 0, tzinfo=UTC)


def log_in(book: Logbook) -> Path:
    """Ten minutes of even amps on 2 April."""
    seconds = np.arange(600)
    table = pa.table([
        pa.array([BEGUN + timedelta(seconds=int(s)) for s in seconds], pa.timestamp("ms", "UTC")),
        pa.array(seconds.astype(float)), pa.array(np.full(600, -20.0)), pa.nulls(600, pa.string())],
        schema=log_schema(["current_a"]))
    return write_log(book.log_path("2026-04-02T08-00-00Z"), LogMeta(pack="p"), table)


def table_of(path: Path) -> Path:
    """Speeds whose heading says little and whose dates could be 4 February."""
    rows = [f"{(BEGUN + timedelta(seconds=s)).strftime('%d/%m/%Y %H:%M:%S')},{7.2}"
            for s in range(0, 600, 5)]
    path.write_text("\n".join(["time,pace", *rows, ""]))
    return path


def test_the_next_table_with_these_headings_needs_no_answers(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Said once with the first track; 'import --undo' forgets it with the track."""
    book = Logbook.create(tmp_path / "book")
    log = log_in(book)
    common = ["--join", str(log), "--offset", "0"]
    untold = packhand.main(["import", str(table_of(tmp_path / "a.csv")), *common])
    told = packhand.main(["import", str(tmp_path / "a.csv"), *common, "--dates", "day-first",
                          "--map", "speed_m_s=pace:km/h"])
    again = packhand.main(["import", str(table_of(tmp_path / "b.csv")), *common, "--again"])
    speed = load_telemetry(log)["speed_m_s"]

    assert (untold, told, again) == (1, 0, 0)
    assert np.nanmedian(speed) == pytest.approx(2.0)
    known, = ImportHistory.read(book.root).remembered
    assert (known.headings, known.answers.dates) == (("time", "pace"), "day-first")

    for _ in range(2):
        packhand.main(["import", "--undo", "--logbook", str(book.root)])
    capsys.readouterr()
    assert ImportHistory.read(book.root).remembered == []
