"""Numbers and days on a command line, held to what they can mean: argparse tells what is wrong."""

from __future__ import annotations

import argparse
import math
from datetime import date
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
    return _whole(text, "a whole number from 1", 1.0, math.inf)


def whole(text: str) -> int:
    """Any whole number."""
    return _whole(text, "a whole number", -math.inf, math.inf)


def port(text: str) -> int:
    """A network port of this computer; 0 for any free one."""
    return _whole(text, "a port from 0 to 65535", 0.0, 65535.0)


def day(text: str) -> date:
    """A day such as 2026-06-12."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not a day; write 2026-06-12") from None


def _whole(text: str, meant: str, low: float, high: float) -> int:
    value = _number(text, meant, low, high)
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
