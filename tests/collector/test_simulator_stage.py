"""The faults of played units and peripherals, as a person names them, and what becomes of them."""

from __future__ import annotations

import os
import shutil
import sys
import threading
from pathlib import Path

import pytest

import packhand
from collector.errors import DescriptionError, PackhandError
from collector.frames.fields import Values
from collector.logbook import Logbook
from collector.logfile import read_log
from collector.monitors import description_from_tables, load_description
from collector.simulator.faults import KINDS, MORE_KINDS, Fault, kinds_for, script
from collector.simulator.stage import open_stage, play
from tests.collector.listening import heard_until, rows

pytestmark = pytest.mark.skipif(os.name == "nt", reason="needs pseudo-terminals")

needs_bus = pytest.mark.skipif(
    sys.platform != "linux" or shutil.which("dbus-daemon") is None,
    reason="Bluetooth is played on Linux with dbus-daemon only")

SHOWN: dict[str, float | str] = {
    "voltage_v": 51.2, "current_a": -35.4, "soc_pct": 87.0, "state": "discharging",
    "fault": "none"} | {f"cell_{n:02d}_v": 3.2 for n in range(1, 17)}


class Notebook:
    """A stage that writes down what is asked of it."""

    def __init__(self) -> None:
        self.deeds: list[str] = []

    def show(self, values: Values) -> None:
        self.deeds.append(f"show {values['soc_pct']}")

    def begin(self, fault: str) -> None:
        self.deeds.append(f"begin {fault}")

    def end(self, fault: str) -> None:
        self.deeds.append(f"end {fault}")


def test_faults_begin_and_end_between_rows() -> None:
    """A lasting fault ends before the next begins; stale figures are not renewed."""
    stage = Notebook()
    faults = iter([Fault(0.0, "torn", 0.0), Fault(0.01, "stale", 0.05), Fault(0.02, "pause", 9.0)])
    shown = play(stage, ({"soc_pct": n} for n in range(12)), 0.02, threading.Event(), faults)

    told = [deed for deed in stage.deeds if not deed.startswith("show")]
    assert told == ["begin torn", "begin stale", "end stale", "begin pause"]
    assert 8 <= shown < 12
    assert shown == len(stage.deeds) - len(told)


def test_a_stop_is_obeyed_while_waiting() -> None:
    """Nobody waits for the next row."""
    stop = threading.Event()
    stop.set()

    assert play(Notebook(), iter([{"soc_pct": 1}]), 60.0, stop, iter(())) == 0


@pytest.mark.parametrize("name", ["demo-modbus", "demo-ble", "demo-text"])
def test_kinds_are_those_of_the_transport(name: str) -> None:
    """What cannot happen to a monitor is no kind of its faults."""
    monitor = load_description(name)
    more = MORE_KINDS.get(monitor.transport.kind, {})

    kinds_here = kinds_for(monitor.transport.kind)

    assert set(kinds_here) == {*KINDS, *more}
    for kind in {"late", "busy", "off", "burst"} - set(more):
        with pytest.raises(PackhandError, match=f"no kind '{kind}'"):
            script([kind], 1, kinds_here)


def test_a_unit_of_ones_own_is_played_through_its_description(tmp_path: Path) -> None:
    """Any map with fixed places can be played, if the flatbed has its figures."""
    monitor = description_from_tables({
        "name": "mine", "transport": {"kind": "modbus"}, "modbus": {"unit": 3, "every_s": 0.1},
        "field": [{"name": "voltage_v", "register": 7, "scale": 0.01}]}, "mine")
    with open_stage(monitor, SHOWN, link=tmp_path / "port", tcp_port=None) as (_, listen):
        samples = heard_until(monitor, listen.rpartition(" ")[2], lambda heard: bool(rows(heard)))

    assert rows(samples) == [{"voltage_v": 51.2}]


def test_a_unit_that_the_flatbed_cannot_play_is_told(tmp_path: Path) -> None:
    """A description with more cells than the flatbed has."""
    monitor = description_from_tables({
        "name": "big", "transport": {"kind": "modbus"},
        "field": [{"name": "cell_{n}_v", "register": 7, "count": 24, "scale": 0.001}]}, "big")
    with (pytest.raises(DescriptionError, match="big: the flatbed cannot speak so"),
          open_stage(monitor, SHOWN, link=tmp_path / "port", tcp_port=None)):
        pass


def only_log(logbook: Path) -> list[dict[str, object]]:
    """The rows of the one log of a logbook."""
    entry, = Logbook(logbook).logs()
    return read_log(entry.path).table.to_pylist()


def test_a_sunspec_battery_is_recorded_as_a_person_does_it(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The unit on the network, through ``packhand record``, into a sealed log."""
    monitor = load_description("sunspec-battery")
    with open_stage(monitor, SHOWN, link=None, tcp_port=0) as (_, listen):
        status = packhand.main(["record", *listen.split()[2:], "--seconds", "2.5",
                                "--logbook", str(tmp_path)])

    assert status == 0
    assert "samples, no gaps" in capsys.readouterr().out
    assert {row["current_a"] for row in only_log(tmp_path)} == {35.4}


@needs_bus
def test_leave_to_write_is_asked_for_as_a_person_meets_it(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
        capsys: pytest.CaptureFixture[str]) -> None:
    """Without leave one line and nothing written; with leave a log, and later without asking."""
    monitor = load_description("demo-ble-opaque")
    words = ["record", "demo-ble-opaque", "--port", "packhand demo", "--logbook", str(tmp_path),
             "--seconds", "3"]
    with open_stage(monitor, SHOWN, link=None, tcp_port=None) as (_, listen):
        monkeypatch.setenv(listen.partition("=")[0], listen.split("'")[1])
        refused = packhand.main(words)
        told = capsys.readouterr().err
        allowed = packhand.main([*words, "--allow-writes"])
        again = packhand.main(words)

    assert (refused, allowed, again) == (1, 0, 0)
    assert "answers only when 51 0c 03 is written to it" in told
    assert "--allow-writes" in told
