"""The whole way from bytes and typed figures to a description, and to an honest "cannot tell"."""

import gzip
import struct
import tomllib
from collections.abc import Sequence
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from crccheck.crc import Crc16Modbus

from collector.frames.decoder import Decoder
from collector.learner import Lesson, Reading, learn
from collector.learner.asking import ask_for
from collector.learner.description import description_tables, share_read_back, toml_text
from collector.monitors import description_from_tables
from collector.rawfile import Chunk
from tests.benchmarks.bench_learner import outcome
from tests.benchmarks.invented_protocols import invent

DRIVE = Path(__file__).parents[1] / "data" / "real_drives" / "drive_A13.csv.gz"
#: Rows of the drive: starting, driving, driving, braking, standing later on.
LOOKS = (60, 1500, 2900, 4400, 5600, 6800)


def real_drive() -> np.ndarray:
    """Time, volts, amps, temperature, percent of a recorded drive (data/real_drives/SOURCE.md)."""
    with gzip.open(DRIVE, "rt", encoding="utf-8") as file:
        next(file)
        rows = [line.split(";") for line in file]
    return np.array([[float(row[k]) for k in (0, 3, 4, 5, 6)] for row in rows])


def heard(figures: np.ndarray) -> list[Chunk]:
    """The drive as an invented monitor would send it five times a second, check by crccheck."""
    chunks = []
    for n, (time_s, volts, amps, degrees, percent) in enumerate(figures[::2]):
        data = b"\x6B\xD4" + struct.pack(
            "<BHBhB", n % 256, round(volts * 100), round(degrees) + 40, round(amps * 50),
            round(percent * 2)) + bytes([17, 4, n * 37 % 256])
        data += Crc16Modbus.calc(data).to_bytes(2, "little")
        chunks.append(Chunk(round(1000 * time_s), time_s, data))
    return chunks


def typed(figures: np.ndarray, looks: Sequence[int]) -> list[Reading]:
    """What a display shows at these rows, typed 1.2 s later."""
    return [Reading.from_texts(round(1000 * figures[row, 0]) + 1200, {
        "voltage_v": f"{figures[row, 1]:.1f}", "current_a": f"{figures[row, 2]:.1f}",
        "temp_1_c": f"{figures[row, 3]:.0f}", "soc_pct": f"{figures[row, 4]:.0f}"})
        for row in looks]


def test_a_real_drive_in_an_invented_frame() -> None:
    """Signals nobody here made: volts, amps and percent of a recorded drive are found.

    Steinstraeter, Buberger, Trifonov, "Battery and Heating Data in Real Driving Cycles", IEEE
    DataPort, 2020, doi 10.21227/6jr9-5235, CC BY 4.0.
    """
    figures = real_drive()
    found = learn(heard(figures), typed(figures, LOOKS)).found

    assert _wording(found["voltage_v"]) == ("3..4", "unsigned, little", 0.01)
    assert _wording(found["current_a"]) == ("6..7", "signed, little", 0.02)
    assert _wording(found["soc_pct"]) == ("8", "unsigned", 0.5)


def _wording(candidate: object) -> tuple[str, str, float]:
    return (candidate.spot.place, candidate.spot.type, candidate.scale)  # type: ignore[attr-defined]


def test_the_sign_of_a_real_drive_comes_with_the_description() -> None:
    """Volts fall when these amps go down: minus means out of the pack."""
    figures = real_drive()
    top = description_tables(learn(heard(figures), typed(figures, LOOKS)), "car")

    assert top is not None
    assert top["sign"] == {"current_a": "negative_is_discharge"}


#: Seeds of the benchmark's generator, one of each framing.
SEEDS = {"start": 5, "delimited": 11, "length": 10, "silence": 4, "cobs": 17, "slip": 12,
         "comma": 42, "key=value": 21, "json": 22, "kinds of one length": 91,
         "kinds, two-byte length": 13, "kinds in packets": 127}


