"""Whether to rely on a forecast: does the way fit, and have such forecasts kept their word?"""

from __future__ import annotations

import math
from typing import Final

from ..estimate import Answer, NoEstimate, Verdict
from .range_ahead import COVERAGE, Backtest

#: Fewer predictions that came due prove nothing. Chosen here.
MADE_MIN: Final = 10
#: Forecasts that held less often than this are not to be relied on: of 20 with a chance of 0.9
#: each, fewer than 16 hold in one case of 23 (binomial distribution).
HELD_MIN: Final = 0.8
#: So many of the newest stretches in a row, off to one side without their oddest day, are told.
#: On five invented seasons never more than 2 were while nothing was wrong; a brake that dragged
#: for three days made 5 to 8, told on its third day or fourth; a new controller 10 to 12.
NEWEST_MIN: Final = 3


def reaches(left: Answer, wanted: float) -> Verdict:
    """Whether what is left takes one so far; ``wanted`` in the unit of ``left``."""
    if isinstance(left, NoEstimate):
        return "cannot tell yet"
    if left.low >= wanted:
        return "yes"
    return "no" if left.high < wanted else "cannot tell yet"


def kept_word(backtest: Backtest) -> Verdict:
    """Whether predictions on past drives fell within their interval as often as was stated."""
    if len(backtest.made) < MADE_MIN or off_lately(backtest):
        return "cannot tell yet"
    return "yes" if backtest.coverage >= HELD_MIN else "no"


def kept_words(backtest: Backtest) -> str:
    """How often such predictions held so far, in one sentence."""
    count = len(backtest.made)
    if not count:
        return "No past drive could be foretold from those before it yet."
    held = sum(made.is_hit for made in backtest.made)
    return (f"Foretold from the drives before it, {held} of {count} stretches came out within "
            f"the interval; {100 * COVERAGE:.0f} % are meant to.")


def miss_words(backtest: Backtest) -> str:
    """How near they came, as a driver has it; empty where none came due."""
    if not backtest.made:
        return ""
    pct = max(1, math.ceil(backtest.median_abs_error_pct))
    return f"Half of them came within {pct} % of what was foretold."


def off_lately(backtest: Backtest) -> int:
    """How many of the newest stretches took more than foretold, less if negative; 0 if too few to
    tell."""
    newest = backtest.newest_misses
    return newest if abs(newest) >= NEWEST_MIN else 0


def off_words(backtest: Backtest) -> str:
    """That something has changed, in one sentence; empty where it has not."""
    newest = off_lately(backtest)
    if not newest:
        return ""
    side = "more" if newest > 0 else "less"
    return (f"The last {abs(newest)} stretches, which overlap, took {side} than foretold, and no "
            "single day makes it so: something has changed.")
