"""Playing on a real pseudo-terminal: what is sent whole arrives, faults are as scripted."""

import io
import itertools
import json
import os
import random
import threading
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest
import serial

from collector.errors import SourceUnavailable
from collector.frames.decoder import Decoder
from collector.monitors import description_from_tables, load_description
from collector.simulator.faults import Fault
from collector.simulator.live import live_day
from collector.simulator.player import Player
from collector.simulator.terminal import PseudoTerminal

pytestmark = pytest.mark.skipif(os.name == "nt", reason="needs pseudo-terminals")

BINARY = load_description("demo-binary")


@pytest.fixture
def terminal(tmp_path: Path) -> Iterator[PseudoTerminal]:
    with PseudoTerminal(tmp_path / "cart") as line:
        yield line


def played(terminal: PseudoTerminal, count: int, script: list[Fault]) -> tuple[
        list[dict[str, str]], bytes]:
    """Deeds of so many rows at 100 Hz, and the bytes that a listener heard meanwhile."""
    truth, heard, stop = io.StringIO(), bytearray(), threading.Event()
    port = serial.Serial(terminal.port, timeout=0.05)

    def listen() -> None:
        while not stop.is_set():
            heard.extend(port.read(max(1, port.in_waiting)))

    listener = threading.Thread(target=listen)
    listener.start()
    player = Player(BINARY, terminal, random.Random(1), iter(script), truth)
    player.play(itertools.islice(live_day(1, 0.1), count), 0.01, threading.Event())
    threading.Event().wait(0.15)
    stop.set()
    listener.join()
    port.close()
    return [json.loads(line) for line in truth.getvalue().splitlines()], bytes(heard)


def test_every_frame_sent_whole_is_heard(terminal: PseudoTerminal) -> None:
    """Without faults the listener gets the bytes that the truth file tells."""
    deeds, heard = played(terminal, 40, [])

    assert Counter(deed["kind"] for deed in deeds) == {"whole": 40}
    assert heard == b"".join(bytes.fromhex(deed["hex"]) for deed in deeds)


def test_spoilt_frames_come_as_scripted_and_cost_only_themselves(
        terminal: PseudoTerminal) -> None:
    """One torn, one turned, one with junk before it: all others decode."""
    script = [Fault(0.05, "torn", 0), Fault(0.1, "wrong-check", 0), Fault(0.15, "garbage", 0)]
    deeds, heard = played(terminal, 40, script)
    whole = [deed for deed in deeds if deed["kind"] == "whole"]
    expected = [row for deed in whole for row in Decoder(BINARY).feed(bytes.fromhex(deed["hex"]))]

    assert Counter(deed["kind"] for deed in deeds) == {
        "whole": 38, "torn": 1, "wrong-check": 1, "garbage": 1}
    assert Decoder(BINARY).feed(heard) == expected


def test_stale_figures_stand_still_while_frames_go_on(terminal: PseudoTerminal) -> None:
    """For its time the same frame comes again and again."""
    deeds, _ = played(terminal, 60, [Fault(0.1, "stale", 0.2)])
    stale = [deed["hex"] for deed in deeds if deed["kind"] == "stale" and "hex" in deed]

    assert len(stale) >= 10
    assert len(set(stale)) == 1


def test_a_pause_is_silence(terminal: PseudoTerminal) -> None:
    """No frame goes out while the monitor pauses, and then they go on."""
    deeds, _ = played(terminal, 60, [Fault(0.1, "pause", 0.3)])
    kinds = [deed["kind"] for deed in deeds]
    at = kinds.index("pause")

    assert deeds[at + 1]["monotonic_s"] - deeds[at]["monotonic_s"] > 0.28
    assert set(kinds[at + 1:]) == {"whole"}
    assert len(kinds) < 60


def test_unplugging_takes_the_port_away_and_brings_it_back(terminal: PseudoTerminal) -> None:
    """While unplugged the name is gone; afterwards it leads to the line again."""
    truth, seen = io.StringIO(), []
    player = Player(BINARY, terminal, random.Random(1), iter([Fault(0.05, "unplug", 0.5)]), truth)
    look = threading.Timer(0.45, lambda: seen.append(Path(terminal.port).exists()))
    look.start()
    player.play(itertools.islice(live_day(1, 0.1), 90), 0.01, threading.Event())
    look.join()
    kinds = [json.loads(line)["kind"] for line in truth.getvalue().splitlines()]

    assert seen == [False]
    assert Path(terminal.port).exists()
    assert [kind for kind in kinds if kind != "whole"] == ["unplug", "plug"]
    assert kinds[-1] == "whole"


def test_a_monitor_that_is_asked_answers_only_then(terminal: PseudoTerminal) -> None:
    """No request, no frame; each request, one frame."""
    asked = description_from_tables(
        {**BINARY.as_tables(), "ask": {"send_text": "?", "every_s": 1.0}, "example": []}, "asked")
    player, stop = Player(asked, terminal, random.Random(1)), threading.Event()
    thread = threading.Thread(target=player.play, args=(live_day(1, 0.1), 0.05, stop))
    with serial.Serial(terminal.port, timeout=2) as port:
        thread.start()
        stop.wait(0.3)
        quiet = port.in_waiting
        answers = []
        for _ in range(3):
            port.write(b"?")
            answers += Decoder(asked).feed(port.read(56))
        stop.set()
        thread.join()

    assert quiet == 0
    assert len(answers) == player.sent == 3


def test_nobody_listening_is_no_error(terminal: PseudoTerminal) -> None:
    """When the line is full, frames are told to be unheard, and nothing waits."""
    truth = io.StringIO()
    player = Player(BINARY, terminal, random.Random(1), truth=truth)
    player.play(itertools.islice(live_day(1), 800), 1e-4, threading.Event())
    kinds = Counter(json.loads(line)["kind"] for line in truth.getvalue().splitlines())

    assert kinds["unheard"] > 0
    assert kinds["whole"] == player.sent


def test_a_name_in_use_is_not_overwritten(tmp_path: Path) -> None:
    """A file that somebody has is never replaced by a port."""
    (tmp_path / "mine").write_text("letters")

    with pytest.raises(SourceUnavailable, match="something else has this name"):
        PseudoTerminal(tmp_path / "mine").plug()
    assert (tmp_path / "mine").read_text() == "letters"


def test_closing_takes_the_name_away(tmp_path: Path) -> None:
    """Nothing is left behind."""
    with PseudoTerminal(tmp_path / "cart") as line:
        assert Path(line.port).exists()
    assert not (tmp_path / "cart").is_symlink()
