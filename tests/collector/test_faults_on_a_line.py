"""The fault catalogue on a serial line: text, binary and NMEA 0183, on a real pseudo-terminal.

For each fault what must stand in the log: every frame that was sent whole while somebody listened,
in its order and no other, and an event where a person has to know. A fault that a listener cannot
know of, such as amps in another unit that a pedal could have made, is not here.
"""

from __future__ import annotations

import os
import random
import threading
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from collector import standstill
from collector.frames.decoder import Decoder
from collector.frames.fields import Row
from collector.logbook import Logbook
from collector.logfile import Log, read_log
from collector.meta import LogMeta
from collector.monitors import Description, load_description
from collector.record import Sample
from collector.recorder import record
from collector.simulator.faults import FLAP_S, KINDS, MORE_KINDS, Fault
from collector.simulator.player import Player
from collector.simulator.row_faults import Teller, altered
from collector.simulator.terminal import PseudoTerminal
from collector.simulator.voices import voice
from collector.sources import open_link
from collector.sources.described import DescribedSource
from tests.collector.listening import kinds, rows
from tests.collector.played_faults import FIGURES

pytestmark = [pytest.mark.slow,
              pytest.mark.skipif(os.name == "nt", reason="needs pseudo-terminals")]

BEAT_S = 0.01
FRAMES = 40
SILENCE_S = 1.0
#: When a fault begins. [s]
BEGUN_S = 0.15


def quick(name: str) -> Description:
    """A built-in monitor that is called silent sooner."""
    monitor = load_description(name)
    return replace(monitor, transport=replace(monitor.transport, silence_s=SILENCE_S))


MONITORS = {name: quick(name) for name in ("demo-text", "demo-binary", "nmea", "nmea-battery")}


def shown(number: int) -> Row:
    """A row whose every figure follows from its number."""
    row: Row = {
        "sequence": 65_500.0 + number if number < 36 else number - 36.0,
        "current_a": round(-10 - number / 10, 1), "voltage_v": 52.0 + number / 100,
        "soc_pct": 91.0, "time_left_h": 3.0, "temp_1_c": 18.0, "temp_2_c": 19.0,
        "speed_m_s": 2.0 + number / 100, "latitude_deg": 47.0 + number / 1e5,
        "longitude_deg": -20.0, "elevation_m": 2.0, "state": "discharging", "fault": "none",
    }
    return row | {f"cell_{n:02d}_v": 3.25 + number / 1000 for n in range(1, 17)}


@dataclass(frozen=True)
class Expected:
    """What a fault leads to."""

    for_s: float = 0.0
    #: Events, which come again and again where ``again`` says so.
    events: tuple[str, ...] = ()
    again: bool = False
    #: Frames that may be missing.
    lost: int = 0
    #: What is counted, of a monitor with a running number.
    counted: tuple[str, int] | None = None


CATALOGUE = {
    "unplug": Expected(0.5, ("link lost", "link back"), lost=200),
    "flap": Expected(4 * FLAP_S, ("link lost", "link back"), again=True, lost=400),
    "garbage": Expected(),
    "torn": Expected(lost=1, counted=("lost_frames", 1)),
    "wrong-check": Expected(lost=1, counted=("lost_frames", 1)),
    "pause": Expected(1.6, ("silent",)),
    "twice": Expected(counted=("repeated_frames", 1)),
    "missing": Expected(0.3),
    "lost": Expected(lost=1, counted=("lost_frames", 1)),
    "reordered": Expected(counted=("late_frames", 1)),
    "burst": Expected(0.3),
    "wrong-baud": Expected(1.6, ("silent",), lost=190),
}


def test_the_catalogue_is_whole() -> None:
    """Every fault a line can have is in this table, or has a test of its own below."""
    own = {"stale", "swap", "cells", "unit"}

    assert {*KINDS, *MORE_KINDS["serial"]} == {*CATALOGUE, *own, *FIGURES}


@pytest.fixture
def line(tmp_path: Path) -> Iterator[PseudoTerminal]:
    with PseudoTerminal(tmp_path / "port") as terminal:
        yield terminal


class Played:
    """A monitor that plays some rows with one fault, and what a listener made of it."""

    def __init__(self, monitor: Description, line: PseudoTerminal, *faults: Fault,
                 count: int = FRAMES, beat_s: float = BEAT_S) -> None:
        self.monitor = monitor
        self.source = DescribedSource(open_link(monitor, line.port), monitor)
        self.samples: list[Sample] = []
        stop = threading.Event()
        player = Player(monitor, line, random.Random(5), iter(faults))

        def play() -> None:
            player.play((shown(n) for n in range(count)), beat_s, threading.Event())
            threading.Event().wait(0.2)
            stop.set()

        self.source.open()
        playing = threading.Thread(target=play)
        playing.start()
        self.samples = [item for item in self.source.heard(stop) if isinstance(item, Sample)]
        playing.join()
        self.source.close()

    def said(self, number: int, fault: str = "") -> list[Row]:
        """What the monitor says of a row, read from its own clean frame."""
        return Decoder(self.monitor).feed(voice(self.monitor, altered(shown(number), fault)))


def is_within(few: list[Row], many: list[Row]) -> bool:
    """Whether ``many`` holds all of ``few``, in their order."""
    rest = iter(many)
    return all(any(one == other for other in rest) for one in few)


