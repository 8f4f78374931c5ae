"""``packhand season`` as a person calls it."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pyarrow as pa
import pytest

from collector.logfile import write_log
from collector.meta import LogMeta
from packhand import main
from tests.analysis.made_packs import START, steady, telemetry

CONFIG = '[[pack]]\nname = "main"\nrated_ah = 105\n'


@pytest.fixture
def logbook(tmp_path: Path) -> Path:
    """A full charge and a discharge to empty."""
    (tmp_path / "logs").mkdir()
    (tmp_path / "logbook.toml").write_text(CONFIG, encoding="utf-8")
    for hours, amps, left in ((0.0, steady(20.0, 2.5), 0.5), (6.0, steady(-25.0, 4.0), 1.0)):
        log = telemetry(amps, left, hours=hours)
        start_ms = int((START.timestamp() + 3600 * hours) * 1000)
        table = pa.table({
            "time": pa.array(start_ms + (log.elapsed_s * 1000).astype(np.int64),
                             pa.timestamp("ms", "UTC")),
            "monotonic_s": log.elapsed_s, **log.columns, "event": pa.nulls(len(log), pa.string())})
        table = table.select(["time", "monotonic_s", "current_a", "voltage_v",
                              *sorted(c for c in log.columns if c.startswith("cell")),
                              "temp_1_c", "event"])
        meta = LogMeta(pack="main", sign={"convention": "negative_is_discharge",
                                          "decided_by": "person"}, invented=True)
        write_log(tmp_path / "logs" / f"2026-04-02T{8 + hours:02.0f}-00-00Z.parquet", meta, table)
    return tmp_path


def test_words_and_figures(logbook: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The answer begins with words; the test's capacity and invented data are told."""
    assert main(["season", str(logbook)]) == 0

    told = capsys.readouterr().out
    assert told.startswith("main, 2 April 2026")
    assert "Invented data." in told
    assert "capacity, full test" in told


def test_document(logbook: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """``--json`` prints one document without NaN; the rating comes from logbook.toml."""
    assert main(["season", str(logbook), "--json"]) == 0

    document = json.loads(capsys.readouterr().out, parse_constant=pytest.fail)
    assert document["schema"] == "packhand.season/1"
    assert document["capacity"][0]["ah"]["value"] == pytest.approx(100, rel=0.01)
    assert document["equivalent_full_cycles"] == pytest.approx(100 / 105, rel=0.01)


def test_a_broken_log_is_told_beside_the_answer(logbook: Path,
                                                capsys: pytest.CaptureFixture[str]) -> None:
    """A log that is cut off makes a line on stderr; the others are answered for."""
    (logbook / "logs" / "2026-04-01T08-00-00Z.parquet").write_bytes(b"PAR1")

    assert main(["season", str(logbook)]) == 0

    caught = capsys.readouterr()
    assert "left out" in caught.err
    assert "capacity, full test" in caught.out


def test_unknown_pack_is_refused_in_one_line(logbook: Path,
                                             capsys: pytest.CaptureFixture[str]) -> None:
    """A pack that no log is of lists those that there are."""
    assert main(["season", str(logbook), "--pack", "boat"]) == 1

    assert "its packs: 'main'" in capsys.readouterr().err


def test_a_folder_that_is_no_logbook_is_refused(tmp_path: Path,
                                                capsys: pytest.CaptureFixture[str]) -> None:
    """A folder without logs says what a logbook holds."""
    assert main(["season", str(tmp_path)]) == 1

    assert "not a logbook" in capsys.readouterr().err
