"""Single keys from a real pseudo-terminal."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from collector.keys import keyboard, no_key
from collector.sources.keyboard import SHELVE, MarkKeys

ROOT = Path(__file__).parents[2]
pytestmark = pytest.mark.skipif(os.name == "nt", reason="needs pseudo-terminals")

LISTEN = """
import sys, termios
from collector.keys import keyboard
with keyboard() as read_key:
    print("ready" if read_key else "none", flush=True)
    for _ in range(100):
        if read_key is None or (key := read_key(0.1)) == "q":
            break
        if key:
            print(repr(key), flush=True)
lines = termios.tcgetattr(0)[3] & termios.ICANON if read_key else 1
print("whole lines again" if lines else "still single keys", flush=True)
"""
OWN_TERMINAL = "import fcntl, termios; fcntl.ioctl(0, termios.TIOCSCTTY, 0)\n"


@pytest.fixture(name="typist")
def _typist() -> Iterator[tuple[int, int]]:
    """Our end of a terminal and theirs."""
    import pty

    ours, theirs = pty.openpty()
    yield ours, theirs
    for end in (ours, theirs):
        os.close(end)


def listener(stdin: int | None, before: str = OWN_TERMINAL) -> subprocess.Popen[str]:
    return subprocess.Popen([sys.executable, "-c", before + LISTEN], cwd=ROOT, text=True,
                            stdin=stdin, stdout=subprocess.PIPE, start_new_session=True)


def test_keys_come_one_by_one_and_the_terminal_is_given_back(typist: tuple[int, int]) -> None:
    """No Enter is needed and nothing is shown; afterwards lines are lines again."""
    ours, theirs = typist
    with listener(theirs) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n"
        os.write(ours, b" s\n")
        heard = [process.stdout.readline() for _ in range(3)]
        os.write(ours, b"q")
        end = process.stdout.read()

    assert heard == ["' '\n", "'s'\n", "'\\n'\n"]
    assert end == "whole lines again\n"
    os.set_blocking(ours, False)
    with pytest.raises(BlockingIOError):
        os.read(ours, 100)


def test_ctrl_c_stays_a_signal(typist: tuple[int, int]) -> None:
    """It ends the program as ever, and the terminal is given back."""
    ours, theirs = typist
    with listener(theirs) as process:
        assert process.stdout is not None
        process.stdout.readline()
        os.write(ours, b"\x03")
        process.wait(10)

    assert process.returncode == -2


def test_a_command_in_the_background_hears_no_keys(typist: tuple[int, int]) -> None:
    """The terminal belongs to another group: nothing is read, and nothing stops the command."""
    in_background = OWN_TERMINAL + ("import os\nif os.fork(): os.wait(); os._exit(0)\n"
                                    "os.setpgid(0, 0)\n")
    with listener(typist[1], in_background) as process:
        assert process.stdout is not None
        said = process.stdout.readline()

    assert said == "none\n"


def test_without_a_terminal_there_is_no_keyboard(monkeypatch: pytest.MonkeyPatch) -> None:
    """A pipe, a file, or nothing at all."""
    with listener(subprocess.DEVNULL, "") as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "none\n"
    monkeypatch.setattr(sys, "stdin", None)
    with keyboard() as read_key:
        assert read_key is None
    start_s = time.monotonic()
    assert no_key(0.05) == ""
    assert time.monotonic() - start_s >= 0.05


def test_space_and_enter_mark_and_s_shelves() -> None:
    """Marks are numbered; other keys do nothing."""
    keys, stop = iter([" ", "x", "", "\n", "\r", "s"]), threading.Event()

    def read_key(_: float) -> str:
        key = next(keys, None)
        if key is None:
            stop.set()
        return key or ""

    said = [sample.event for sample in MarkKeys(read_key).heard(stop)]

    assert said == ["mark: 1", "mark: 2", "mark: 3", SHELVE]
