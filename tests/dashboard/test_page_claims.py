"""Claims: a verdict only where the logs carry it; until then what is needed and a first figure."""

from __future__ import annotations

import re
import tomllib
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from analysis.ahead.claims import Judged, claims_of, judge_peak, parse_claim
from analysis.ahead.range_answer import Wish, find_range
from analysis.estimate import Estimate
from collector.logbook import Logbook
from collector.logfile import write_log
from collector.notes import Note, add_note
from dashboard.pages import claims
from dashboard.pages.claims import promised
from dashboard.quantities import NBSP, Units
from dashboard.shell import Place
from dashboard.store import Store
from tests.analysis.made_trips import DOWN, UP, trip_digest
from tests.dashboard.conftest import new_watched, serve
from tests.dashboard.demo_logs import META, START, drive_table
from tests.dashboard.test_pages import text_of


def judged(days: int, *texts: str) -> list[Judged]:
    digests = [trip_digest([(UP, 120.0 + day % 4), (DOWN, 70.0)], day) for day in range(days)]
    found = find_range(digests, [parse_claim(text) for text in texts], Wish(rated_ah=100.0))
    return list(found.claims)


def drawn(found: list[Judged], store: Store) -> str:
    return text_of(claims.draw(found, store, Place())).replace(NBSP, " ")


@pytest.mark.scenario(13)
def test_one_drive_gives_no_verdict(store: Store) -> None:
    """A seller's 40 miles after one drive: what is needed, the best estimate with its interval,
    cannot tell yet; whatever that drive took."""
    for days in (1, 2):
        [found] = judged(days, "40 miles")
        words = drawn([found], store)

        assert found.verdict == "cannot tell yet"
        assert found.runs_needed == 3 - days
        assert found.so_far is not None
        assert found.so_far.low < 5200 / 95 < found.so_far.high  # 100 Ah at 52 V, about 95 Wh/km
        assert found.so_far.high / found.so_far.low > 1.3
        for each in ("“40 miles” cannot be judged yet.", "Best estimate so far",
                     f"{days}, 3 are needed", "Missing: ", "measured from a full charge down to "
                     "nearly empty: not yet", "Cannot tell yet. ", "90 % sure"):
            assert each in words, each


def test_no_drive_gives_no_figure(store: Store) -> None:
    """Nothing is made up from nothing."""
    [found] = find_range([trip_digest([(UP, 120.0)], with_speed=False)], [parse_claim("40 mi")],
                         Wish(rated_ah=100.0)).claims

    assert found.so_far is None
    assert "0, 3 are needed" in drawn([found], store)


def test_before_the_first_log_a_claim_says_what_it_needs(tmp_path: Path) -> None:
    """What is typed on day one is not lost among "no logs"."""
    book = Logbook.create(tmp_path / "book")
    add_note(book.notes_path, Note(0, "claim", text="seller says 40 miles"))
    store = Store(book)
    claims.QUESTION.work(store, Place())
    store.workings.settle(30)
    words = text_of(claims.QUESTION.content(claims.QUESTION.work(store, Place()), store, Place()))

    assert "“seller says 40 miles” cannot be judged yet." in words
    assert "0, 3 are needed" in words


def test_the_form_stands_before_the_verdict(tmp_path: Path) -> None:
    """The verdict ends the page; what is typed is not drawn anew with the answer."""
    book = Logbook.create(tmp_path / "book")
    add_note(book.notes_path, Note(0, "claim", text="40 miles"))
    store = Store(book)
    claims.QUESTION.work(store, Place())
    store.workings.settle(30)
    shown = text_of(claims.layout(store, Place()))

    assert -1 < shown.find("cannot be judged yet") < shown.find("Type a claim") < shown.find(
        '"className": "verdict"')


def test_enough_drives_decide(store: Store) -> None:
    """100 Ah at 52 V over some 95 Wh/km make 55 km, within a tenth either way: 20 miles hold, 80
    do not; the rating is only typed, and that is said."""
    near, far, middle = judged(12, "20 miles", "80 miles", "55 km")
    words = drawn([near, far, middle], store)

    assert (near.verdict, far.verdict, middle.verdict) == ("yes", "no", "cannot tell yet")
    assert near.rests_on == "12 drives"
    assert "Of 3 claims 1 holds in your use, 1 does not, 1 cannot be judged yet." in words
    assert "Missing: " not in drawn([near, far], store)  # a verdict stands: nothing is missing
    assert "No. " in words
    assert '"as claimed"' in words
    assert claims.ending([near])[0] == "yes"
    assert all(claims.ending(some)[2] for some in ([near], [far], [near, far, middle]))


def test_each_claim_is_drawn_as_a_share_of_itself(store: Store) -> None:
    """55 km found of 110 km claimed is half of it; those that fail are diamonds."""
    [found] = judged(12, "110 km")
    assert isinstance(found.found, Estimate)
    figure = claims._picture([found]).children[0].children.figure  # type: ignore[union-attr]
    dots = {trace.uid: list(trace.x) for trace in figure.data if trace.x is not None}

    assert dots["dot-told"] == [pytest.approx(100 * found.found.value / 110)]
    assert dots["reference"] == [100.0, 100.0]


