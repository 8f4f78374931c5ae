"""From a file to telemetry."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pyarrow as pa
import pytest

from analysis.load import load_telemetry
from analysis.one_log.sign import find_sign
from collector.errors import LogFormatError
from collector.journal import JournalWriter, log_schema
from collector.logfile import finish_log, write_log
from collector.meta import LogMeta
from collector.record import Sample
from tests.analysis.made_logs import DATA

START_MS = 1_775_117_700_000
ROOT = Path(__file__).parents[2]


def journal(folder: Path, samples: list[Sample]) -> Path:
    path = folder / "2026-04-02T08-15-00Z.csv"
    writer = JournalWriter.create(path, LogMeta(pack="flatbed"), ["current_a", "voltage_v"])
    for sample in samples:
        writer.write(sample)
    writer.close()
    return path


def samples(count: int) -> list[Sample]:
    return [Sample(START_MS + 1000 * k, 500.0 + k, {"current_a": -k, "voltage_v": 52.0})
            for k in range(count)]


def test_a_journal_and_its_parquet_load_the_same(tmp_path: Path) -> None:
    """A log that is still being recorded reads as it will when it is closed."""
    live = journal(tmp_path, samples(20))
    before = load_telemetry(live)
    after = load_telemetry(finish_log(live))

    assert before.elapsed_s.tolist() == after.elapsed_s.tolist() == list(range(20))
    assert before["current_a"].tolist() == after["current_a"].tolist() == [-k for k in range(20)]
    assert before.start == after.start
    assert before.start.isoformat() == "2026-04-02T08:15:00+00:00"
    assert after.meta["pack"] == "flatbed"


def test_events_leave_the_rows_and_keep_their_time(tmp_path: Path) -> None:
    """A row that reports an event is no sample; it lies between its neighbours."""
    rows = samples(10)
    rows.insert(4, Sample(START_MS + 3200, 503.2, event="link lost: cable pulled"))
    telemetry = load_telemetry(journal(tmp_path, rows))

    assert len(telemetry) == 10
    assert [(e.elapsed_s, e.kind, e.words) for e in telemetry.events] == [
        (pytest.approx(3.2), "link lost", "cable pulled")]


def test_a_clock_that_was_set_is_an_event(tmp_path: Path) -> None:
    """Set back by three days in the middle: order kept, told once, counted."""
    rows = samples(10)
    rows[5:] = [Sample(s.time_ms - 3 * 86_400_000, s.monotonic_s, s.values) for s in rows[5:]]
    telemetry = load_telemetry(journal(tmp_path, rows))

    assert telemetry.elapsed_s.tolist() == list(range(10))
    assert [(e.elapsed_s, e.kind) for e in telemetry.events] == [(5.0, "clock step")]
    assert telemetry.meta["time"] == {"clock_steps": 1}


def test_missing_is_nan_and_only_wanted_columns_are_read(tmp_path: Path) -> None:
    """An absent figure is NaN, an unwanted column is not there."""
    rows = samples(4)
    rows[2] = Sample(START_MS + 2000, 502.0, {"voltage_v": 51.0})
    telemetry = load_telemetry(journal(tmp_path, rows), columns=["current_a"])

    assert np.isnan(telemetry["current_a"]).tolist() == [False, False, True, False]
    assert set(telemetry.columns) == {"current_a"}


def test_late_and_doubled_rows_of_a_log_without_a_steady_clock(tmp_path: Path) -> None:
    """Rows out of order take their figures with them."""
    table = pa.table({
        "time": pa.array([START_MS + ms for ms in (0, 2000, 1000, 2000, 3000)],
                         pa.timestamp("ms", "UTC")),
        "monotonic_s": pa.nulls(5, pa.float64()),
        "current_a": [0.0, 2.0, 1.0, 9.0, 3.0],
        "event": pa.nulls(5, pa.string())}).cast(log_schema(["current_a"]))
    telemetry = load_telemetry(write_log(tmp_path / "a.parquet", LogMeta(), table))

    assert telemetry["current_a"].tolist() == [0, 1, 2, 3]
    assert telemetry.meta["time"] == {"duplicates": 1, "reordered": 1}


def test_a_table_from_elsewhere_is_read_through_the_importer() -> None:
    """A recorded drive as it was published, headings and all."""
    telemetry = load_telemetry(DATA / "real_drives" / "drive_A13.csv.gz")

    assert {"current_a", "voltage_v", "soc_pct", "speed_m_s"} <= set(telemetry.columns)
    assert len(telemetry) == 7160
    assert telemetry.meta["origin"] == {"file": "drive_A13.csv.gz"}
    assert telemetry.meta["time_zone"] == "UTC"
    assert [doubt["kind"] for doubt in telemetry.meta["doubts"]] == ["start"]


def test_a_sign_that_a_table_settles_is_kept(tmp_path: Path) -> None:
    """Amps joined from a column for each direction are known to be negative out of the pack."""
    path = tmp_path / "two.csv"
    path.write_text("t_s,charge current (A),discharge current (A)\n0,0,12\n1,3,0\n")
    telemetry = load_telemetry(path)

    assert telemetry.meta["sign"]["convention"] == "negative_is_discharge"
    assert find_sign(telemetry).convention == "negative_is_discharge"
    assert telemetry["current_a"].tolist() == [-12, 3]


def test_an_empty_log_says_so(tmp_path: Path) -> None:
    """Nothing was heard: one line, no crash."""
    with pytest.raises(LogFormatError, match="no samples"):
        load_telemetry(journal(tmp_path, []))


def test_a_missing_file_is_a_missing_file(tmp_path: Path) -> None:
    """It names itself."""
    with pytest.raises(FileNotFoundError) as error:
        load_telemetry(tmp_path / "none.parquet")

    assert error.value.filename == str(tmp_path / "none.parquet")


def test_reading_a_log_loads_no_pandas() -> None:
    """A log is read without pandas, whose import takes longer than most logs do."""
    program = ("import sys; from pathlib import Path; from analysis.load import load_telemetry; "
               "load_telemetry(Path(sys.argv[1])); print('pandas' in sys.modules)")
    log_path = next((ROOT / "sample_logs").rglob("*.parquet"))
    told = subprocess.run([sys.executable, "-c", program, str(log_path)], check=True, cwd=ROOT,
                          capture_output=True, text=True)

    assert told.stdout.strip() == "False"
