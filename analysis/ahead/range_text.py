"""The answer of ``packhand range`` as a person reads it."""

from __future__ import annotations

from typing import Final

from ..estimate import Answer, Estimate, NoEstimate
from .claims import KM_PER_MI
from .range_answer import RangeAnswer
from .trust import kept_words, miss_words, off_words

CAUTION: Final = ("These are forecasts from your own drives, not a promise: turn back in time. "
                   "On the water or far from help keep a larger reserve.")


def range_text(answer: RangeAnswer, *, in_miles: bool = False) -> str:
    """The text of ``packhand range``."""
    rows = [
        ("left in the pack", _shown(answer.percent, 0)),
        ("capacity", f"{_shown(answer.capacity_ah, 1)}{_badge(answer)}"),
        ("usable energy", _shown(answer.usable_wh, 0)),
        ("consumption", _shown(_way(_rate(answer), in_miles, per=True), 0)),
        ("range", _shown(_way(answer.km.left, in_miles), 0)),
        ("time in use", _shown(answer.hours.left, 1)),
        ("drives as usual", _shown(answer.drives.left, 1)),
        ("full to empty", _shown(_way(answer.full_range_km, in_miles), 0)),
    ]
    if answer.climb_wh is not None:
        rows.insert(3, ("the climb takes", _shown(answer.climb_wh, 0)))
    lines = [answer.words if not in_miles else _words_in_miles(answer), ""]
    lines += [f"{name:<17} {text}" for name, text in rows]
    backtest = answer.km.backtest if answer.km.backtest.made else answer.hours.backtest
    held = filter(None, [kept_words(backtest), miss_words(backtest)])
    lines += ["", " ".join(held), *filter(None, [off_words(backtest)])]
    lines += _asked_lines(answer)
    if answer.claims:
        lines += ["", *(f"{judged.verdict}: {judged.words}" for judged in answer.claims)]
    return "\n".join([*lines, "", CAUTION])


def _asked_lines(answer: RangeAnswer) -> list[str]:
    """What the person should know of the what-if figures."""
    lines = []
    if isinstance(answer.climb_wh, Estimate):
        lines.append("The climb is reckoned from the mass: m g h, of which half to nine tenths of "
                     "the pack's energy goes into lifting.")
    if isinstance(answer.pace, Estimate):
        pace = answer.pace
        lines.append(f"At {answer.wish.speed_kmh:.0f} km/h each kilometre took "
                     f"{pace.value:.2f} times the usual ({pace.low:.2f} to {pace.high:.2f}) on "
                     "your own drives, with the slopes and loads that went with that speed.")
    return ["", *lines] if lines else []


def _words_in_miles(answer: RangeAnswer) -> str:
    left = answer.km.left
    if isinstance(left, NoEstimate):
        return answer.words
    miles = left.scaled(1 / KM_PER_MI, "mi")
    return (f"About {miles.value:.0f} miles left ({miles.low:.0f} to {miles.high:.0f}), "
            f"with {answer.wish.reserve_pct:.0f} % kept in reserve{answer.wish.words}.")


def _badge(answer: RangeAnswer) -> str:
    return "" if isinstance(answer.capacity_ah, NoEstimate) else f", {answer.capacity_is}"


def _rate(answer: RangeAnswer) -> Answer:
    """By energy if it is known, else by percent."""
    return answer.km.rate if isinstance(answer.consumption, NoEstimate) else answer.consumption


def _way(answer: Answer, in_miles: bool, *, per: bool = False) -> Answer:
    if isinstance(answer, NoEstimate) or not in_miles:
        return answer
    factor = KM_PER_MI if per else 1 / KM_PER_MI
    return answer.scaled(factor, answer.unit.replace("km", "mi"))


def _shown(answer: Answer, digits: int) -> str:
    if isinstance(answer, NoEstimate):
        return f"cannot tell yet: {answer.reason}; to find out, {answer.next}"
    digits = max(digits, 1) if answer.value < 10 else digits
    value, low, high = (f"{x:.{digits}f}" for x in (answer.value, answer.low, answer.high))
    return f"{value} {answer.unit} ({low} to {high}, {100 * answer.coverage:.0f} % sure)"
