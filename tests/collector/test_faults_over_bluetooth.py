"""The fault catalogue of a Bluetooth peripheral: unmodified bleak against a stand-in on a bus of
our own, with standard characteristics and with frames cut into notifications."""

from __future__ import annotations

import shutil
import sys

import pytest

from collector.monitors import Description, description_from_tables, load_description
from collector.simulator.faults import FLAP_S, KINDS, MORE_KINDS, Fault
from collector.simulator.stage import open_stage
from collector.sources import ble_peripheral
from tests.collector.listening import allowed_to_write, kinds, rows
from tests.collector.played_faults import BEGUN_S, FIGURES, heard_of, is_true, shown
from tests.collector.played_faults import heard_of_figure_faults as heard_wrong

pytestmark = [pytest.mark.slow, pytest.mark.skipif(
    sys.platform != "linux" or shutil.which("dbus-daemon") is None,
    reason="Bluetooth is played on Linux with dbus-daemon only")]

#: Longer than values of one moment are gathered.
BEAT_S = 0.12
COUNT = 12
#: How long each fault lasts [s], and the events it leads to.
CATALOGUE: dict[str, tuple[float, list[str]]] = {
    "unplug": (0.5, ["link lost", "link back"]),
    "off": (0.5, ["link lost", "link back"]),
    "flap": (3 * FLAP_S, ["link lost", "link back"]),
    "swap": (0.5, ["link lost", "link back", "changed"]),
    "garbage": (0.0, []), "torn": (0.0, []), "wrong-check": (0.0, []), "twice": (0.0, []),
    "stale": (0.5, []),
    "pause": (2.5, ["silent"]),
    "missing": (0.5, []), "cells": (1.0, ["odd", "odd"]), "unit": (1.0, ["changed", "changed"]),
}
#: Standard characteristics tell no cells one by one.
WITHOUT_CELLS = {"cells": []}


def quick(name: str) -> Description:
    """A built-in monitor, asked more often and called silent sooner."""
    tables = load_description(name).as_tables()
    tables |= {"transport": tables["transport"] | {"silence_s": 1.5}}
    if "ask" in tables:
        tables |= {"ask": tables["ask"] | {"every_s": 0.05}}
    return allowed_to_write(description_from_tables(tables, name))


def test_the_catalogue_is_whole() -> None:
    """Every fault a peripheral can have is in the table."""
    assert {*KINDS, *MORE_KINDS["ble"]} == {*KINDS, *MORE_KINDS["gatt"]} == (
        {*CATALOGUE, *FIGURES})


@pytest.mark.parametrize("name", ["demo-ble", "demo-ble-opaque"])
@pytest.mark.parametrize("fault", CATALOGUE)
def test_a_fault_costs_only_itself(
        name: str, fault: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """The figures go on, none is made up, and what a person has to know is told."""
    monkeypatch.setattr(ble_peripheral, "SCAN_S", 1.0)
    lasting_s, expected = CATALOGUE[fault]
    count = COUNT + round(lasting_s / BEAT_S)
    monitor = quick(name)
    if name == "demo-ble":
        expected = WITHOUT_CELLS.get(fault, expected)
    with open_stage(monitor, shown(0), link=None, tcp_port=None) as (stage, listen):
        monkeypatch.setenv(listen.partition("=")[0], listen.split("'")[1])
        samples = heard_of(stage, monitor, "packhand demo", Fault(BEGUN_S, fault, lasting_s),
                           count=count, beat_s=BEAT_S, expected=expected)
    times = max(1, kinds(samples).count("link lost")) if fault == "flap" else 1

    assert kinds(samples) == expected * times
    # Standard characteristics are read one after the other, while the figures move on.
    together = (("voltage_v",), ("current_a",)) if name == "demo-ble" else (
        ("voltage_v", "current_a"),)
    assert all(is_true(row, count, fault, names) for row in rows(samples) for names in together)
    assert len(rows(samples)) > 3


@pytest.mark.parametrize("name", ["demo-ble", "demo-ble-opaque"])
def test_wrong_figures_come_as_they_were_told(
        name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is mended, left out or called another pack."""
    monkeypatch.setattr(ble_peripheral, "SCAN_S", 1.0)
    monitor = quick(name)
    with open_stage(monitor, shown(0), link=None, tcp_port=None) as (stage, listen):
        monkeypatch.setenv(listen.partition("=")[0], listen.split("'")[1])
        samples, untold = heard_wrong(stage, monitor, "packhand demo", BEAT_S)

    assert kinds(samples) == []
    assert untold == []
