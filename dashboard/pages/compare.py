"""Compare: did a change help? Days before and after it, the same ways driven, in pairs."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from datetime import date
from typing import Final

from dash import Dash, dcc, html
from dash.development.base_component import Component

from analysis.ahead.compare import Comparison, Side
from analysis.ahead.speed_bands import SpeedBand
from analysis.asking.book import Asked, Book
from analysis.asking.changes import AcrossChange, NotedChange, ask_across
from analysis.asking.questions import Compared
from analysis.estimate import Answer, Estimate, Verdict

from ..chooser import Chooser, Field
from ..elements import (
    Fact,
    Given,
    Why,
    answer_fact,
    aside,
    facts,
    picture,
    section,
    sentence,
    table,
    teach,
    title,
    verdict,
)
from ..figures.before_after import Pace, by_speed, slopes
from ..figures.ranges import Ranged, Reference, height_px, ranges
from ..lengths import KM_M, length_m, per_way, speed_unit
from ..markup import aria
from ..quantities import NBSP, Units, number, shown
from ..question_page import Question
from ..recency import date_words
from ..shell import Place
from ..store import Store
from ..wording import capital, ending_in, worded

PATH: Final = "/compare"
TITLE: Final = "Compare"
GROUP: Final = "Ahead"

CHOOSER: Final = Chooser("compare", (Field("split", "Day of the change", "date"),),
                         button="Compare")
TEACH: Final = ("Type the day on which something was changed: a control, tyres, a propeller, a "
                "habit of driving. That day and later count as after it.")
#: Chances below this are told as less than it.
CHANCE_TOLD: Final = 0.001
RESISTOR: Final = ("Only a stepped resistor control burns anything in coils; the share is at "
                   "least what is told, read from the slower driving at the same amps. Slopes and "
                   "loads are in these figures: the paired days above are the fair comparison.")


def ask(book: Book, place: Place) -> Asked[AcrossChange]:
    return ask_across(book, day_of(place))


def day_of(place: Place) -> date | None:
    """The day that was chosen; ``None`` if none was, or it is no day."""
    try:
        return date.fromisoformat(place.query.get("split", "").strip())
    except ValueError:
        return None


def draw(found: AcrossChange, store: Store, place: Place) -> list[Component]:
    choice = section("Which change", _noted(found.noted, day_of(place)), CHOOSER.block(place))
    if found.compared is None:
        return [teach(TEACH), choice]
    change, units = found.compared.change, store.units
    return [part for part in (
        sentence(worded(change.words, units)),
        *(aside(worded(words, units)) for words in (change.paired_words, found.limits_words)
          if words),
        facts(_facts(change, units)),
        _pairs(change, units),
        section("What else may have made the difference",
                *(aside(f"{capital(worded(each, units))}.") for each in change.confounders))
        if change.confounders else None,
        _speeds(found.compared, units),
        choice,
        verdict(*ending_in(ending(change, is_over=found.later is not None), units)),
    ) if part]


QUESTION: Final = Question("compare", ask, draw, ("split",))


def layout(store: Store, place: Place) -> Component:
    return html.Div([title(TITLE), QUESTION.block(store, place)], className="page")


def register(app: Dash, store: Store) -> None:
    QUESTION.register(app, store)
    CHOOSER.register(app)


def ending(change: Comparison, *, is_over: bool = False) -> tuple[Verdict, str, str]:
    """Whether it helped, how sure, and how many pairs would decide; ``is_over``: a later change has
    ended the days after it."""
    if isinstance(change.change_pct, Estimate) and change.verdict != "cannot tell yet":
        words = "less" if change.verdict == "yes" else "more"
        return change.verdict, (
            f"It takes {words} than before, 95{NBSP}% sure; if nothing had changed, "
            f"{_chance(change.chance)} of such comparisons would differ as much."), (
            "note load and wind around your drives, so that they can be held against it"
            if math.isnan(change.before.load_kg + change.after.load_kg) else "")
    if is_over:
        return "cannot tell yet", "The pairs do not decide it, and the days after it are over.", (
            "if it can be changed back, drive old, new, new, old on like days; else the next time "
            "change one thing only and wait")
    if change.pairs_needed is None:
        return "cannot tell yet", "A difference this small would need very many more days.", ""
    days = f"{change.pairs_needed} more day{'' if change.pairs_needed == 1 else 's'}"
    return ("cannot tell yet", "The pairs do not decide it.",
            f"drive the same ways on about {days} of the side that has fewer; old, new, new, old "
            "on like days is the surest")


def _chance(chance: float) -> str:
    return (f"fewer than {100 * CHANCE_TOLD:.1f}{NBSP}%" if chance < CHANCE_TOLD
            else f"{100 * chance:.1f}{NBSP}%")


def _noted(noted: Sequence[NotedChange], chosen: date | None) -> Component | None:
    """A way to each noted change."""
    if not noted:
        return None
    return html.Ul([html.Li(
        dcc.Link(f"{date_words(each.day)}: {each.words}", href=f"{PATH}?split={each.day}",
                 className="press"), **(aria(current="true") if each.day == chosen else {}))
        for each in noted])


def _facts(change: Comparison, units: Units) -> Iterator[Fact]:
    yield _side("Before", change.before, change.pairs, units)
    yield _side("After", change.after, change.pairs, units)
    yield answer_fact("Change", change.change_pct, told=Why(
        "mean of ln(after ÷ before) over pairs of days, as a percentage",
        (Given("pairs of days", str(change.pairs), "measured"),
         Given("ways common to both", str(change.routes), "worked out")),
        "Student's t; permutation test: R. A. Fisher, The Design of Experiments, 1935"))
    yield Fact("Pairs of days", str(change.pairs),
               f"on {change.routes}{NBSP}common way{'' if change.routes == 1 else 's'}",
               "measured")
    if math.isfinite(change.chance):
        yield Fact("By chance alone", _chance(change.chance),
                   "of such comparisons would differ as much", "worked out")
    if change.pairs_needed:
        yield Fact("Still needed", f"{change.pairs_needed}{NBSP}pairs",
                   "to decide a change of this size", "worked out")


def _side(name: str, side: Side, pairs: int, units: Units) -> Fact:
    fact = answer_fact(name, per_way(side.consumption, units))
    more = [fact.more, f"{pairs} of {side.days}{NBSP}days"]
    if math.isfinite(side.temp_c):
        more.append(f"at {shown('ambient_c', units).text(side.temp_c)}")
    if math.isfinite(side.speed_m_s):
        more.append(shown("speed_m_s", units).text(side.speed_m_s))
    return Fact(fact.label, fact.figure, ", ".join(more), fact.badge)


def _pairs(change: Comparison, units: Units) -> Component | None:
    """Each pair as a slope, and the change with its interval."""
    size = change.change_pct
    if not change.paired or not isinstance(size, Estimate):
        return None
    unit, factor = _rate(change.before.consumption, units)
    fewer = sum(pair.after_rate < pair.before_rate for pair in change.paired)
    row = Ranged("change", size.value, size.low, size.high, is_told=True)
    return section(
        "Day against day",
        picture("compare-pairs", slopes([(factor * p.before_rate, factor * p.after_rate)
                                         for p in change.paired], unit),
                f"Each line joins a day before (hollow) and a day after (filled), alike in "
                f"temperature: {fewer} of {change.pairs} took less after."),
        picture("compare-change", ranges([row], "% more (right) or less (left) than before",
                                         Reference(0.0, "no change")),
                f"The change with its interval, 95{NBSP}% sure.", height_px([row])))


def _rate(consumption: Answer, units: Units) -> tuple[str, float]:
    """Unit of the slopes, and the factor into it from that of the comparison."""
    if not isinstance(consumption, Estimate) or consumption.unit != "Wh/km":
        return "Wh a trip", 1.0
    return f"Wh/{units.distance}", length_m(units) / KM_M


def _speeds(found: Compared, units: Units) -> Component | None:
    """Watts and waste by speed."""
    if not (found.before and found.after):
        return None
    factor, unit = KM_M / length_m(units), speed_unit(units)
    return section(
        "By speed",
        picture("compare-speeds", by_speed(_paces(found.before, factor),
                                           _paces(found.after, factor), unit),
                "Hollow and dashed before, filled and solid after. The band under the dashed line "
                "is what coils burnt at least, if the control before was a resistor."),
        table(RESISTOR, ("Speed", "Before", "After", "Burnt in coils before, at least"),
              _rows(found, units)))


def _paces(bands: Sequence[SpeedBand], factor: float) -> list[Pace]:
    return [Pace(factor * (band.from_kmh + band.to_kmh) / 2, band.mean_w,
                 band.mean_w * band.least_burnt if math.isfinite(band.least_burnt) else 0.0)
            for band in bands]


def _rows(found: Compared, units: Units) -> Iterator[tuple[str, ...]]:
    after = {band.from_kmh: band for band in found.after}
    factor, unit = KM_M / length_m(units), speed_unit(units)
    for band in found.before:
        other = after.get(band.from_kmh)
        burnt = number(100 * band.least_burnt, 0) if math.isfinite(band.least_burnt) else ""
        yield (f"{number(factor * band.from_kmh, 0)} to {number(factor * band.to_kmh, 0)}{NBSP}"
               f"{unit}", _wh(band, units), _wh(other, units) if other else "no record",
               f"{burnt}{NBSP}%" if burnt else "no record")


def _wh(band: SpeedBand, units: Units) -> str:
    return f"{number(band.wh_per_km * length_m(units) / KM_M, 0)}{NBSP}Wh/{units.distance}"
