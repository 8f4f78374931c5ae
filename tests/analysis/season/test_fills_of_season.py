"""Fills of a logbook: full or not, who stopped it, how long since the top."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from analysis.digest import LogDigest, digest_log
from analysis.limits import Limits
from analysis.season.fills import FILL_PARTS, find_fills
from analysis.telemetry import Telemetry
from tests.analysis.incidents.test_charge_stop import charge
from tests.analysis.made_packs import later

DAY_H = 24.0


def digest(telemetry: Telemetry, day: float = 0.0) -> LogDigest:
    volts = np.sum([telemetry[name] for name in telemetry.cells], axis=0)
    whole = replace(telemetry, columns={**telemetry.columns, "voltage_v": volts}, meta={
        "sign": {"convention": "negative_is_discharge", "decided_by": "person"}})
    return later(digest_log(whole, "log", parts=FILL_PARTS), day * DAY_H)


TAIL = charge(end_a=4.0, top_v=3.47)
EARLY = charge(top_v=3.60)


@pytest.mark.parametrize(("telemetry", "is_full", "who"), [
    (TAIL, "yes", "the charger, by its tail"),
    (EARLY, "no", "the board, for cell 6"),
    (charge(), "no", "a hand, a clock or the mains"),
    (charge().between(0, 1000), "cannot tell yet", "nobody saw"),
])
def test_a_fill_is_judged_by_its_end(telemetry: Telemetry, is_full: str, who: str) -> None:
    """A tail is full; one cell at its limit is not; an end that nobody saw stays open."""
    (card,) = find_fills([digest(telemetry)]).cards

    assert (card.is_full, card.who) == (is_full, who)
    assert find_fills([digest(telemetry)]).next


def test_a_stop_in_frost_is_told_where_the_boards_limit_was_typed() -> None:
    """A charge that ends at -1 degC was stopped for the cold by a board that charges from 0 degC,
    unless the pack stood at its top; without the typed limit nobody knows."""
    frost = charge()
    cold = digest(replace(frost, columns={**frost.columns, "temp_1_c": np.full(
        len(frost.elapsed_s), -1.0)}))

    (card,) = find_fills([cold], Limits(charge_min_c=0.0)).cards
    assert (card.is_full, card.who) == ("no", "the board, for the cold")
    (card,) = find_fills([digest(charge())], Limits(charge_min_c=0.0)).cards
    assert card.fill.ending == "cut_short"
    (card,) = find_fills([cold]).cards
    assert card.fill.ending == "cut_short"


def test_cards_are_newest_first_and_count_what_is_alike() -> None:
    """Two tails after an early stop: the latest two are alike."""
    found = find_fills([digest(EARLY), digest(TAIL, 2), digest(TAIL, 1)])

    assert [card.is_full for card in found.cards] == ["yes", "yes", "no"]
    assert found.cards[0].end_s > found.cards[1].end_s
    assert found.alike == 2


def test_days_since_the_top_are_counted_from_the_fill_before() -> None:
    """A cell at its top on day 0 and 5, none in between: 5 days."""
    cards = find_fills([digest(EARLY), digest(charge(), 3), digest(EARLY, 5)]).cards

    assert cards[0].since_top_days == pytest.approx(5.0, abs=0.05)
    assert cards[1].since_top_days == pytest.approx(3.0, abs=0.05)
    assert math.isnan(cards[2].since_top_days)


def test_a_logbook_without_fills_has_no_cards() -> None:
    """Nothing is made up."""
    found = find_fills([digest(charge().between(0, 100))])

    assert found.cards == ()
    assert found.alike == 0
    assert math.isnan(found.since_top_days)
