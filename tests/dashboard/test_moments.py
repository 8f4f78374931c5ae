"""What is said and read out at the pen."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.load import telemetry_from_table
from collector.logbook import Logbook
from dashboard.moments import block, cell_sentence
from dashboard.quantities import NBSP, Units
from dashboard.recording import Recording
from dashboard.store import Store
from tests.dashboard.demo_logs import META, drive_table, drive_values, newest_stem


@pytest.fixture(scope="module")
def recording() -> Recording:
    table = drive_table(900, gap_s=120.0, marks=((100, "gate"),))
    return Recording.of(telemetry_from_table(table, META.as_json(), "test"), Units(),
                        capacity_ah=105)


def test_figures_at_the_pen_are_raw(recording: Recording) -> None:
    """The read-out is the sample in force, with its digits, not a drawn column."""
    amps = drive_values(900, 1.0)["current_a"]
    told = block(recording, 100.0, 1.0, 50)["readings"]["amps"]

    shown = [float(figure.replace("\u2212", "-")) for figure, _ in told]
    assert shown == pytest.approx(amps[100:150].tolist(), abs=0.051)


def test_between_samples_the_last_one_stands(recording: Recording) -> None:
    """Half a second after a sample its figures still stand."""
    told = block(recording, 100.0, 0.5, 2)["readings"]["volts"]

    assert told[0] == told[1]


def test_a_gap_has_no_figures(recording: Recording) -> None:
    """Inside a gap every lane is silent and the sentence gives the cause."""
    told = block(recording, 450.0, 30.0, 3)

    assert all(lane == [None] * 3 for lane in told["readings"].values())
    assert told["cells_mv"] == [None] * 3
    assert all("the cable was pulled" in words for words in told["sentence"])


def test_times_are_local(recording: Recording) -> None:
    """The clock at the pen is the person's: April in Lisbon is an hour ahead of UTC."""
    assert block(recording, 0.0, 60.0, 2)["clock"] == ["09:15:00", "09:16:00"]


def test_sentences_speak_of_the_sign(recording: Recording) -> None:
    """A moment with amps out says so, in the words of the analysis."""
    told = block(recording, 0.0, 1.0, 200)
    out = [words for words, reading in zip(told["sentence"], told["readings"]["amps"], strict=True)
           if reading[1] == "out"]

    assert out
    assert all(words.startswith("Minus means out of the pack:") for words in out)


def test_past_the_end_the_last_sample_stands(recording: Recording) -> None:
    """A block that runs over the end repeats the end."""
    told = block(recording, recording.duration_s - 1, 1.0, 10)

    assert told["readings"]["volts"][1:] == [told["readings"]["volts"][1]] * 9


@pytest.mark.parametrize(("from_s", "step_s", "count"), [
    (0.0, 1.0, 0), (0.0, 1.0, 10_000), (0.0, 0.0, 5), (0.0, -1.0, 5), (0.0, float("nan"), 5),
    (float("nan"), 1.0, 5), (float("inf"), 1.0, 5),
])
def test_a_senseless_block_is_refused(recording: Recording, from_s: float, step_s: float,
                                      count: int) -> None:
    """What a browser asks for is checked before it costs anything."""
    with pytest.raises(ValueError, match="no such block"):
        block(recording, from_s, step_s, count)


@pytest.mark.parametrize(("cells", "words"), [
    ([3300, 3310, 3290, 3310], f"Cell 3 is lowest, 15{NBSP}mV under the middle; "
                               f"cell 2 is highest, 5{NBSP}mV over it."),
    ([3300, 3300], f"All 2 cells read the same, 3.300{NBSP}V."),
    ([3300, None], "No single cells are told here."),
    (None, "No single cells are told here."),
])
def test_cells_are_put_into_words(cells: list[int | None] | None, words: str) -> None:
    """Lowest and highest are named against the middle; of equals the first."""
    assert cell_sentence(cells) == words


def test_the_sentence_knows_the_packs_capacity(logbook: Logbook, store: Store) -> None:
    """Hours left are worked out with the amp-hours that the logbook states."""
    recording = store.recording(newest_stem(logbook))
    told = block(recording, 600.0, 1.0, 100)["sentence"]

    assert recording.capacity_ah == 105
    assert any("left" in words for words in told)


def test_nothing_is_written_to_shared_arrays(logbook: Logbook, store: Store) -> None:
    """What the store hands out is read-only."""
    telemetry = store.recording(newest_stem(logbook)).telemetry

    with pytest.raises(ValueError, match="read-only"):
        telemetry["voltage_v"][0] = 0.0
    assert np.isfinite(telemetry["voltage_v"]).all()
