"""Numbers of a command line."""

from __future__ import annotations

import argparse
from collections.abc import Callable

import pytest

from collector.commands.numbers import above_zero, count, day, finite, percent, port, whole


@pytest.mark.parametrize(("kind", "text", "value"), [
    (finite, "-23", -23.0), (above_zero, "0.5", 0.5), (percent, "0", 0.0), (percent, "100", 100.0),
    (percent, "91%", 91.0), (count, "1", 1), (whole, "-3", -3), (port, "0", 0),
    (port, "65535", 65535)])
def test_what_can_be_meant_is_taken(kind: Callable[[str], float], text: str, value: float) -> None:
    """The bounds of a percent belong to it; zero is not above zero."""
    assert kind(text) == value


@pytest.mark.parametrize(("kind", "text", "meant"), [
    (finite, "nan", "a number"), (finite, "x", "a number"), (finite, "inf", "a number"),
    (above_zero, "0", "a number above 0"), (above_zero, "-5", "a number above 0"),
    (percent, "100.01", "a percent from 0 to 100"), (percent, "-1", "a percent from 0 to 100"),
    (count, "0", "a whole number from 1"), (count, "1.5", "a whole number from 1"),
    (whole, "x", "a whole number"), (whole, "1.5", "a whole number"),
    (port, "65536", "a port from 0 to 65535"), (day, "hello", "a day; write 2026-06-12")])
def test_what_cannot_be_meant_is_told(kind: Callable[[str], object], text: str,
                                      meant: str) -> None:
    """What was typed and what is taken stand in one line."""
    with pytest.raises(argparse.ArgumentTypeError, match=f"'{text}' is not {meant}$"):
        kind(text)
