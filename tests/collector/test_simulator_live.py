"""The endless day, and the voices that tell it."""

import itertools

import numpy as np
import pytest

from collector.errors import DescriptionError
from collector.frames.decoder import Decoder
from collector.monitors import Description, description_from_tables, load_description
from collector.simulator.live import live_day
from collector.simulator.voices import period_s, voice


@pytest.mark.parametrize("name", ["demo-text", "demo-binary"])
def test_what_is_said_decodes_to_what_is_meant(name: str) -> None:
    """Each row comes back from the bytes, to the monitor's own resolution."""
    monitor = load_description(name)
    for row in itertools.islice(live_day(1), 0, 600, 7):
        heard = Decoder(monitor).feed(voice(monitor, row))
        assert len(heard) == 1
        assert set(heard[0]) == set(row) & set(monitor.columns)
        for column, value in heard[0].items():
            assert value == (row[column] if isinstance(value, str)
                             else pytest.approx(row[column], abs=0.051 if column == "time_left_h"
                                                else 1e-6))


def test_it_is_the_same_day_for_a_seed() -> None:
    """Nothing but the seed and the rate decides."""
    first, again, other = (list(itertools.islice(live_day(seed), 300)) for seed in (1, 1, 2))

    assert first == again != other


def test_it_stands_then_drives_off_at_once() -> None:
    """Within twenty seconds the volts have answered to the amps, so that the sign shows."""
    rows = list(itertools.islice(live_day(1, 0.1), 200))
    amps = np.array([row["current_a"] for row in rows], dtype=float)
    volts = np.array([row["voltage_v"] for row in rows], dtype=float)

    assert (amps[:50] == 0).all()
    assert amps.min() < -15
    assert volts[np.argmin(amps)] < volts[0] - 0.2


def test_it_never_ends_and_never_runs_empty() -> None:
    """A day of rows: it goes to the charger when it is low."""
    rows = list(itertools.islice(live_day(1), 86_400))
    percent = [float(row["soc_pct"]) for row in rows]

    assert min(percent) > 10
    assert max(float(row["current_a"]) for row in rows) == pytest.approx(25, abs=0.3)
    assert max(percent) == 100
    assert min(float(row["cell_11_v"]) for row in rows) > 2.8


def test_ten_rows_a_second_are_the_same_drive() -> None:
    """Finer steps take the same charge for the same minutes."""
    coarse = [float(r["current_a"]) for r in itertools.islice(live_day(1), 340)]
    fine = [float(r["current_a"]) for r in itertools.islice(live_day(1, 0.1), 3400)]

    assert np.mean(fine) == pytest.approx(np.mean(coarse), rel=0.08)


def test_the_running_number_runs() -> None:
    """One more each row."""
    numbers = [float(row["sequence"]) for row in itertools.islice(live_day(1), 2000)]

    assert np.diff(numbers).tolist() == [1.0] * 1999


def test_period_comes_from_the_description() -> None:
    """Ten frames a second of one, one of the other."""
    assert period_s(load_description("demo-binary")) == 0.1
    assert period_s(load_description("demo-text")) == 1.0


def without_missing(description: Description) -> Description:
    """A monitor with two temperatures more than the flatbed has, and no word for missing."""
    tables = description.as_tables()
    fields = [dict(field) for field in tables["field"]]
    temperature = next(field for field in fields if field["name"] == "temp_{n}_c")
    temperature["count"] = 4
    temperature.pop("missing")
    return description_from_tables({**tables, "field": fields, "example": []}, "other")


def test_a_monitor_the_flatbed_cannot_speak_as_is_one_line() -> None:
    """What cannot be said is an error that names the monitor."""
    other = without_missing(load_description("demo-binary"))

    with pytest.raises(DescriptionError, match="cannot speak"):
        voice(other, next(live_day(1)))
