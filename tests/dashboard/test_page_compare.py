"""Compare: days before and after a change, in pairs, with what else may have differed."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from functools import lru_cache
from pathlib import Path

import plotly.graph_objects as go
import pytest

from analysis.ahead.compare import compare_digests
from analysis.ahead.consumption import Conditions
from analysis.ahead.routes import day_of
from analysis.ahead.speed_bands import LogBands, speed_bands
from analysis.asking.book import Book
from analysis.asking.changes import AcrossChange, NotedChange, ask_across, noted_changes
from analysis.asking.questions import Compared
from analysis.digest import LogDigest
from collector.logbook import Logbook
from collector.notes import Note, add_note
from dashboard.figures.before_after import Pace, by_speed, slopes
from dashboard.pages import compare
from dashboard.quantities import NBSP, Units
from dashboard.shell import Place
from dashboard.store import Store
from tests.analysis.made_trips import CONTROLLER, DOWN, UP, lived, trip_digest
from tests.dashboard.test_pages import text_of

SPLIT = Place(query={"split": "2026-05-10"})


def compared(before: list[LogDigest], after: list[LogDigest]) -> Compared:
    return Compared(compare_digests(before, after), *(
        speed_bands(d.of(LogBands) for d in side) for side in (before, after)))


@lru_cache
def across(after_share: float, days: int = 6) -> AcrossChange:
    """The same ways on days before and after; after it takes such a share, one day as another."""
    def day(number: int, share: float) -> LogDigest:
        wobble = 1 + 0.02 * (number % 3)
        return trip_digest([(UP, 120.0 * share * wobble), (DOWN, 70.0 * share * wobble)] * 3,
                           number, celsius=18.0 + (5.0 if share != 1 else 0.0))

    old = [day(n, 1.0) for n in range(days)]
    new = [day(n + 10, after_share) for n in range(days)]
    return AcrossChange(compared(old, new), (NotedChange(date(2026, 5, 10), "new <b>tyres</b>"),))


def drawn(found: AcrossChange, store: Store, place: Place = SPLIT) -> str:
    return text_of(compare.draw(found, store, place)).replace(NBSP, " ")


def trace(figure: go.Figure, name: str) -> go.Scatter:
    return next(part for part in figure.data if part.uid == name)


def test_a_change_that_helped_is_told_with_its_interval(store: Store) -> None:
    """A quarter less on like days: sentence, sides, chance, confounder, verdict."""
    words = drawn(across(0.75), store)

    for each in ("It helped: consumption −25 % (", "over 6 pairs of days on the same ways",
                 "6 of 6 took less after", "Load and wind are not in the logs",
                 "The paired days after were 5 degrees warmer", "Yes. ", "no change",
                 "at least, if the control before was a resistor", "6 to 8 km/h"):
        assert each in words, each


def test_a_change_that_did_nothing_is_not_decided(store: Store) -> None:
    """Within the wobble of days nobody can tell; the page says how many more would."""
    found = across(1.001)
    verdict, _, then = compare.ending(found.compared.change)  # type: ignore[union-attr]

    assert verdict == "cannot tell yet"
    assert "Cannot tell yet" in drawn(found, store)
    assert then == "" or "more day" in then


def test_too_few_days_teach(store: Store) -> None:
    """Two pairs give no interval: one more day of the side that has fewer."""
    found = across(0.75, 2)
    words = drawn(found, store)

    assert "Cannot tell yet: pairs of days on the same ways: 2, too few" in words
    assert "about 1 more day of" in words
    assert "compare-pairs" not in words


def test_pairs_are_told_whole() -> None:
    """Each pair carries its days and figures, and their mean ratio is the change."""
    found = across(0.75).compared
    assert found is not None
    pairs = found.change.paired

    assert len(pairs) == found.change.pairs == 6
    assert all(pair.before < "2026-05-10" < pair.after for pair in pairs)
    assert all(pair.after_rate / pair.before_rate == pytest.approx(0.75, abs=0.03)
               for pair in pairs)
    assert found.change.as_json()["paired"][0]["before"] == pairs[0].before


def test_without_a_day_the_noted_changes_are_offered(store: Store) -> None:
    """Ways to each; text is never markup."""
    found = AcrossChange(None, across(0.75).noted)
    words = drawn(found, store, Place())

    assert words.startswith('[{"props": {"children": "Type the day')
    assert "?split=2026-05-10" in words
    assert "10 May 2026: new <b>tyres</b>" in words
    assert '"type": "B"' not in words


@pytest.mark.parametrize("text", ["", "yesterday", "2026-13-01", "<b>", "9" * 300])
def test_what_is_no_day_asks_nothing(text: str) -> None:
    """A senseless day is as none."""
    assert compare.day_of(Place(query={"split": text})) is None


def test_notes_of_parts_changed_are_the_choices(tmp_path: Path) -> None:
    """The newest first, those of a day together; other notes are none; no log is read for it."""
    book = Logbook.create(tmp_path / "book")
    for day, kind, words in ((1, "part-changed", "tyres"), (1, "part-changed", "lug"),
                             (2, "text", "rain"), (3, "part-changed", "control")):
        add_note(book.notes_path, Note(round(datetime(2026, 6, day, 12, tzinfo=UTC).timestamp()
                                             * 1000), kind, text=words))
    asked = ask_across(Book.open(book.root), None).answer

    assert [(change.day.day, change.words) for change in asked.noted] == [
        (3, "control"), (1, "tyres; lug")]
    assert asked.compared is None
    assert noted_changes([]) == ()


def test_by_what_days_were_paired_is_told(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    """Names as they were typed, in no other unit; else what the trips tell."""
    monkeypatch.setattr(Store, "units", Units("mi", "F"))
    old, new = ([trip_digest([(UP, rate)], first + n) for n in range(4)]
                for rate, first in ((150.0, 0), (120.0, 10)))
    noted = {d.log: Conditions(route="5 km round") for d in (*old, *new)}
    named = Compared(compare_digests(old, new, noted), (), ())

    assert "Pairs of days: 4 on “5 km round”, as noted." in drawn(AcrossChange(named, ()), store)
    assert "Pairs of days: 6 on ways known again by their length and speeds." in drawn(
        across(0.75), store)


def test_who_noted_load_and_wind_is_not_asked_to(store: Store) -> None:
    """What differs by the notes is told in one's own units; the rest of the page asks no more."""
    old, new = ([trip_digest([(UP, rate)], first + n) for n in range(4)]
                for rate, first in ((150.0, 0), (120.0, 10)))
    noted = {d.log: Conditions(extra_load_kg=0.0 if d in old else 60.0, wind_m_s=2.0)
             for d in (*old, *new)}
    found = Compared(compare_digests(old, new, noted), (), ())
    words = drawn(AcrossChange(found, ()), store)

    assert "60 kg more on board after, by your notes." in words
    assert "not in the logs" not in words
    assert compare.ending(found.change)[2] == ""
    assert "note load and wind" in compare.ending(across(0.75).compared.change)[2]  # type: ignore[union-attr]


