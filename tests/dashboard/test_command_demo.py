"""The demo as a person runs it: whole command, real pseudo-terminal, real server."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from collector.logbook import Logbook
from collector.logfile import read_log

ROOT = Path(__file__).resolve().parents[2]
DAYS = ("--days", "1", "--no-browser")

pytestmark = [pytest.mark.slow, pytest.mark.skipif(os.name == "nt", reason="pseudo-terminals")]


def start(folder: Path, *words: str, **environment: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "packhand", "demo", "--logbook", str(folder), *DAYS, *words],
        cwd=ROOT, env=os.environ | environment, text=True,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE)


def recorded(folder: Path) -> Path:
    """The log that the demo recorded, the newest one."""
    return Logbook.open(folder).logs()[-1].path


def test_the_demo_ends_by_itself_with_a_whole_log(tmp_path: Path) -> None:
    """With the seconds in the environment the demo needs nobody and leaves a verified log."""
    demo = start(tmp_path / "demo", PACKHAND_SECONDS="5")
    out, err = demo.communicate(timeout=120)
    log = read_log(recorded(tmp_path / "demo"))

    assert demo.returncode == 0, err
    assert "Invented data" in out
    assert f"{log.table.num_rows} rows, closed and verified" in out
    assert log.path.suffix == ".parquet"
    assert log.table.num_rows > 20
    assert log.columns[:3] == ("current_a", "voltage_v", "soc_pct")


def test_ctrl_c_leaves_everything_closed(tmp_path: Path) -> None:
    """Ctrl-C at any time ends all parts; no journal, no lock and no process is left."""
    demo = start(tmp_path / "demo")
    assert demo.stdout is not None
    while "pages are at" not in demo.stdout.readline():
        assert demo.poll() is None
    time.sleep(3)
    demo.send_signal(signal.SIGINT)
    out, err = demo.communicate(timeout=60)
    left = sorted(path.suffix for path in (tmp_path / "demo" / "logs").iterdir())

    assert demo.returncode == 0, err
    assert "closed and verified" in out
    assert set(left) <= {".parquet", ".raw"}


def test_a_folder_that_is_not_the_demo_is_left_alone(tmp_path: Path) -> None:
    """The demo never builds into a folder that holds something else."""
    (tmp_path / "photo.jpg").write_bytes(b"mine")
    demo = start(tmp_path, "--seconds", "1")
    _, err = demo.communicate(timeout=60)

    assert demo.returncode == 1
    assert "not a logbook" in err
    assert [path.name for path in tmp_path.iterdir()] == ["photo.jpg"]


def test_the_boat_is_shown_with_nothing_recorded(tmp_path: Path) -> None:
    """Another vehicle has the pages and its own logbook; no monitor is played."""
    demo = start(tmp_path / "demo", "--vehicle", "punt", "--seconds", "2")
    out, err = demo.communicate(timeout=60)
    logs = [read_log(entry.path) for entry in Logbook.open(tmp_path / "demo").logs()]

    assert demo.returncode == 0, err
    assert "the punt of Quillet Isle; nothing is recorded live" in out
    assert {log.meta.vehicle for log in logs} == {"punt"}
    assert len(logs) == 3