def test_a_peak_that_flowed_is_measured(store: Store) -> None:
    """What was held needs no interval; what was not is not to be forced."""
    held, open_one = judged(3, "10 A peak", "900 A peak")
    words = drawn([held, open_one], store)

    assert held.verdict == "yes"
    assert "Your logs saw" in words
    assert "stay within the maker's limits" in words
    assert [need.words for need in held.needs] == ["10 A held for 10 s"]
    assert [need.words for need in open_one.needs] == [
        "900 A held for 10 s, within the maker's limits"]


def test_no_claim_teaches(store: Store) -> None:
    """What to type first."""
    assert "Type below what a seller" in drawn([], store)


def test_the_seasons_claims_are_read() -> None:
    """The four of the invented season, with their day."""
    told = claims_of(tomllib.loads('[[claim]]\ndate = 2026-04-02\ntext = "full in 5 h"\n'
                                   'quantity = "charge time"\nvalue = 5\nunit = "h"\n'))
    [found] = judged(3, "5 h")
    facts = list(claims._facts(replace(found, claim=told[0]), Units()))

    assert facts[0].more == "charge time, at most, 2 April 2026"
    assert facts[0].badge == "claimed"


@pytest.mark.scenario(13)
@pytest.mark.browser
def test_a_claim_is_typed_and_judged(browser: Browser, tmp_path: Path) -> None:
    """Type what the seller says; without a new look at the page it is listed and open, for there
    is one drive; it stays a note."""
    book = Logbook.create(tmp_path / "book")
    (book.root / "logbook.toml").write_text('[[pack]]\nname = "main"\nrated_ah = 105\n')
    write_log(book.log_path(book.stem_for(START)), META, drive_table(1200))
    write_log(book.log_path(book.stem_for(START + timedelta(days=1))), META, drive_table(
        1200, seed=2, start=START + timedelta(days=1)))
    served = serve(Store(book))
    watched = new_watched(browser, next(served), "phone")
    page = watched.open("/claims", ".sentence:has-text('Nothing is claimed yet')")
    page.fill("[name=value]", "seller says 40 <b>miles</b>")
    page.keyboard.press("Enter")
    page.wait_for_selector(".told:has-text('Kept')")
    assert "No log" not in page.inner_text(".told:has-text('Kept')")
    page.wait_for_selector("details:has-text('is not a number')")
    page.fill("[name=value]", "seller says 40 miles")
    page.click("text=Keep it")
    page.wait_for_selector(".sentence:has-text('“seller says 40 miles” cannot be judged yet')")

    assert "2, 3 are needed" in page.inner_text(".needs")
    assert "Best estimate so far" in page.inner_text(".facts")
    assert "seller says 40 miles" in book.notes_path.read_text()
    assert watched.complaints == []
    page.context.close()
    served.close()


def test_sentence_and_fact_tell_one_figure(store: Store) -> None:
    """A figure is rounded once, in the person's unit: not in miles first and in kilometres then."""
    for text in ("40 miles", "60 km"):
        for units in (Units(), Units("mi")):
            [found] = judged(12, text)
            fact = list(claims._facts(found, units))[1]
            number_of, unit = fact.figure.split(NBSP)
            low, high = re.findall(r"between (\S+) and (\S+),", fact.more)[0]

            assert f"your own logs say {number_of} {unit} ({low} to {high})" in (
                claims.telling(found, units))


def test_a_peak_beyond_the_board_is_no_leave_to_do_it_again() -> None:
    """212 A flowed where the board is typed with 200 A: the claim holds, and the board may cut out
    there; where it is typed with more, or not at all, nothing is said of it."""
    claim, held = parse_claim("200 A peak"), Estimate(212.0, 212.0, 212.0, "A")

    assert judge_peak(claim, held, 200.0).verdict == "yes"
    assert judge_peak(claim, held, 200.0).words == (
        "“200 A peak” holds: 212 A flowed for 10 s. That is beyond the 200 A that are typed of the "
        "board, where it may cut out: do not ask for as much again.")
    assert judge_peak(claim, held, 300.0).words == "“200 A peak” holds: 212 A flowed for 10 s."
    assert judge_peak(claim, held) == judge_peak(claim, held, 212.5)


def test_a_claim_in_miles_is_told_in_ones_own_units(store: Store) -> None:
    """40 mi are 64.37 km (NIST SP 811, appendix B.8), told as finely as they were said: what was
    said is quoted, figures follow the person; the hours of a charge stay as typed."""
    [found] = judged(12, "40 miles")
    metric, imperial = (list(claims._facts(found, units)) for units in (Units(), Units("mi")))

    assert [each[0].figure for each in (metric, imperial)] == [f"64{NBSP}km", f"40{NBSP}mi"]
    assert metric[1].figure.endswith("km")
    assert imperial[1].figure.endswith("mi")
    assert promised(parse_claim("8 miles"), Units()) == f"13{NBSP}km"
    assert promised(parse_claim("120.5 km"), Units("mi")) == f"74.88{NBSP}mi"
    assert promised(parse_claim("5 h"), Units()) == f"5{NBSP}h"
    assert promised(parse_claim("0.5 mi"), Units()) == f"0.80{NBSP}km"
    assert "“40 miles”: " in drawn([found], store)
    assert " km (" in drawn([found], store)
    assert next(claims._facts(judged(3, "300 min")[0], Units("mi"))).figure == f"300{NBSP}min"
