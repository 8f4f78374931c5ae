"""Sentences of the analysis in the units of whoever reads them."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.estimate import NoEstimate
from dashboard.quantities import MINUS, NBSP, Units
from dashboard.wording import in_words, worded

IMPERIAL = Units("mi", "F", mass="lb", torque="lbf-ft")


@pytest.mark.parametrize(("told", "metric", "imperial"), [
    (f"at {MINUS}40 °C, brought to 20 °C, 24 K warmer",
     f"at {MINUS}40~°C, brought to 20~°C, 24~°C warmer",
     f"at {MINUS}40~°F, brought to 68~°F, 43~°F warmer"),
    ("the days after were 5 degrees colder", "the days after were 5 degrees colder",
     "the days after were 9 degrees colder"),
    ("at about 10 km/h, 100 kg and 30.5 m up", "at about 10~km/h, 100~kg and 30.5~m up",
     "at about 6~mph, 220~lb and 100.1~ft up"),
    ("100 km (90 to 110), 12 Nm, 100 Wh/km", "100~km (90 to 110), 12~Nm, 100~Wh/km",
     "62~mi (56 to 68), 9~lbf·ft, 161~Wh/mi"),
    ("10 to 20 °C; 35 mi (34 to 36)", "10 to 20~°C; 56~km (55 to 58)",
     "50 to 68~°F; 35~mi (34 to 36)"),
    ("9.81 m/s² in 12 min at 3 mV, 5 mΩ", "9.81~m/s² in 12~min at 3~mV, 5~mΩ",
     "9.81~m/s² in 12~min at 3~mV, 5~mΩ"),
])
def test_sentences_are_told_in_the_persons_units(told: str, metric: str, imperial: str) -> None:
    """t/°F = 1.8 t/°C + 32, 1 mi = 1.609344 km, 1 lb = 0.45359237 kg, 1 ft = 0.3048 m,
    1 lbf ft = 1.355818 N m (NIST SP 811, appendix B.8); a difference of 24 K is 43 °F. Ranges and
    intervals go with their figure; what is no unit of choice stays."""
    assert worded(told, Units()) == metric.replace("~", NBSP)
    assert worded(told, IMPERIAL) == imperial.replace("~", NBSP)


def test_what_somebody_typed_keeps_its_units() -> None:
    """A name such as “5 km round” is no figure of ours."""
    assert worded("5 km on “5 km round” at 20 °C", IMPERIAL).replace(NBSP, " ") == (
        "3 mi on “5 km round” at 68 °F")


def test_reasons_are_told_in_them_too() -> None:
    """Why there is no answer names speeds, too: 16 km/h is 10 mph."""
    missing = in_words(NoEstimate("too little at 16 km/h", "drive 16 km more"), IMPERIAL)

    assert missing == NoEstimate(f"too little at 10{NBSP}mph", f"drive 10{NBSP}mi more")


@settings(derandomize=True)
@given(st.text(max_size=60))
def test_any_words_survive(text: str) -> None:
    """Words of any kind pass through; told twice is told once."""
    once = worded(text, IMPERIAL)

    assert worded(once, IMPERIAL) == once
