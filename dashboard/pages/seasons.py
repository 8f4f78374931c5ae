"""Seasons: capacity, resistance, efficiency and use over months; what stepped, and when."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np
from dash import Dash, html
from dash.development.base_component import Component

from analysis.asking.book import Asked, Book
from analysis.asking.questions import ask_season
from analysis.estimate import Answer, Estimate, NoEstimate, Verdict
from analysis.one_log.use import HOT_C
from analysis.phrases import day_text
from analysis.season.day_use import DAY_S, YearUse
from analysis.season.fade import FadeLine
from analysis.season.ledger import TOP_FORMULA, Ledger
from analysis.season.resistance_trend import COLD_K, REFERENCE_C
from analysis.season.summary import Fade, Season

from ..elements import (
    Fact,
    Given,
    Why,
    answer_fact,
    aside,
    facts,
    fold,
    picture,
    section,
    sentence,
    story,
    table,
    title,
    verdict,
)
from ..figures.course import Line, Point, course
from ..figures.day_ticks import day_ticks
from ..figures.ranges import Reference
from ..quantities import NBSP, NO_RECORD, Units, consumption, distance, number, shown
from ..question_page import Question
from ..shell import Place
from ..store import Store
from ..wording import capital, ending_in, worded

PATH: Final = "/seasons"
TITLE: Final = "Seasons"
GROUP: Final = "Pack"

#: What was seen within so many days of the end is open still.
OPEN_DAYS: Final = 14
#: The line of fade is drawn so far ahead of the last test, as a share of the time tested.
AHEAD: Final = 0.5
#: A drive whose resistance is known no better than to this share of it is not drawn: its interval
#: would hide all others. Chosen here.
VAGUE: Final = 0.5
#: Moments at which the band is drawn.
STEPS: Final = 33
AGAIN: Final = ("test again in three months by the same meter: from full until the pack is empty, "
                "at steady amps")


def ask(book: Book, _: Place) -> Asked[Season]:
    return ask_season(book)


def draw(season: Season, store: Store, _: Place) -> list[Component]:
    units = store.units
    return [
        sentence(worded(_first_sentence(season.fade.words), units)),
        aside(f"{season.pack or 'The pack'}, {day_text(season.start_s)} to "
              f"{day_text(season.end_s)}, {season.ledger.logs}{NBSP}logs."),
        facts(_facts(season, units)),
        _capacity(season, units),
        _resistance(season, units),
        _use(season, units),
        *_years(season, units),
        _happened(season, units),
        section("The pack's ledger", facts(_ledger(season.ledger, units))),
        verdict(*ending_in(ending(season), units)),
    ]


QUESTION: Final = Question("seasons", ask, draw)


def layout(store: Store, place: Place) -> Component:
    return html.Div([title(TITLE), QUESTION.block(store, place)], className="page seasons")


def register(app: Dash, store: Store) -> None:
    QUESTION.register(app, store)


def _first_sentence(words: str) -> str:
    return words.split(". ", maxsplit=1)[0].rstrip(".") + "."


def _facts(season: Season, units: Units) -> Iterator[Fact]:
    fade = season.fade
    tests = Given("capacities", f"{len(season.capacity)}", "worked out")
    yield answer_fact("Holds now", season.capacity_now, told=Why(
        "amp-hours counted ÷ share of the scale, between two moments of known charge", (
            tests, Given("gain of the meter", f"within 1{NBSP}%", "claimed")),
        "G. L. Plett, Journal of Power Sources 196 (2011) 2319: weighted total least squares"))
    yield answer_fact("Change in a year", fade.ah_per_year, told=Why(
        worded("slope of the line through the capacities at 20 °C", units), (tests,),
        "weighted least squares; Student's t where the scatter is learnt from the tests"))
    yield answer_fact("Change with use", fade.ah_per_100_cycles, told=Why(
        "the same line ÷ full cycles between the first and the last capacity",
        _out(season.ledger),
        "equivalent full cycles: amp-hours out ÷ rated amp-hours; common practice, no source"))
    yield _eighty(fade)
    per_degree = season.resistance.per_kelvin / shown("temp_1_c", units).factor
    yield answer_fact(worded("Resistance at 20 °C", units), season.resistance.now_mohm, told=Why(
        "change of volts ÷ change of amps after 10 s, brought to 20 °C",
        (Given("drives", f"{len(season.resistance.start_s)}", "measured"),
         Given(f"falls for each °{units.temperature} by",
               f"{number(-100 * per_degree, 1)}{NBSP}%", "worked out")),
        "ln R = a + b (T − 20) + c t, fitted as in P. J. Huber, Robust Statistics, 1981"))
    yield answer_fact("Resistance, change", season.resistance.per_year_pct)
    efficiency = Why("out ÷ in, from the first full charge to the last",
                     (Given("full charges", f"{season.efficiency.fulls}", "worked out"),),
                     "between two full charges nothing stays in; common practice, no source")
    yield answer_fact("Amp-hours that come out again", season.efficiency.charge_pct,
                      told=efficiency)
    yield answer_fact("Watt-hours that come out again", season.efficiency.energy_pct,
                      told=efficiency)


def _eighty(fade: Fade) -> Fact:
    """When 80 % would be reached, as dates."""
    answer, label = fade.eighty_percent, f"Falls to 80{NBSP}%"
    if isinstance(answer, NoEstimate):
        return answer_fact(label, answer)
    later = " or later" if fade.or_later else ""
    return Fact(label, f"{day_text(answer.low)} to {day_text(answer.high)}{later}",
                f"{100 * answer.coverage:.0f}{NBSP}% sure; a sudden turn cannot be forecast",
                "worked out")


def _capacity(season: Season, units: Units) -> Component:
    """Each capacity by the same meter, the line with its band, and 80 percent."""
    points = [Point(c.span.end_s, c.span.at_reference_ah, c.span.at_reference_ah - 2 * c.span.sd_ah,
                    c.span.at_reference_ah + 2 * c.span.sd_ah, c.span.method != "full test")
              for c in season.capacity]
    fade = season.fade
    level = Reference(fade.level_ah, f"80{NBSP}% is {number(fade.level_ah, 0)}{NBSP}Ah") if (
        math.isfinite(fade.level_ah)) else None
    if not points:
        return section("Capacity", aside(
            "Nothing yet: no log runs between two moments at which the charge is known. Fill "
            "fully, then drive to the knee, logging both."))
    return section("Capacity", picture(
        "seasons-capacity",
        course(points, worded("Ah at 20 °C", units), fade_band(fade.line), level),
        f"{len(points)} capacities, each with its interval; full dots are tests from full to "
        "empty at steady amps, rings are other spans. The band is where the line lies, 95 % "
        "sure, dotted ahead of the last test. What the meter's gain adds is alike for all, so "
        "it is left out here.", 320))


def fade_band(line: FadeLine | None) -> Line | None:
    """The line of fade with its band, somewhat ahead of the last test."""
    if line is None:
        return None
    years = np.linspace(0.0, (1 + AHEAD) * line.span_years, STEPS)
    found = [line.between(float(year)) for year in years]
    span_s = line.last_s - line.first_s
    return Line(tuple(line.first_s + span_s * float(y) / line.span_years for y in years),
                tuple(e.value for e in found), tuple(e.low for e in found),
                tuple(e.high for e in found), line.last_s)


def _resistance(season: Season, units: Units) -> Component:
    trend = season.resistance
    if not trend.start_s:
        return section("Resistance: cold or old?", aside(_reason(trend.now_mohm)))
    told = [story(worded(f"{day_text(log.start_s)}: {log.words}.", units))
            for log in trend.cold] or [
        aside(_no_cold(units))]
    points = [Point(s, r, r - 2 * sd, r + 2 * sd) for s, r, sd in zip(
        trend.start_s, trend.at_reference_mohm, trend.sd_mohm, strict=True)
        if 2 * sd <= VAGUE * r]
    vague = len(trend.start_s) - len(points)
    left_out = f" Left out, for they hardly tell it: {vague}." if vague else ""
    return section("Resistance: cold or old?", *told, picture(
        "seasons-resistance", course(points, worded("mΩ at 20 °C", units)),
        "A dot for each drive, brought to one temperature: what is left is age, joints and "
        f"cables. A lasting step points at a joint, a slow rise at age.{left_out}", 260))


def _no_cold(units: Units) -> str:
    limit = shown("temp_1_c", units).text(REFERENCE_C - COLD_K)
    return f"No drive below {limit} stood out, so nothing had to be told apart from age."


def _reason(answer: Answer) -> str:
    return f"Cannot tell yet: {answer.reason}; {answer.next}." if isinstance(
        answer, NoEstimate) else ""


def _use(season: Season, units: Units) -> Component:
    days = season.use
    if not days:
        return section("Use", aside("No drive is logged yet."))
    drawn = [day for day in days if math.isfinite(day.out_ah)]
    most = max(drawn, key=lambda day: day.out_ah)
    far = season.ledger.distance_m
    told = f" {distance(far, units, 0)} in all." if math.isfinite(far) else ""
    typed = season.ledger.typed_days
    from_whom = f" {typed} of them were typed from the display, not logged." if typed else ""
    return section("Use", picture(
        "seasons-use", day_ticks([(day.day_s, day.out_ah) for day in drawn], "Ah out a day"),
        f"A tick for each of {len(drawn)} days with use.{from_whom} The most was "
        f"{number(most.out_ah, 0)}{NBSP}Ah on {day_text(most.day_s)}.{told}", 190))


def _years(season: Season, units: Units) -> list[Component]:
    """Use by year; with one year there is nothing to compare."""
    if len(season.years) < 2:
        return []
    has_way = math.isfinite(season.ledger.distance_m)
    columns = ("Year", "Days with use", "Ah out", "Full cycles",
               *((units.distance, "For the way") if has_way else ("Hours in use",)))
    return [section("Year by year", table(
        "Logged days are worked out, typed days as somebody read them off the display",
        columns, [_year(year, units, has_way=has_way) for year in season.years]))]


def _year(year: YearUse, units: Units, *, has_way: bool) -> tuple[str, ...]:
    far, rate = year.distance_m, year.wh_per_km
    way = (distance(far, units, 0) if math.isfinite(far) else NO_RECORD,
           consumption(rate, units) if math.isfinite(rate) else NO_RECORD)
    hours = f"{number(year.used_h, 0)}{NBSP}h" if math.isfinite(year.used_h) else NO_RECORD
    cycles = number(year.full_cycles, 1) if math.isfinite(year.full_cycles) else NO_RECORD
    days = f"{year.days}, {year.typed_days} of them typed" if year.typed_days else str(year.days)
    return (str(year.year), days, number(year.out_ah, 0), cycles,
            *(way if has_way else (hours,)))


def _happened(season: Season, units: Units) -> Component:
    """What is open still; behind a fold what is over. Cold mornings have their own section."""
    found = [f for f in season.findings if f.kind != "cold_not_old"]
    since_s = season.end_s - OPEN_DAYS * DAY_S
    still = [(f.start_s, f.words, f.verdict, f.next) for f in found if f.end_s >= since_s]
    over = [(f.start_s, f.words, f.verdict, f.next) for f in found if f.end_s < since_s]
    over += [(step.moment_s, step.words, "yes", "") for step in season.other_steps]
    return section(
        "What is open", _events(still, units) if still else aside("Nothing stands out now."),
        fold(f"{len(over)} that are over, or were a step", _events(over, units)) if over else None)


def _events(rows: Sequence[tuple[float, str, Verdict, str]], units: Units) -> Component:
    """Newest first."""
    return table("Newest first; yes means that the logs prove it",
                 ("Since", "What", "Sure?", "Next"),
                 [(day_text(when), capital(worded(words, units)), sure, worded(then, units))
                  for when, words, sure, then in sorted(rows, reverse=True)])


def _ledger(ledger: Ledger, units: Units) -> Iterator[Fact]:
    """What the pack has been through; a figure that no log tells is left out."""
    cycles = Why("amp-hours out ÷ rated amp-hours", _out(ledger),
                 "equivalent full cycles; common practice, no source")
    yield from _known("Full cycles so far", ledger.equivalent_full_cycles, 1, "", cycles)
    yield from _known("Days since the top", ledger.days_since_full, 0, "")
    yield Fact("Days at the top", str(ledger.full_charges), _longest(ledger),
               "worked out", Why(TOP_FORMULA, (), "common practice, no source"))
    yield from _known("Most amps out", ledger.peak_out_a, 0, "A")
    yield from _known("Most amps in", ledger.peak_in_a, 0, "A")
    yield from _known("Worst ten minutes, RMS", ledger.rms_a[2], 0, "A", Why(
        "√ of the mean of the squared amps over ten minutes", (), "what heats wires and breakers"))
    yield from _known("Lowest volts", ledger.voltage_min_v, 1, "V")
    yield from _known("Highest volts", ledger.voltage_max_v, 1, "V")
    warmth = shown("temp_1_c", units)
    for label, celsius in (("Coldest", ledger.temp_min_c), ("Warmest", ledger.temp_max_c)):
        if math.isfinite(celsius):
            yield Fact(label, warmth.text(celsius), "of the pack's sensor", "measured")
    yield from _known("At 99 % and above", ledger.high_h, 0, "h")
    yield from _known("At 10 % and below", ledger.low_h, 1, "h")
    yield from _known(f"Above {worded(f'{HOT_C:.0f} °C', units)}", ledger.hot_h, 1, "h")
    yield from _known("Charged in frost", ledger.frost_charge_h, 1, "h")


def _out(ledger: Ledger) -> tuple[Given, ...]:
    """Amp-hours out, those that were typed by themselves."""
    typed_ah = ledger.typed_out_ah if ledger.typed_days else 0.0
    logged = Given("out", f"{number(ledger.charge_out_ah - typed_ah, 0)}{NBSP}Ah", "worked out")
    typed = Given(f"out on {ledger.typed_days} days off the display",
                  f"{number(typed_ah, 0)}{NBSP}Ah", "typed")
    return (logged, typed) if ledger.typed_days else (logged,)


def _known(label: str, figure: float, digits: int, unit: str,
           told: Why | None = None) -> Iterator[Fact]:
    if math.isfinite(figure):
        yield Fact(label, f"{number(figure, digits)}{NBSP}{unit}".rstrip(NBSP), "",
                   "worked out" if told else "measured", told)


def _longest(ledger: Ledger) -> str:
    """The longest stretch without one, if it is long enough to be told."""
    if not ledger.without_full:
        return "never more than ten days apart"
    worst = ledger.without_full[0]
    return f"once {worst.days:.0f} days without, until {day_text(worst.until_s)}"


def ending(season: Season) -> tuple[Verdict, str, str]:
    """Has it faded, how sure, and what to measure next."""
    fade = season.fade
    change = fade.change_ah
    if isinstance(change, NoEstimate):
        return fade.verdict, f"{capital(change.reason)}.", change.next
    if fade.verdict == "cannot tell yet":
        return fade.verdict, fade.words, AGAIN
    lost = isinstance(change, Estimate) and change.high < 0
    told = (f"It has lost between {number(-change.high, 1)} and {number(-change.low, 1)}{NBSP}Ah"
            if lost else "It has not lost capacity")
    return fade.verdict, f"{told}, {100 * change.coverage:.0f}{NBSP}% sure.", AGAIN