@pytest.mark.parametrize("seed", SEEDS.values(), ids=SEEDS)
def test_what_is_learned_reads_the_capture_again(seed: int) -> None:
    """The description loads, finds the same frames and says the same figures."""
    invented = invent(seed)
    lesson = learn(invented.chunks, invented.readings)
    top = description_tables(lesson, "learned")
    assert top is not None
    description = description_from_tables(tomllib.loads(toml_text(top)), "learned.toml")

    three = {"voltage_v", "current_a", "soc_pct"}
    assert three <= set(lesson.found)
    assert {"strict", "equal"} >= {outcome(name, lesson, invented) for name in three}
    assert 0.98 < share_read_back(description, invented.chunks, lesson) <= 1.01
    decoder = Decoder(description)
    rows = [row for chunk in invented.chunks for row in decoder.feed(chunk.data)]
    volts = lesson.found["voltage_v"].values
    assert all(any(np.isclose(float(row["voltage_v"]), volts, atol=1e-9))
               for row in rows[:20] if "voltage_v" in row)


#: Seeds whose amps are a size with a flag.
FLAGGED = (23, 68)


@pytest.mark.parametrize("seed", FLAGGED)
def test_unsigned_amps_take_their_direction_from_a_flag(seed: int) -> None:
    """The description reads minus for amps out of the pack, whatever the display shows."""
    invented = invent(seed)
    lesson = learn(invented.chunks, invented.readings)
    top = description_tables(lesson, "learned")
    assert top is not None
    amps = lesson.found["current_a"]
    description = description_from_tables(tomllib.loads(toml_text(top)), "learned.toml")
    decoder = Decoder(description)
    rows = [row for chunk in invented.chunks for row in decoder.feed(chunk.data)]
    said = np.array([float(row["current_a"]) for row in rows])

    assert amps.flag is not None
    assert amps.flag.at == invented.truth["current_a"].flag_at
    assert top["sign"] == {"current_a": "negative_is_discharge"}
    # Invented vehicles drive more than they charge.
    assert np.median(said) < 0 < said.max()


@cache
def parked(lesson_of: int = 12) -> tuple[Lesson, list[Reading]]:
    """Only the first minute is heard, with readings at rest."""
    invented = invent(lesson_of)
    first_s = invented.chunks[0].monotonic_s
    chunks = [chunk for chunk in invented.chunks if chunk.monotonic_s < first_s + 25]
    truth, times_s = invented.truth, invented.times_s
    readings = [Reading.from_texts(chunks[0].time_ms + 1000 * second, {
        name: f"{truth[name].values[np.searchsorted(times_s, second - 1)]:.{digits}f}"
        for name, digits in (("voltage_v", 1), ("current_a", 1), ("soc_pct", 0))})
        for second in (6, 10, 15, 20)]
    return learn(chunks, readings), readings


def test_parked_readings_settle_no_amps() -> None:
    """Eight looks at rest are worth less than three in different states: nothing is claimed."""
    lesson, _ = parked()

    assert "current_a" not in lesson.found
    assert "soc_pct" not in lesson.found


def test_the_next_thing_to_do_is_another_state() -> None:
    """After readings at rest the pedal is asked for."""
    lesson, readings = parked()

    assert "press the pedal" in ask_for(lesson, "current_a", readings)


def test_a_constant_byte_is_never_a_match() -> None:
    """Bytes 17 and 4 stand in every frame; typed as temperature they are no answer."""
    figures = real_drive()
    readings = [Reading(r.time_ms, {**r.values, "temp_1_c": 17.0}, {**r.steps, "temp_1_c": 1.0})
                for r in typed(figures, LOOKS)]

    assert "temp_1_c" not in learn(heard(figures), readings).found


