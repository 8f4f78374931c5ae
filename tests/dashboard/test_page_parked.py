"""The page Parked: what standing costs, when it cost more, and the day a laid-up pack runs low."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from analysis.asking.questions import ParkedPack
from analysis.estimate import Answer, Estimate, NoEstimate
from analysis.finding import DatedFinding
from analysis.season.parked import Interval, Parked
from dashboard.pages import parked
from dashboard.quantities import NBSP
from dashboard.shell import Place
from dashboard.store import Store
from tests.dashboard.test_pages import text_of

#: 31 July 2026, 20:00 UTC: in Auckland already 1 August.
JULY_S = 1_785_528_000.0
USUAL = Estimate(0.023, 0.018, 0.027, "A")
MORE = DatedFinding("parked_drain", "yes", JULY_S, JULY_S + 10 * 86_400,
                    "parked, the pack loses 0.31 A at 20 °C", Estimate(0.31, 0.3, 0.32, "A"),
                    "one clamp reading on the main cable")


def found(usual: Answer = USUAL, zone: str = "Pacific/Auckland",
          by_percent: Answer = USUAL) -> ParkedPack:
    return ParkedPack(Parked(usual, by_percent, (MORE,), ()), 100.0, JULY_S, zone)


def page(of: ParkedPack, store: Store, **query: str) -> str:
    return text_of(parked.draw(of, store, Place(query=query))).replace(NBSP, " ")


def test_the_usual_drain_is_told_by_the_day() -> None:
    """23 mA for 24 hours are 0.6 Ah."""
    assert parked.opening(USUAL) == (
        f"Parked, the pack usually loses about 23{NBSP}mA, or 0.6{NBSP}Ah a day.")


@pytest.mark.parametrize(("count", "words"), [(1, "1 pair"), (2, "2 pairs")])
def test_one_pair_is_one(count: int, words: str, store: Store) -> None:
    """Of full charges compared."""
    pairs = (Interval(JULY_S, JULY_S + 86_400.0, 0.5, 0.1, 24.0, 0.0),) * count
    one = replace(found(), parked=replace(found().parked, intervals=pairs))

    assert re.search(rf"compared\W+{words}\b", page(one, store))


def test_the_verdict_tells_how_sure(store: Store) -> None:
    """Yes with its interval; a drain too small to be counted, or none, cannot be told yet."""
    assert "Yes. " in page(found(), store)
    assert "what parking costs: 18 to 27 mA, 95 % sure." in page(found(), store)
    for unknown in (Estimate(0.001, -0.01, 0.02, "A"), NoEstimate("no full charge", "fill twice")):
        assert "Cannot tell yet. " in page(found(unknown), store)


def test_two_figures_that_differ_are_explained(store: Store) -> None:
    """A percent that hides small amps is said to; two that agree need no words."""
    hidden = Estimate(0.0, 0.0, 0.010, "A")
    assert "does not count small amps" in page(found(by_percent=hidden), store)
    assert "does not count small amps" not in page(found(), store)


def test_who_pulls_fuses_is_warned(store: Store) -> None:
    """Beside the advice to clamp and to pull fuses."""
    assert "Live metal: insulated tools, no rings" in page(found(), store)


def test_days_are_those_on_the_wall(store: Store) -> None:
    """A stretch that begins at 20:00 UTC begins on the next day in Auckland."""
    assert "1 August 2026" in page(found(), store)
    assert "31 July 2026" in page(found(zone="UTC"), store)
    assert "31 July 2026" in page(found(zone="No/Such"), store)


def test_a_laid_up_pack_gets_its_date(store: Store) -> None:
    """From 55 % to 20 % are 35 Ah of 100: at 23 mA 63 days, from 1 August local time (worked by
    hand); no senseless percent."""
    assert "in 63 days, about 3 October 2026" in page(found(), store, percent="55")
    assert "in 63 days" not in page(found(), store, percent="550")
