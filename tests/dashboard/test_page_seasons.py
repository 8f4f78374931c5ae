"""The page Seasons: what the pack holds, whether it faded, what stepped and when."""

from __future__ import annotations

from dataclasses import replace

import pytest

from analysis.estimate import Estimate, NoEstimate
from analysis.season.day_use import DAY_S, ToldDay
from analysis.season.fade import YEAR_S
from analysis.season.findings import ChangePoint, SeasonFinding
from analysis.season.resistance_trend import ColdLog, ResistanceTrend
from analysis.season.summary import Season, find_season
from dashboard.pages import seasons
from dashboard.quantities import NBSP, Units
from dashboard.shell import Place
from dashboard.store import Store
from tests.analysis.made_packs import charged_full, later, run_empty
from tests.dashboard.test_pages import text_of

DAY_H = 24.0


@pytest.fixture(scope="module")
def season() -> Season:
    """Full and then empty, five times in a year."""
    full, empty = charged_full(), run_empty()
    logs = [later(one, 90 * DAY_H * quarter) for quarter in range(5) for one in (full, empty)]
    return find_season(logs, rated_ah=100.0)


def page(found: Season, store: Store) -> str:
    return text_of(seasons.draw(found, store, Place()))


def cold(season: Season) -> Season:
    trend = ResistanceTrend(
        (0.0, 86_400.0), (16.0, 16.2), (0.3, 0.3), Estimate.around(16.1, 0.2, "mohm"),
        Estimate.around(0.4, 0.8, "%/yr"), -0.03, (ColdLog(86_400.0, 3.0, 0.45, 0.01),))
    return replace(season, resistance=trend)


def test_a_pack_that_did_not_fade_stays_open(season: Season, store: Store) -> None:
    """Five alike tests: not yet distinguishable, with the earliest date at which it could be."""
    told, words, then = seasons.ending(season)

    assert told == "cannot tell yet"
    assert "not yet distinguishable" in words
    assert "at the earliest" in words
    assert "full until the pack is empty" in then
    assert "not yet distinguishable" in page(season, store)


def test_a_drive_that_hardly_knows_its_resistance_hides_no_other(
        season: Season, store: Store) -> None:
    """It is left out of the picture, and that is said; where all are known well nothing is."""
    known = cold(season)
    vague = replace(known, resistance=replace(known.resistance, sd_mohm=(0.3, 30.0)))

    assert "Left out, for they hardly tell it: 1." in page(vague, store)
    assert "Left out" not in page(known, store)


def test_a_loss_is_told_with_its_interval(season: Season) -> None:
    """Yes, by so much, so sure; and what to measure next."""
    lost = replace(season.fade, verdict="yes", change_ah=Estimate.around(-2.3, 1.7, "Ah"),
                   words="The pack has lost capacity: so much.")
    told, words, _ = seasons.ending(replace(season, fade=lost))

    assert told == "yes"
    assert words == f"It has lost between 0.6 and 4.0{NBSP}Ah, 95{NBSP}% sure."


def test_one_test_says_what_is_missing(season: Season, store: Store) -> None:
    """A single capacity is no fade: the next test is asked for."""
    found = find_season([charged_full(), run_empty()], rated_ah=100.0)
    told, _, then = seasons.ending(found)

    assert told == "cannot tell yet"
    assert "test again" in then
    assert page(found, store).count("seasons-capacity") == 1


def test_without_tests_the_page_teaches(store: Store) -> None:
    """No span between known charges: one line says how to get one."""
    assert "Fill fully, then drive to the knee" in page(find_season([charged_full()]), store)


def test_the_band_reaches_ahead_of_the_last_test(season: Season) -> None:
    """Solid as far as was tested, dotted ahead, wider there; 80 percent in sight."""
    line = seasons.fade_band(season.fade.line)

    assert line is not None
    ahead_s = line.moment_s[-1] - line.seen_until_s
    assert ahead_s == pytest.approx(0.5 * (line.seen_until_s - line.moment_s[0]))
    assert ahead_s > 0.4 * YEAR_S
    assert line.high[-1] - line.low[-1] > line.high[0] - line.low[0]
    assert season.fade.level_ah == 80.0
    assert seasons.fade_band(None) is None


def test_cold_is_told_from_old(season: Season, store: Store) -> None:
    """A cold morning explains itself, and asks nobody to charge in frost."""
    told = page(cold(season), store)

    assert f"at 3{NBSP}°C the resistance was 45{NBSP}% above" in told
    assert "cold, not old" in told
    assert f"Do not charge below 0{NBSP}°C" in told