def warming() -> np.ndarray:
    """The drive, its pack six degrees warmer at the end, as amps squared make it."""
    figures = real_drive()
    heat = np.cumsum(figures[:, 2] ** 2)
    figures[:, 3] = 18 + 6 * heat / heat[-1]
    return figures


def test_a_typed_temperature_is_found_above_its_zero_point() -> None:
    """Whole degrees above 40 below zero: one byte, with room for frost, passes the exam."""
    figures = warming()
    lesson = learn(heard(figures), typed(figures, LOOKS))
    degrees = lesson.found["temp_1_c"]

    assert (*_wording(degrees), degrees.offset) == ("5", "unsigned", 1.0, -40.0)
    assert "temp_1_c" in lesson.examined
    assert lesson.verdicts["temp_1_c"].log10_chance < -1


@pytest.mark.parametrize("shown", [(31, 31, 30, 30, 29, 28), (18, 19, 21, 21, 22, 26)])
def test_a_temperature_that_is_not_sent_is_claimed_nowhere(shown: Sequence[int]) -> None:
    """A display with a sensor of its own: what no byte says is left open."""
    figures = warming()
    readings = [Reading(r.time_ms, {**r.values, "temp_1_c": float(c)}, r.steps)
                for r, c in zip(typed(figures, LOOKS), shown, strict=True)]

    assert "temp_1_c" not in learn(heard(figures), readings).found


@pytest.mark.parametrize(("column", "wrong", "steps"), [
    ("voltage_v", 123.4, 0.1), ("current_a", 44.4, 0.1), ("soc_pct", 19.0, 1.0)])
def test_a_mistyped_figure_is_named(column: str, wrong: float, steps: float) -> None:
    """One wrong reading makes the tool doubt that reading, not guess."""
    figures = real_drive()
    readings = typed(figures, LOOKS)
    was = readings[2].values[column]
    readings[2] = Reading(readings[2].time_ms, {**readings[2].values, column: wrong},
                          {**readings[2].steps, column: steps})
    lesson = learn(heard(figures), readings)
    misfit = lesson.misfits[column]

    assert column not in lesson.found
    assert misfit.number == 3
    assert misfit.low - steps <= was <= misfit.high + steps
    assert f"reading 3 says {wrong:g}" in ask_for(lesson, column, readings)


def test_two_mistyped_figures_are_asked_about() -> None:
    """Nobody can say which of several readings is wrong."""
    figures = real_drive()
    readings = typed(figures, LOOKS)
    for n, wrong in ((1, 210.3), (3, 123.4)):
        readings[n] = Reading(readings[n].time_ms, {**readings[n].values, "voltage_v": wrong},
                              readings[n].steps)
    lesson = learn(heard(figures), readings)

    assert not lesson.misfits
    assert "voltage_v" not in lesson.found
    assert "mistyped" in ask_for(lesson, "voltage_v", readings)


def test_a_reading_is_kept_back_as_an_exam() -> None:
    """With four readings or more the answer has to foretell one of them."""
    figures = real_drive()

    assert {"voltage_v", "current_a"} <= learn(heard(figures), typed(figures, LOOKS)).examined
    assert not learn(heard(figures), typed(figures, LOOKS[:3])).examined


def test_noise_teaches_nothing() -> None:
    """Random bytes give no field at all."""
    rng = np.random.default_rng(2)
    chunks = [Chunk(1000 * n, float(n), rng.integers(0, 256, 30, dtype=np.uint8).tobytes())
              for n in range(600)]
    readings = [Reading.from_texts(1000 * n, {"voltage_v": "52.1", "current_a": "-3.5"})
                for n in (100, 200, 300, 400)]

    assert not learn(chunks, readings).found


def test_readings_before_anything_was_heard() -> None:
    """An empty capture is no error; it says to keep listening."""
    reading = Reading.from_texts(0, {"voltage_v": "52.1"})
    lesson = learn([], [reading])

    assert lesson.cut is None
    assert "keep listening" in ask_for(lesson, "voltage_v", [reading])
