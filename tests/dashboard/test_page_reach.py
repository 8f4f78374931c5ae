"""Reach: what is left in the person's units, what if, and whether such forecasts have held."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache

import pytest

from analysis.ahead.consumption import Conditions
from analysis.ahead.range_answer import RangeAnswer, Wish, find_range
from analysis.estimate import Estimate
from dashboard.figures.kept_word import DRAWN_MAX, kept_word
from dashboard.lengths import per_way, way
from dashboard.pages import reach
from dashboard.quantities import NBSP, Units
from dashboard.shell import Place
from dashboard.store import Store
from dashboard.wishing import BOUNDS, assumed, chooser, in_si, wish_of
from tests.analysis.made_trips import DOWN, UP, trip_digest
from tests.dashboard.test_pages import text_of

MILES = Units("mi", "F")


@lru_cache
def answered(wish: Wish, *, days: int = 18, with_speed: bool = True) -> RangeAnswer:
    """Drives of one season, the same ways with another consumption each day."""
    digests = [trip_digest([(UP, 120.0 + day % 4), (DOWN, 70.0)], day, with_speed=with_speed)
               for day in range(days)]
    return find_range(digests, wish=wish)


WISH = Wish(percent=60.0, rated_ah=100.0)


@lru_cache
def on_ways(wish: Wish) -> RangeAnswer:
    """Every other drive goes round by the mill, and takes more."""
    digests = [trip_digest([(UP, 180.0 if day % 2 else 120.0)], day) for day in range(18)]
    noted = {d.log: Conditions(route="5 km by the mill" if day % 2 else "")
             for day, d in enumerate(digests)}
    return find_range(digests, wish=wish, noted=noted)


def told(wish: Wish, store: Store, usual: Wish | None = None, **query: str) -> str:
    usual_answer = answered(usual) if usual else None
    return text_of(reach.draw(reach.Reach(answered(wish), usual_answer), store,
                              Place(query=query))).replace(NBSP, " ")


def test_typed_figures_become_si() -> None:
    """Exact factors: 1 mi = 1.609344 km, t/°C = (t/°F - 32) / 1.8 (NIST SP 811, appendix B)."""
    place = Place(query={"air": "41", "wind": "10", "speed": "10", "load": "-50",
                         "climb": "31", "way": "20 mi", "percent": "55,5"})
    metric, imperial = in_si(place, Units()), in_si(place, MILES)

    assert wish_of(metric) == Wish(10.0, 55.5, Conditions(41.0, -50.0, float(f"{10 / 3.6:.9g}")),
                                   climb_m=31.0, speed_kmh=10.0)
    assert wish_of(imperial).met.temp_c == pytest.approx(5.0)  # type: ignore[union-attr]
    assert wish_of(imperial).met.wind_m_s == pytest.approx(4.4704)  # type: ignore[union-attr]
    assert wish_of(imperial).speed_kmh == pytest.approx(16.09344)
    assert wish_of(imperial).climb_m == pytest.approx(31 * 0.3048)
    assert wish_of(in_si(place, Units(mass="lb"))).met.extra_load_kg == (  # type: ignore[union-attr]
        pytest.approx(-50 * 0.45359237))
    assert float(metric.query["way_km"]) == 20
    assert float(imperial.query["way_km"]) == pytest.approx(32.18688)
    assert in_si(Place(query={"way": "2 h"}), Units()).query["way_h"] == "2"


@pytest.mark.parametrize("query", [
    {"percent": "140"}, {"reserve": "-3"}, {"air": "900"}, {"speed": "0"}, {"load": "1e9"},
    {"climb": "<b>"}, {"wind": "nan"}, {"way": "inf"}, {"air_c": "15", "wind_m_s": "3"},
    {"way": "h" * 200}])
def test_senseless_figures_are_as_usual(query: dict[str, str]) -> None:
    """What cannot be is left out, and so are names that only the pages write."""
    found = in_si(Place(query=query), Units())

    assert wish_of(found) == Wish()
    assert not {"way_km", "way_h"} & set(found.query)


@pytest.mark.parametrize("text", ["abc", "1e300", "-5", "nan", "<b>"])
def test_forged_figures_are_as_none(text: str) -> None:
    """What a browser sends back in SI is held to the same bounds."""
    place = Place(query=dict.fromkeys(BOUNDS, text) | {"load_kg": "1e300"})

    assert wish_of(place) in (Wish(), Wish(met=Conditions(temp_c=-5.0)))
    assert reach.ending(answered(WISH), place, Units())[0] == "yes"


def test_what_is_assumed_is_said_in_ones_own_units() -> None:
    """Each of the five, in one line."""
    wish = Wish(met=Conditions(2.0, 200.0, 5.0), climb_m=31.0, speed_kmh=10.0)

    assert assumed(wish, MILES).replace(NBSP, " ") == (
        "in air of 35.6 °F, with 200 kg more on board, in wind of 11 mph, after a climb of "
        "102 ft, driven at 6 mph")
    assert "with 441 lb more" in assumed(wish, Units(mass="lb")).replace(NBSP, " ")
    assert assumed(Wish(), Units()) == ""


def test_what_is_left_is_told_with_its_interval(store: Store) -> None:
    """Sentence, facts with why, the back-test and the caution."""
    words = told(WISH, store)

    for each in ("About ", " km left (", "with 10 % kept in reserve", "between 57 and 63",
                 "usable energy ÷ energy for each distance", "stretches came out within",
                 "turn back in time", "Yes. "):
        assert each in words, each


def test_miles_are_the_same_way() -> None:
    """1 mi = 1.609344 km (NIST SP 811, appendix B.8); distance for energy turns the ends round."""
    far = way(Estimate(16.09344, 8.04672, 32.18688, "km"), MILES)
    rate = per_way(Estimate(100.0, 80.0, 125.0, "Wh/km"), Units("mi", consumption="mi/kWh"))

    assert far.unit == "mi"
    assert (far.value, far.low, far.high) == pytest.approx((10, 5, 20))
    assert (rate.value, rate.low, rate.high) == pytest.approx(
        (6.2137, 4.9710, 7.7671), abs=1e-4)
    assert per_way(Estimate(2.0, 1.0, 3.0, "%/km"), MILES).value == pytest.approx(3.218688)
    assert per_way(Estimate(2.0, -1.0, 3.0, "Wh/km"),
                   Units("mi", consumption="mi/kWh")).unit == "Wh/mi"


def test_what_if_is_drawn_beside_the_usual(store: Store) -> None:
    """200 kg more and frost reach less far; both are shown with their intervals."""
    words = told(replace(WISH, met=Conditions(-5.0, 200.0), mass_kg=520.0), store, WISH)

    assert "less than as usual" in words
    assert "with 200 kg more on board" in words
    assert '"uid": "range-told"' in words


def test_without_distance_time_is_told(store: Store) -> None:
    """A boat has hours; nothing assumes a road."""
    answer = answered(WISH, with_speed=False)
    words = text_of(reach.draw(reach.Reach(answer, None), store, Place(query={"way_h": "0.1"})))

    assert "of use left" in reach.opening(answer, Units())
    assert "Yes. " in words
    assert "fit within the interval" in words


@pytest.mark.parametrize(("way_km", "verdict"), [("1", "yes"), ("500", "no")])
def test_the_way_that_is_wanted_is_judged(way_km: str, verdict: str) -> None:
    """By the ends of the interval."""
    assert reach.ending(answered(WISH), Place(query={"way_km": way_km}), Units())[0] == verdict


def test_a_speed_that_was_never_driven_is_told_in_ones_own_unit(store: Store) -> None:
    """Nothing is carried over from other vehicles; 32.2 km/h are 20 mph."""
    answer = answered(replace(WISH, speed_kmh=32.18688))

    assert "at about 32 km/h" in reach.opening(answer, Units()).replace(NBSP, " ")
    assert "at about 20 mph" in reach.opening(answer, MILES).replace(NBSP, " ")
    assert reach.ending(answer, Place(query={"way_km": "5"}), MILES)[0] == "cannot tell yet"


def changed(answer: RangeAnswer, factor: float) -> RangeAnswer:
    """The newest five stretches came to so much more than the end of their intervals."""
    made = answer.km.backtest.made
    off = [replace(each, actual=end, without_oddest_day=end) for each in made[-5:]
           if (end := factor * (each.high if factor > 1 else each.low))]
    backtest = replace(answer.km.backtest, made=(*made[:-5], *off))
    return replace(answer, km=replace(answer.km, backtest=backtest))


def test_drives_that_take_more_than_foretold_are_told(store: Store) -> None:
    """Plainly, with where to look; then no forecast is a promise, whatever the interval says."""
    answer = changed(answered(WISH), 1.1)
    words = text_of(reach.draw(reach.Reach(answer, None), store, Place()))

    assert "The last 5 stretches, which overlap, took more than foretold" in words
    assert "/seasons" in words
    assert "look under Seasons" in reach.ending(answer, Place(), Units())[2]
    for query, verdict in (({}, "cannot tell yet"), ({"way_km": "1"}, "cannot tell yet"),
                           ({"way_km": "500"}, "no")):
        assert reach.ending(answer, Place(query=query), Units())[0] == verdict
    less = changed(answered(WISH), 0.9)
    assert reach.ending(less, Place(query={"way_km": "1"}), Units())[0] == "yes"
    assert reach.ending(less, Place(query={"way_km": "500"}), Units())[0] == "cannot tell yet"
    assert "than foretold" not in told(WISH, store)


def test_few_drives_teach(store: Store) -> None:
    """Nothing is foretold from two drives; the page says what to log."""
    answer = answered(WISH, days=2)
    words = text_of(reach.draw(reach.Reach(answer, None), store, Place()))

    assert reach.opening(answer, Units()).startswith("How far it goes cannot be told yet")
    assert "Cannot tell yet. " in words
    assert "log 1 more" in words


def test_hits_and_misses_are_told_apart_by_shape() -> None:
    """Dots within the band, crosses outside; the last ones only."""
    backtest = answered(WISH, days=18).km.backtest
    far = replace(backtest.made[0], actual=backtest.made[0].high * 2)
    figure = kept_word([*backtest.made * 40, far], 2.0, "Wh")
    dots, crosses = (next(t for t in figure.data if t.uid == uid) for uid in ("point", "dot-told"))

    assert (dots.marker.symbol, crosses.marker.symbol) == ("circle", "x")
    assert crosses.y[-1] == pytest.approx(2 * far.actual)
    assert len(dots.x) + len(crosses.x) == DRAWN_MAX
    assert all(math.isfinite(y) for y in figure.data[0].y)
    assert kept_word([], 1.0, "Wh").layout.yaxis.range[0] < 0


def test_a_noted_way_is_foretold_by_its_own_drives(store: Store) -> None:
    """Beside the usual; the name is told as it was typed, in no other unit; what else was
    asked stays with a press on it."""
    place = in_si(Place(query={"route": " 5 KM  by the mill ", "air": "41"}), MILES)
    asked = replace(wish_of(place), met=None, percent=60.0, rated_ah=100.0)
    found = reach.Reach(on_ways(asked), on_ways(WISH))
    words = text_of(reach.draw(found, store, place)).replace(NBSP, " ")
    left, usual = found.asked.km.left, on_ways(WISH).km.left

    assert isinstance(left, Estimate)
    assert isinstance(usual, Estimate)
    assert asked.route == "5 KM by the mill"
    assert found.asked.ways == ("5 km by the mill",)
    assert left.value == pytest.approx(usual.value * 150 / 180, rel=0.02)
    assert "on the way “5 KM by the mill”" in reach.opening(found.asked, MILES).replace(NBSP, " ")
    assert "% less than as usual" in words
    assert '"href": "/reach?route=5+km+by+the+mill&air=41"' in words
    assert "Noted ways" not in told(WISH, store)


def test_a_way_that_nobody_noted_is_told_and_can_be_mended(store: Store) -> None:
    """The page says so in its sentence and keeps its fields."""
    found = reach.Reach(on_ways(replace(WISH, route="<b>9 km</b>")), on_ways(WISH))
    words = text_of(reach.draw(found, store, Place(query={"route": "<b>9 km</b>"})))

    assert "no drive with the figures that this needs is noted as on the way “<b>9" in words
    assert '"id": "reach-route"' in words
    assert reach.ending(found.asked, Place(), MILES)[0] == "cannot tell yet"
    assert f"“<b>9{NBSP}km</b>”" in reach.opening(found.asked, MILES)
    assert wish_of(Place(query={"route": "x" * 9000})).route == "x" * 200


@pytest.mark.parametrize(("kind", "has_way", "idle"), [
    ("wheels", True, []), ("wheels", False, ["speed"]), ("boat", True, ["climb"]),
    ("boat", False, ["climb", "speed"]), ("house", False, ["load", "wind", "climb", "speed"])])
def test_only_what_can_differ_is_asked_for(kind: str, has_way: bool, idle: list[str]) -> None:
    """Nothing climbs on water; speed needs a distance; what was filled in all the same is shown."""
    fields = chooser(Units(), kind, has_way=has_way, ways=("mill",))
    typed = fields.block(Place(query={"climb": "10"}))
    hidden = [field.name for field, label in zip(fields.fields, typed.children[:-1], strict=True)
              if label.hidden]

    assert [field.name for field in fields.fields if field.is_idle] == idle
    assert hidden == [name for name in idle if name != "climb"]
    assert ("km" in fields.fields[2].label) == has_way
