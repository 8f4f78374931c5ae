"""packhand dashboard: serves on this machine, ends clean, refuses in one line."""

from __future__ import annotations

import re
import signal
import socket
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest

import packhand
from collector.logbook import Logbook

ROOT = Path(__file__).resolve().parents[2]


def test_it_serves_until_stopped(empty_book: Path) -> None:
    """It prints the address, answers there, and Ctrl-C ends it with exit 0 and no traceback."""
    command = [sys.executable, "-m", "packhand", "dashboard", str(empty_book), "--port", "0"]
    with subprocess.Popen(command, cwd=ROOT, text=True, stdout=subprocess.PIPE,
                          stderr=subprocess.PIPE) as process:
        assert process.stdout is not None
        line = process.stdout.readline()
        address = re.search(r"http://127\.0\.0\.1:\d+", line)
        assert address is not None, line
        with urllib.request.urlopen(address[0]) as answer:
            page = answer.read()
        process.send_signal(signal.SIGINT)
        _, complaints = process.communicate(timeout=20)

    assert b"packhand" in page
    assert process.returncode == 0
    assert complaints == ""


def test_a_taken_port_is_said(empty_book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One line: which port, and what to do."""
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        code = packhand.main(["dashboard", str(empty_book), "--port", str(port)])

    assert code == 1
    assert re.fullmatch(rf"packhand dashboard: port {port}: .* — choose another with --port.*\n",
                        capsys.readouterr().err)


def test_a_port_that_is_none_is_said(empty_book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Ports end at 65535."""
    assert packhand.main(["dashboard", str(empty_book), "--port", "70000"]) == 1
    assert "port 70000: no such port" in capsys.readouterr().err


def test_no_logbook_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One line for a folder that is not there, or not a logbook."""
    assert packhand.main(["dashboard", str(tmp_path / "nowhere")]) == 1
    assert "no such folder" in capsys.readouterr().err


def test_a_wrong_configuration_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A slip in logbook.toml names file and line."""
    book = Logbook.create(tmp_path / "book")
    (book.root / "logbook.toml").write_text("[units\n")

    assert packhand.main(["dashboard", str(book.root)]) == 1
    assert "logbook.toml" in capsys.readouterr().err