def test_other_changes_limit_the_days(store: Store) -> None:
    """The page says which; where the days after are over, nobody is told to drive more of them."""
    found = across(0.75)
    limited = replace(found, earlier=NotedChange(date(2026, 5, 1), "5 km <b>tyres</b>"),
                      later=NotedChange(date(2026, 5, 16), ""))
    words = drawn(limited, store)

    assert ("Only days since “5 km <b>tyres</b>” on 1 May 2026 and before “a change” on 16 May "
            "2026 are compared") in words
    assert "Only days" not in drawn(found, store)
    few = across(0.75, 2).compared
    assert few is not None
    assert "more day" in compare.ending(few.change)[2]
    assert "change one thing only" in compare.ending(few.change, is_over=True)[2]


def test_units_are_the_persons(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    """Miles and Fahrenheit: a difference of 5 °C is 9 °F; 1 mi = 1.609344 km (NIST SP 811)."""
    found = across(0.75)
    metric = next(compare._facts(found.compared.change, Units()))  # type: ignore[union-attr]
    monkeypatch.setattr(Store, "units", Units("mi", "F"))
    words = drawn(found, store)
    miles = next(compare._facts(found.compared.change,  # type: ignore[union-attr]
                                Units("mi", "F")))

    assert "9 degrees warmer" in words
    assert "4 to 5 mph" in words
    assert float(miles.figure.split(NBSP)[0]) == pytest.approx(
        1.609344 * float(metric.figure.split(NBSP)[0]), rel=0.01)


def test_before_and_after_differ_by_shape_and_place() -> None:
    """Hollow, dashed, left against filled, solid, right; the band is what coils burnt."""
    figure = slopes([(120.0, 90.0), (110.0, 95.0)], "Wh/km")
    speeds = by_speed([Pace(2.0, 1000.0, 900.0), Pace(10.0, 1400.0, 300.0)],
                      [Pace(2.0, 150.0, 0.0)], "km/h")

    assert list(trace(figure, "open-before").x) == [0.0, 0.0]
    assert list(trace(figure, "after").y) == [90.0, 95.0]
    assert list(trace(figure, "pair").y) == [120.0, 90.0, None, 110.0, 95.0, None]
    assert trace(speeds, "before").line.dash == "dash"
    assert trace(speeds, "after").line.dash == "solid"
    assert list(trace(speeds, "band").y) == [1000.0, 1400.0, 1100.0, 100.0]
    assert slopes([], "Wh/km").layout.yaxis.range[0] < 0
    low, high = slopes([(100.0, 101.0)], "Wh/km").layout.yaxis.range
    assert high - low > 30


@pytest.mark.slow
def test_the_new_controller_helped(store: Store) -> None:
    """12 June of the invented season: about a quarter less, between a fifth and thirty percent."""
    digests = lived(1, CONTROLLER)
    old, new = ([d for d in digests if (day_of(d) < date(2026, 6, 12)) == is_old]
                for is_old in (True, False))
    found = compared(old, new)
    words = drawn(AcrossChange(found, ()), store)

    assert found.change.verdict == "yes"
    assert -30 < found.change.change_pct.value < -19  # type: ignore[union-attr]
    assert "It helped" in words
    assert found.before[0].least_burnt > 0.5
