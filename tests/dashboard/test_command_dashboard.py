"""packhand dashboard: serves on this machine, ends clean, refuses in one line."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import urllib.error
import urllib.parse
import urllib.request
from pathlib import Path

import pytest

import packhand
from collector.logbook import Logbook
from dashboard.home_network import code_of

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


def test_the_home_network_needs_the_pin(empty_book: Path) -> None:
    """With --lan the terminal shows address, code, PIN and cautions; the PIN opens the pages."""
    command = [sys.executable, "-m", "packhand", "dashboard", str(empty_book), "--port", "0",
               "--lan", "--address", "127.0.0.1"]
    told = ""
    with subprocess.Popen(command, cwd=ROOT, text=True, encoding="utf-8", stdout=subprocess.PIPE,
                          env=os.environ | {"PYTHONIOENCODING": "utf-8"}) as process:
        assert process.stdout is not None
        while "Ctrl-C" not in told:
            told += process.stdout.readline()
        address = re.findall(r"http://127\.0\.0\.1:\d+", told)[0]
        pin = re.findall(r"PIN (\d{3} \d{3}), new at each start", told)[0]
        with pytest.raises(urllib.error.HTTPError, match="401") as refused:
            urllib.request.urlopen(address + "/_dash-layout")
        refused.value.close()
        opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor())
        with opener.open(address + "/door", urllib.parse.urlencode({"pin": pin}).encode()) as page:
            assert b"packhand" in page.read()
        with opener.open(address + "/_dash-layout") as layout:
            assert layout.status == 200
        process.send_signal(signal.SIGINT)
        process.communicate(timeout=20)

    assert "\N{UPPER HALF BLOCK}" in told
    assert "not encrypted" in told
    assert process.returncode == 0


@pytest.mark.parametrize(("address", "found"), [
    ("0.0.0.0", "not one address of this machine"), ("8.8.8.8", "can be reached from the internet"),
    ("224.0.0.1", "not one address"), ("home", "not an IPv4 address"),
    ("192.168.217.3", "not one of this machine"),
])
def test_a_wrong_address_is_said(empty_book: Path, capsys: pytest.CaptureFixture[str],
                                 address: str, found: str) -> None:
    """Never all addresses at once, never one that the internet can reach."""
    words = ["dashboard", str(empty_book), "--port", "0", "--lan", "--address", address]

    assert packhand.main(words) == 1
    assert found in capsys.readouterr().err


def test_an_address_needs_lan(empty_book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Without --lan nothing is opened to a network."""
    with pytest.raises(SystemExit, match="2"):
        packhand.main(["dashboard", str(empty_book), "--address", "192.168.1.7"])

    assert "--address goes with --lan" in capsys.readouterr().err


def test_the_code_says_the_address() -> None:
    """QR: the drawn modules are those of the reference form, a quiet zone of two around them."""
    rows = code_of("http://192.168.1.7:8050").splitlines()

    assert len({len(row) for row in rows}) == 1
    assert set("".join(rows)) <= set(" \N{UPPER HALF BLOCK}\N{LOWER HALF BLOCK}\N{FULL BLOCK}")
    assert set(rows[0]) == {"\N{FULL BLOCK}"}


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
