"""Numbers on a command line, held to what they can mean: argparse tells what is wrong with one."""

from __future__ import annotations

import argparse
import math
from typing import Final

#: The least number above 0.
LEAST: Final = math.ulp(0.0)


def finite(text: str) -> float:
    """Any number but NaN and infinity."""
    return _number(text, "a number", -math.inf, math.inf)


def above_zero(text: str) -> float:
    """A number above 0."""
    return _number(text, "a number above 0", LEAST, math.inf)


def percent(text: str) -> float:
    """0 to 100; a percent sign may follow."""
    return _number(text.removesuffix("%"), "a percent from 0 to 100", 0.0, 100.0)


def count(text: str) -> int:
    """A whole number from 1."""
    value = _number(text, meant := "a whole number from 1", 1.0, math.inf)
    if not value.is_integer():
        raise argparse.ArgumentTypeError(f"{text!r} is not {meant}")
    return int(value)


def _number(text: str, meant: str, low: float, high: float) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not (math.isfinite(value) and low <= value <= high):
        raise argparse.ArgumentTypeError(f"{text!r} is not {meant}")
    return value
