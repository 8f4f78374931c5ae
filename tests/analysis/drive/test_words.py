"""Plain sentences: short, with units, true minus signs, nothing more precise than true."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.drive.words import Moment, gap_sentence, moment_sentence, moments_of
from analysis.one_log.sign import SignFinding
from analysis.phrases import (
    amps_size,
    clock_text,
    hours_text,
    percent_text,
    signed_amps,
    watts_size,
)
from analysis.telemetry import Telemetry
from analysis.timebase import Gap
from tests.analysis.made_logs import START, log

OUT = Moment(-23.2, 52.4, 91, mean_current_a=-23.0, mean_seconds=300.0, left_ah=72.8,
             left_is_told=True)


def test_the_sentence_of_a_moment() -> None:
    """What minus means, amps, watts, and hours at the mean of the last five minutes."""
    assert moment_sentence(OUT) == (
        "Minus means out of the pack: 23 A out, 1.2 kW; "
        "at the mean of the last five minutes 3 h 10 left.")


@pytest.mark.parametrize(("convention", "start"), [
    ("negative_is_discharge", "Minus means out of the pack: 23 A out"),
    ("positive_is_discharge", "Plus means out of the pack: 23 A out"),
    ("unsigned", "The display shows no sign; the volts say out of the pack: 23 A out"),
    ("undecided", "23 A, 1.2 kW; which way cannot be told yet."),
])
def test_the_sentence_speaks_of_the_sign_on_the_display(convention, start: str) -> None:
    """The same amps out are a minus on one display and a plus on another."""
    assert moment_sentence(OUT, SignFinding(convention)).startswith(start)


def test_charging_is_in() -> None:
    """Nothing is left to count while charging."""
    assert moment_sentence(Moment(8.24, 54.0, 60, 8.0, 300.0, 60.0)) == (
        "Plus means into the pack: 8.2 A in, 440 W.")


def test_hours_that_are_worked_out_are_about() -> None:
    """From percent and a capacity the hours are about; from less than five minutes, so far."""
    moment = Moment(-10.0, 50.0, 80, -10.0, 60.0, 50.0)

    assert moment_sentence(moment).endswith("at the mean of the time so far about 5 h 00 left.")


def test_almost_nothing_and_nothing_heard() -> None:
    """Rest and missing figures have sentences of their own."""
    assert moment_sentence(Moment(0.1, 53.1, 91)) == "Almost nothing flows: 53.1 V, 91 %."
    assert moment_sentence(Moment()) == "No amps were heard at this moment."
    assert moment_sentence(Moment(-23.0)) == "Minus means out of the pack: 23 A out."
    assert gap_sentence(Gap(5, 12, "link lost")) == "Nothing was heard for 7 s: link lost."
    assert gap_sentence(Gap(0, 5400, "silent")) == "Nothing was heard for 1 h 30: silent."


def test_moments_prepare_the_mean_and_what_is_left() -> None:
    """At each row: amps, the mean of five minutes before, amp-hours left."""
    amps = np.where(np.arange(900) < 450, -10.0, -30.0)
    moments = moments_of(log(np.arange(900.0), current_a=amps, voltage_v=np.full(900, 52.0),
                             soc_pct=np.full(900, 50.0)), capacity_ah=100)
    last = moments.at(899)

    assert (last.current_a, last.voltage_v, last.left_ah) == (-30.0, 52.0, 50.0)
    assert last.mean_current_a == pytest.approx(-30.0)
    assert last.hours_left == pytest.approx(50 / 30)
    assert moments.at(449 + 150).mean_current_a == pytest.approx(-20.0, abs=0.1)


def test_without_a_capacity_there_are_no_hours() -> None:
    """Percent of nothing known is not amp-hours."""
    telemetry = log(np.arange(600.0), current_a=np.full(600, -20.0), soc_pct=np.full(600, 50.0))

    assert np.isnan(moments_of(telemetry).at(599).hours_left)


@pytest.mark.parametrize(("text", "expected"), [
    (signed_amps(-64.4), "−64"), (signed_amps(-1.04), "−1"), (signed_amps(-0.02), "0"),
    (amps_size(-9.97), "10 A"), (amps_size(2.54), "2.5 A"),
    (watts_size(-1215), "1.2 kW"), (watts_size(14_400), "14 kW"), (watts_size(640.4), "640 W"),
    (watts_size(12.4), "12 W"), (watts_size(999), "1.0 kW"),
    (hours_text(3.1667), "3 h 10"), (hours_text(0.4), "24 min"), (hours_text(40.2), "40 h"),
    (hours_text(0.999), "1 h 00"), (percent_text(90.6), "91 %"),
    (clock_text(START), "08:15:00"), (clock_text(START, "Europe/Lisbon"), "09:15:00"),
])
def test_figures_as_people_read_them(text: str, expected: str) -> None:
    """Few digits, units always, a true minus sign."""
    assert text == expected


def resting(rest_a: float, pull_a: float) -> Telemetry:
    """Ten minutes at rest, then one of a pull, once a second."""
    amps = np.concatenate((np.full(600, rest_a), np.full(60, pull_a)))
    return Telemetry(START, np.arange(660.0),
                     {"current_a": amps, "voltage_v": np.full(660, 53.0)})


@pytest.mark.parametrize(("rest_a", "pull_a", "words"), [
    (0.35, -40.0, "0.35 A shown at rest is most likely the monitor's zero error, no load: 53.0 V."),
    (0.35, 25.0, "0.35 A shown at rest is the monitor's zero error, or something small that is "
                 "on: 53.0 V."),
    (-0.35, -40.0, "0.35 A shown at rest is the monitor's zero error, or something small that is "
                   "on: 53.0 V."),
    (0.05, -40.0, "Almost nothing flows: 53.0 V."),
])
def test_amps_at_rest_are_no_charge(rest_a: float, pull_a: float, words: str) -> None:
    """Nothing charges a pack between drives; beside a charger or amps out it may be something."""
    moments = moments_of(resting(rest_a, pull_a))

    assert moment_sentence(moments.at(300)) == words
    assert "zero error" not in moment_sentence(moments.at(630))


def test_without_a_sign_a_zero_error_stays_open() -> None:
    """A display without signs does not say which way its 0.35 A would flow."""
    moment = moments_of(resting(0.35, -40.0)).at(300)

    assert "no load" in moment_sentence(moment)
    assert "something small that is on" in moment_sentence(moment, SignFinding("unsigned"))