@pytest.mark.parametrize("name", MONITORS)
@pytest.mark.parametrize("fault", CATALOGUE)
def test_a_fault_costs_only_itself(name: str, fault: str, line: PseudoTerminal) -> None:
    """Nothing is lost but what was not sent whole, nothing is invented, and it is told."""
    expected = CATALOGUE[fault]
    lasting_s = expected.for_s
    # A lost link is tried again with growing pauses.
    back_s = 2.0 if "link lost" in expected.events else 0.0
    count = FRAMES + round((lasting_s + back_s) / BEAT_S)
    played = Played(MONITORS[name], line, Fault(BEGUN_S, fault, lasting_s), count=count)
    heard = rows(played.samples)
    sent = [row for n in range(count) for row in played.said(n)]
    also = [row for n in range(count) for row in played.said(n, fault)]
    each = len(played.said(0))

    times = max(1, kinds(played.samples).count("link lost")) if expected.again else 1
    assert kinds(played.samples) == list(expected.events) * times
    if fault == "missing":
        assert all(row in sent or row in also for row in heard)
        assert any(row not in sent for row in heard) == (also != sent)
    elif fault == "reordered":
        assert sorted(map(str, heard)) == sorted(map(str, sent))
    elif fault == "twice" and name != "demo-binary":
        assert is_within(sent, heard)
        assert len(heard) == len(sent) + each
    else:
        assert is_within(heard, sent)
    if fault != "pause":
        assert len(heard) >= len(sent) - each * expected.lost
    assert heard[-1] in played.said(count - 1)
    if expected.counted and "sequence" in MONITORS[name].columns:
        what, number = expected.counted
        assert played.source.counts[what] == number


def recorded(monitor: Description, line: PseudoTerminal, fault: Fault, book: Path) -> list[Log]:
    """The logs of a monitor with one fault, oldest first."""
    source, stop = DescribedSource(open_link(monitor, line.port), monitor), threading.Event()
    player = Player(monitor, line, random.Random(5), iter([fault]))

    def play() -> None:
        player.play((shown(n) for n in range(FRAMES + 60)), BEAT_S, threading.Event())
        threading.Event().wait(0.2)
        stop.set()

    playing = threading.Thread(target=play)
    last = record(source, Logbook(book), LogMeta(), stop,
                  on_words=lambda words: playing.start() if playing.ident is None
                  and words.startswith("recording") else None)
    playing.join()
    return [read_log(each.path) for each in (*last.earlier, last) if each.path]


@pytest.mark.parametrize("name", ["demo-text", "demo-binary", "nmea-battery"])
@pytest.mark.parametrize(("fault", "column"), [("swap", "soc_pct"), ("unit", "voltage_v")])
def test_another_pack_and_another_unit_get_a_log_of_their_own(
        name: str, fault: str, column: str, line: PseudoTerminal, tmp_path: Path) -> None:
    """No column goes on with the figures of another: up to the change one log, from it the next."""
    lasting_s = 0.4 if fault == "swap" else 60.0
    before, after = recorded(MONITORS[name], line, Fault(BEGUN_S, fault, lasting_s),
                             tmp_path / "book")
    told = [log.table[column].drop_null().to_pylist() for log in (before, after)]
    border = 80.0 if fault == "swap" else 100.0
    low, high = sorted(told, key=max)

    assert len(told[0]) > 5
    assert len(told[1]) > 20
    assert max(low) < border < min(high)
    assert before.table["event"][-1].as_py() == after.table["event"][0].as_py()
    assert after.table["event"][0].as_py().startswith("changed: ")


@pytest.mark.parametrize("name", ["demo-text", "demo-binary"])
def test_a_cell_that_is_no_longer_told_is_missing(
        name: str, line: PseudoTerminal, tmp_path: Path) -> None:
    """Its column is empty, not what it said last; the event stands in the same log."""
    log, = recorded(MONITORS[name], line, Fault(BEGUN_S, "cells", 60.0), tmp_path / "book")
    table = log.table
    at = table["event"].to_pylist().index("odd: 15 cells are told, 16 before")

    assert table["cell_16_v"].slice(0, at).null_count == 0
    assert table["cell_16_v"].slice(at).null_count == table.num_rows - at > 20
    assert table["cell_15_v"].null_count == 1


@pytest.mark.parametrize("name", MONITORS)
def test_wrong_figures_come_as_they_were_told(name: str, line: PseudoTerminal) -> None:
    """Nothing is mended, left out or called another pack; each is one that a fault made."""
    faults = [Fault(BEGUN_S + 4 * BEAT_S * n, kind, 3 * BEAT_S) for n, kind in enumerate(FIGURES)]
    count = 5 * len(FIGURES) + round(BEGUN_S / BEAT_S)
    played = Played(MONITORS[name], line, *faults, count=count)
    heard, sent = rows(played.samples), list(_told(played.monitor, "", count))
    also = {item for kind in FIGURES for row in _told(played.monitor, kind, count)
            for item in row.items()}

    assert kinds(played.samples) == []
    assert len(heard) == len(sent)
    assert [item for row in heard for item in row.items() if item not in also] == []
    assert ("voltage_v" in played.monitor.columns) == any(row not in sent for row in heard)


def _told(monitor: Description, kind: str, count: int) -> Iterator[Row]:
    """What a monitor says of the rows with a fault of the figures throughout."""
    teller = Teller()
    for number in range(count):
        yield from Decoder(monitor).feed(voice(monitor, teller.tell(shown(number), kind)))


def test_a_frozen_monitor_is_told_and_kept(
        line: PseudoTerminal, monkeypatch: pytest.MonkeyPatch) -> None:
    """Frames that go on with figures that stand still are rows, and an event says so once."""
    monkeypatch.setattr(standstill, "_NUMBER_S", 0.3)
    played = Played(MONITORS["demo-binary"], line, Fault(BEGUN_S, "stale", 0.8), count=60,
                    beat_s=0.03)
    heard = rows(played.samples)

    assert kinds(played.samples) == ["stale"]
    assert len(heard) > 50  # what a busy machine joined was sent twice at once
    assert heard[-1] in played.said(59)