def test_degrees_follow_the_person(season: Season) -> None:
    """3 degC is 37 degF (t/°F = 1.8 t/°C + 32, NIST SP 811)."""
    told = text_of(seasons._resistance(cold(season), Units(temperature="F")))

    assert f"at 37{NBSP}°F the resistance" in told
    assert f"mΩ at 68{NBSP}°F" in told
    labels = [fact.label for fact in seasons._facts(season, Units(temperature="F"))]
    assert f"Resistance at 68{NBSP}°F" in labels


def test_what_is_open_comes_first_and_what_is_over_is_folded(season: Season,
                                                             store: Store) -> None:
    """A drag seen until the end is open; last month's lamp is behind the fold."""
    day_s, end_s = 86_400.0, season.end_s
    open_still, over = (SeasonFinding("any", "yes", end_s - 60 * day_s, words, NoEstimate("", ""),
                                      "mend it", last_s)
                        for words, last_s in (("something drags", end_s - day_s),
                                              ("a lamp was on", end_s - 20 * day_s)))
    told = page(replace(season, findings=(over, open_still), change_points=()), store)
    none = page(replace(season, findings=(), change_points=()), store)

    assert told.index("Something drags") < told.index("1 that are over") < (
        told.index("A lamp was on"))
    assert "Nothing stands out now." in none
    assert "that are over" not in none


def test_a_cold_morning_is_told_once(season: Season, store: Store) -> None:
    """Beside the resistance, and not again among what happened."""
    morning = SeasonFinding("cold_not_old", "yes", season.end_s, "cold, not old, again",
                            NoEstimate("", ""), "wait for warmth")

    assert "cold, not old, again" not in page(replace(season, findings=(morning,)), store)


def test_what_happened_is_listed_newest_first(season: Season, store: Store) -> None:
    """Findings with verdict and next; a step that a finding explains is told once."""
    finding = SeasonFinding("display_setting", "yes", 86_400.0, "the setting went from 105 to 100",
                            NoEstimate("", ""), "multiply first")
    steps = (ChangePoint("display_setting", 86_400.0, 105, 100, "Ah", "told twice"),
             ChangePoint("resistance", 172_800.0, 18, 17, "mohm", "a joint was mended"))
    told = page(replace(season, findings=(finding,), change_points=steps), store)

    assert told.index("The setting went from 105 to 100") < told.index("A joint was mended")
    assert "told twice" not in told.lower()
    assert "multiply first" in told


def test_each_day_of_use_is_a_tick(season: Season, store: Store) -> None:
    """Five discharges, five days."""
    assert len(season.use) == 5
    assert "A tick for each of 5 days with use" in page(season, store)


def test_typed_days_are_told_apart_from_logged_ones(store: Store) -> None:
    """Two years: the second known from the display alone, with its way and what it took."""
    log = run_empty()
    day_s = log.start_s // DAY_S * DAY_S
    days = [ToldDay(day_s + n * DAY_S, 20.0, 1000.0, 10_000.0) for n in range(300, 320)]
    told = page(find_season([charged_full(), log], rated_ah=100.0, told=days), store)

    assert "A tick for each of 21 days with use. 20 of them were typed" in told
    for words in ("Year by year", "2027", f"200{NBSP}km", f"100{NBSP}Wh/km",
                  "out on 20 days off the display"):
        assert words in told


def test_a_boat_is_told_hours_and_no_way(store: Store) -> None:
    """Without any distance the years tell hours in use, and no kilometre."""
    log = run_empty()
    day_s = log.start_s // DAY_S * DAY_S
    days = [ToldDay(day_s + n * DAY_S, 20.0, used_h=3.5) for n in range(300, 320)]
    told = page(find_season([charged_full(), log], rated_ah=100.0, told=days), store)

    assert "Hours in use" in told
    assert f"70{NBSP}h" in told
    assert f"{NBSP}km" not in told
    assert '"km"' not in told


def test_one_year_is_not_compared(season: Season, store: Store) -> None:
    """A table of one row says nothing."""
    assert "Year by year" not in page(replace(season, years=season.years[:1]), store)


def test_the_ledger_counts_what_warranties_ask(season: Season, store: Store) -> None:
    """Cycles, charges to the top, peaks, days without one; what nobody logged is left out."""
    told = page(season, store)

    for words in ("Full cycles so far", "Days at the top", "once 89 days without",
                  "Most amps out", "Worst ten minutes, RMS"):
        assert words in told
    assert "nan" not in told


def test_figures_say_where_they_come_from(season: Season, store: Store) -> None:
    """Formula, inputs and source behind capacity, resistance, efficiency and cycles."""
    told = page(season, store)

    for words in ("Plett, Journal of Power Sources 196 (2011) 2319", "within 1", "claimed",
                  "amp-hours out ÷ rated amp-hours"):
        assert words in told
