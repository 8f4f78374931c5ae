"""Guided drives on the page: the prompt that is due, and what a pull did."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from analysis.telemetry import Telemetry
from collector.logbook import Logbook
from dashboard.guides import SPEECHES
from dashboard.label_shelf import WHEELS
from dashboard.live import LiveView
from dashboard.pages import guide
from dashboard.quantities import Units
from dashboard.recording import Recording
from dashboard.shell import Place
from dashboard.store import Store
from tests.dashboard.test_pages import text_of

GUIDES = SPEECHES[WHEELS].guides()
START = datetime(2026, 4, 2, 8, 15, tzinfo=UTC)
TIME_S = np.arange(0.0, 60.0, 0.5)


def view(until_s: float) -> LiveView:
    """A stand of 10 s, a pull of 10 s, a stand; heard until a moment."""
    amps = np.where((TIME_S >= 10) & (TIME_S < 20), -64.0, -1.0)
    volts = np.where(amps < -60, 52.2, 53.1)
    heard = until_s >= TIME_S
    log = Telemetry(START, TIME_S[heard], {"current_a": amps[heard], "voltage_v": volts[heard]})
    return LiveView("recording", recording=Recording.of(log, Units()))


def shown(until_s: float) -> str:
    return text_of(guide.body(view(until_s), GUIDES["sign"], START.timestamp()))


def test_the_prompt_that_is_due() -> None:
    """One prompt at a time, the next as soon as the step was driven."""
    assert '"className": "prompt"' in shown(4)
    due = [shown(until_s).split('"className": "prompt"')[0] for until_s in (4, 9, 14, 40)]

    assert "Stand still" in due[0]
    assert "Press the pedal" in due[1]
    assert "Stop, foot off" in due[2]
    assert "Done." in due[3]


def test_a_pull_tells_its_sag() -> None:
    """0.9 V over 63 A is 14 milliohm (Ohm's law), with its why."""
    told = shown(40)

    assert "0.90\N{NO-BREAK SPACE}V sag" in told
    assert "about 14\N{NO-BREAK SPACE}mΩ" in told
    assert "Ohm's law" in told


def test_nothing_recorded_nothing_seen() -> None:
    """Without a recording the page says what to do."""
    told = text_of(guide.body(replace(view(4), recording=None, state="nothing"),
                              GUIDES["test"], 0.0))

    assert "Start a recording" in told


@pytest.mark.parametrize(("kind", "own", "foreign"), [
    ("wheels", "pedal", ("throttle", "water", "load")),
    ("boat", "throttle", ("pedal", "road", "drive", "tree", "park")),
    ("house", "kettle", ("pedal", "road", "drive", "throttle", "water", "park"))])
def test_each_kind_of_vehicle_is_spoken_to_in_its_words(
        tmp_path: Path, kind: str, own: str, foreign: tuple[str, ...]) -> None:
    """No pedal on a boat, no water on a road; every drive has its caution."""
    book = Logbook.create(tmp_path / "book")
    (book.root / "logbook.toml").write_text(f'[[vehicle]]\nkind = "{kind}"\n')
    store = Store(book)
    told = " ".join([text_of(guide.layout(store, Place(query={"guide": name})))
                     for name in ("", "sign", "test")]).lower().replace(
                         '"guided drive"', "")
    told += " ".join(prompt.words for each in SPEECHES[kind].guides().values()
                     for prompt in each.prompts).lower()

    assert own in told
    assert [word for word in foreign if re.search(rf"\b{word}\b", told)] == []
    assert told.count("caution. ") == 2
