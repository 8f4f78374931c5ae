"""What was typed: figures, their last digit, and mistakes told by line."""

import pytest

from collector.errors import ForeignFileError
from collector.learner import Reading, parse_readings


def test_the_step_is_the_last_digit_shown() -> None:
    """52.10 was shown to a hundredth, -23 to whole amps."""
    reading = Reading.from_texts(0, {"voltage_v": "52.10", "current_a": "-23"})

    assert reading.values == {"voltage_v": 52.1, "current_a": -23.0}
    assert {"voltage_v": pytest.approx(0.01), "current_a": 1.0} == reading.steps


def test_decimal_comma_and_true_minus_are_read() -> None:
    """Figures are taken as people type them."""
    reading = Reading.from_texts(0, {"voltage_v": "52,1", "current_a": "−3.5"})

    assert reading.values == {"voltage_v": 52.1, "current_a": -3.5}


def test_degrees_fahrenheit_are_taken() -> None:
    """68 °F is 20 °C, 32 °F is 0 °C (the scale's definition); other figures stay as typed."""
    warm = Reading.from_texts(0, {"temp_1_c": "68", "voltage_v": "52.1"}, is_fahrenheit=True)
    frost = Reading.from_texts(0, {"temp_1_c": "32.0"}, is_fahrenheit=True)

    assert warm.values == {"temp_1_c": pytest.approx(20.0), "voltage_v": 52.1}
    assert warm.steps["temp_1_c"] == pytest.approx(1 / 1.8)
    assert frost.values["temp_1_c"] == pytest.approx(0.0)


def test_an_empty_figure_is_missing_not_zero() -> None:
    """A row may leave figures out."""
    lines = ["time,voltage_v,current_a\n", "2026-04-02T08:00:00Z,52.1,\n"]

    assert parse_readings(lines, "x")[0].values == {"voltage_v": 52.1}


def test_readings_come_in_order_of_time() -> None:
    """A late entry is put where it belongs."""
    lines = ["time,soc_pct\n", "2026-04-02T08:01:00Z,80\n", "2026-04-02T08:00:00Z,81\n"]

    assert [reading.values["soc_pct"] for reading in parse_readings(lines, "x")] == [81.0, 80.0]


@pytest.mark.parametrize(("lines", "words"), [
    (["voltage_v\n", "52.1\n"], "need 'time'"),
    (["time,speed_m_s\n"], "columns time, speed_m_s"),
    (["time,soc_pct\n", "2026-04-02T08:00:00Z,eighty\n"], "reading 1: soc_pct = 'eighty'"),
    (["time,soc_pct\n", "yesterday,80\n"], "reading 1"),
    ([], "columns none"),
])
def test_a_mistake_is_told_by_file_and_line(lines: list[str], words: str) -> None:
    """One line says where and what."""
    with pytest.raises(ForeignFileError, match=words):
        parse_readings(lines, "display.csv")
