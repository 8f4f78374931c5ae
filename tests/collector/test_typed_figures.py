"""Figures typed of pack, board and vehicle: what is read, what can be meant, how it is told."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from collector.alarm_limits import RULES, limits_of
from collector.errors import LogbookError
from collector.typed_figures import FIGURES, check_order, figures_of, read_typed, told

BY_KEY = {(figure.group, figure.key): figure for figure in FIGURES}
IMPERIAL = {"temperature": "F", "mass": "lb"}


def test_each_figure_stands_once_and_says_where_it_is_found() -> None:
    """No key twice in a table; each has words, a unit or its choices, and a place to look."""
    assert len(BY_KEY) == len(FIGURES)
    assert [f.key for f in FIGURES if not (f.words and bool(f.unit) != bool(f.choices)
                                         and f.found)] == []
    assert {f.key for f in figures_of("alarms")} == set(RULES)


@pytest.mark.parametrize(("group", "key", "typed", "units", "kept"), [
    ("pack", "rated_ah", "105", {}, 105.0),
    ("pack", "rated_ah", "62,5 Ah", {}, 62.5),
    ("pack", "cells", "16", {}, 16.0),
    ("limits", "bleed_a", "60 mA", {}, 0.06),
    ("limits", "peak_s", "500 ms", {}, 0.5),
    ("limits", "charge_min_c", "32", IMPERIAL, 0.0),
    ("limits", "charge_min_c", "−10 °C", IMPERIAL, -10.0),
    # 1 lb = 0.453 592 37 kg (NIST SP 811, appendix B.8).
    ("vehicle", "mass_kg", "1000", IMPERIAL, 453.592),
    ("vehicle", "mass_kg", "1000 lb", {}, 453.592),
    ("vehicle", "mass_kg", "520 kg", IMPERIAL, 520.0),
    ("vehicle", "kind", " Boat ", {}, "boat"),
    ("alarms", "out_a", "100", {}, 100.0),
    ("alarms", "out_a", "100 A for 1 min; 200 for 3 s", {},
     [{"limit": 100.0, "for_s": 60.0}, {"limit": 200.0, "for_s": 3.0}]),
    ("alarms", "out_a", "100 and 200 for 3", {}, [{"limit": 100.0}, {"limit": 200.0, "for_s": 3}]),
    ("alarms", "soc_low_pct", "15 %", {}, 15.0)])
def test_a_figure_is_read_as_a_person_types_it(group: str, key: str, typed: str,
                                               units: dict[str, str], kept: object) -> None:
    """Without a unit it is meant in the person's; a decimal comma is one too."""
    assert read_typed(BY_KEY[group, key], typed, units) == kept  # type: ignore[index]


@pytest.mark.parametrize(("group", "key", "typed", "words"), [
    ("pack", "rated_ah", "105000", "105000 Ah is hardly meant — 1 Ah to 3000 Ah is taken"),
    ("pack", "rated_ah", "much", "is not a figure"),
    ("pack", "rated_ah", "105 V", "is no unit"),
    ("pack", "rated_ah", "nan", "is not a figure"),
    ("pack", "rated_ah", "1,050", "could be a thousand"),
    ("pack", "cells", "15.5", "no whole number"),
    ("limits", "cell_high_v", "3600", "hardly meant"),
    ("limits", "charge_min_c", "-200", "hardly meant"),
    ("vehicle", "mass_kg", "-5", "hardly meant"),
    ("vehicle", "kind", "hovercraft", "'hovercraft' is none — type wheels, boat, house"),
    ("alarms", "out_a", "100 for", "is no unit"),
    ("alarms", "out_a", "100 for ever", "is not a figure"),
    ("alarms", "out_a", "100;", "no figure was typed")])
def test_what_cannot_be_meant_is_told_in_one_line(group: str, key: str, typed: str,
                                                  words: str) -> None:
    """A slip of the point, a wrong unit, a word: refused, with what is taken."""
    with pytest.raises(LogbookError, match=words) as error:
        read_typed(BY_KEY[group, key], typed, {})  # type: ignore[index]
    assert "\n" not in str(error.value)


@pytest.mark.parametrize(("group", "table", "words"), [
    ("limits", {"continuous_a": 200, "peak_a": 100}, "200 A is more than peak amps out, 100 A"),
    ("limits", {"cell_low_v": 3.6, "cell_high_v": 2.7}, "more than highest volts"),
    ("alarms", {"cell_low_v": [{"limit": 2.9}, {"limit": 3.7}], "cell_high_v": 3.65}, "3.7 V")])
def test_two_figures_that_contradict_each_other_are_told(group: str, table: dict[str, object],
                                                         words: str) -> None:
    """Peak below continuous, lowest above highest: one of them is mistyped."""
    with pytest.raises(LogbookError, match=words):
        check_order(group, table, {})  # type: ignore[arg-type]
    check_order(group, dict(list(table.items())[:1]), {})  # type: ignore[arg-type]


@settings(derandomize=True, deadline=None)
@given(st.sampled_from(FIGURES), st.floats(0.01, 0.99), st.sampled_from([{}, IMPERIAL]))
def test_what_is_told_is_read_again(figure, share, units) -> None:  # type: ignore[no-untyped-def]
    """A figure told in any units reads back as itself, within the digits that are told."""
    if figure.choices:
        for word in figure.choices:
            assert read_typed(figure, told(figure, word, units), units) == word
        return
    low, high = figure.plausible
    value = float(round(low + share * (high - low))) if figure.is_count else (
        low + share * (high - low))
    again = read_typed(figure, told(figure, value, units), units)

    assert again == pytest.approx(value, rel=1e-3, abs=0.1)


def test_an_alarm_that_was_read_is_one_the_recorder_takes() -> None:
    """The list of limits is what ``[pack.alarms]`` may hold."""
    kept = read_typed(BY_KEY["alarms", "out_a"], "100 for 60 s; 200", {})
    found = limits_of({"pack": [{"alarms": {"out_a": kept}}]}, "", "here")

    assert [limit.words for limit in found] == ["amps out above 100 A for 60 s",
                                                "amps out above 200 A for 3 s"]


@pytest.mark.parametrize(("value", "words"), [
    (None, ""), (True, "True"), ("many", "many"), ([], ""), ({"max": 3}, "{'max': 3}"),
    ({"limit": 100}, "100 A"), ([100, {"limit": 200, "for_s": 2.5}], "100 A; 200 A for 2.5 s")])
def test_whatever_stands_in_the_file_is_told(value: object, words: str) -> None:
    """Also what no form of ours would have written."""
    assert told(BY_KEY["alarms", "out_a"], value, {}) == words
