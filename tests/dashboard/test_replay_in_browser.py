"""Replay in a real browser: the pen, its clock, looking closer."""

from __future__ import annotations

import pytest

from collector.logbook import Logbook
from tests.dashboard.browsing import clock, open_drive, settle, until
from tests.dashboard.conftest import Watched

pytestmark = pytest.mark.browser


def test_the_pen_moves_by_keyboard(watched: Watched, logbook: Logbook) -> None:
    """Arrows go 5 s, with Shift a minute, Home and End to the ends."""
    page = open_drive(watched, logbook)
    first = clock(page)
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Shift+ArrowRight")
    settle(page, "09:30:05")
    page.keyboard.press("End")
    settle(page, "09:56:29")
    page.keyboard.press("Home")
    settle(page, first)

    assert first == "09:29:00"


def test_playing_runs_at_the_chosen_speed(watched: Watched, logbook: Logbook) -> None:
    """At 100 times, a second on the wall is about a hundred in the log; Space stops it."""
    page = open_drive(watched, logbook)
    page.click("[data-speed='100']")
    page.evaluate("document.activeElement.blur()")
    page.keyboard.press(" ")
    page.wait_for_timeout(1000)
    page.keyboard.press(" ")
    reached_s = page.evaluate("replay.time")

    assert 60 < reached_s < 160
    assert page.inner_text("#play") == "Play"
    assert page.get_attribute("[data-speed='100']", "aria-pressed") == "true"
    page.wait_for_timeout(200)
    assert page.evaluate("replay.time") == reached_s


def test_nothing_is_asked_of_the_server_for_each_frame(watched: Watched, logbook: Logbook) -> None:
    """A second of playing takes a handful of blocks, not a request a frame."""
    page = open_drive(watched, logbook)
    before = len(watched.requests)
    page.click("#play")
    page.wait_for_timeout(1000)

    assert len(watched.requests) - before <= 3


def test_in_a_gap_nothing_is_read_out(watched: Watched, logbook: Logbook) -> None:
    """The figures say "no record", and the sentence says what happened."""
    page = open_drive(watched, logbook)
    page.evaluate("replay.seek(830)")
    settle(page, "09:42:50")

    assert page.inner_text("[data-reading=amps]") == "no record"
    assert page.inner_text("[data-reading=cells]") == "no record"
    assert "the cable was pulled" in page.inner_text("#moment-sentence")


def test_a_gap_is_passed_within_seconds(watched: Watched, logbook: Logbook) -> None:
    """Playing does not sit out a gap in which nothing is to be seen."""
    page = open_drive(watched, logbook)
    page.evaluate("replay.seek(745)")
    page.click("#play")
    until(page, "-replay.time", -905)

    assert page.evaluate("replay.gaps") == [[749, 900]]


def test_a_place_in_the_list_takes_the_pen_there(watched: Watched, logbook: Logbook) -> None:
    """A mark is a button; text that a person wrote is text and never markup."""
    page = open_drive(watched, logbook)
    page.click("text=top of the ramp")
    settle(page, "09:35:39")

    assert "<b>gate</b>" in page.inner_text(".seeks")
    assert page.query_selector(".seeks b, .strips b") is None


def test_looking_closer_brings_finer_points(watched: Watched, logbook: Logbook) -> None:
    """Zoomed in, the server sends the samples of the stretch; the whole drive comes back."""
    page = open_drive(watched, logbook)
    graph = "document.querySelector('.js-plotly-plot')"
    page.evaluate("replay.seek(300)")
    for _ in range(4):
        before = page.evaluate(f"{graph}._fullLayout.xaxis.range.map(Number)")
        page.click("#closer")
        until(page, f"{graph}._fullLayout.xaxis.range[1] - {graph}._fullLayout.xaxis.range[0]",
               (before[1] - before[0]) * 0.51)
    low, high = page.evaluate(f"{graph}._fullLayout.xaxis.range.map(Number)")
    drawn = page.evaluate(f"Array.from({graph}._fullData.find(t => t.uid === 'volts').x)")

    assert low < 300 < high
    assert len([s for s in drawn if low <= s <= high]) == pytest.approx(high - low, abs=2)
    page.click("#whole")
    until(page, f"-({graph}._fullLayout.xaxis.range[1])", -1600)


def test_dragging_along_a_strip_looks_closer(watched: Watched, logbook: Logbook) -> None:
    """The view becomes the stretch that was dragged over; a mere click moves the pen."""
    page = open_drive(watched, logbook)
    graph = "document.querySelector('.js-plotly-plot')"
    box = page.locator(".strips .nsewdrag").first.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + box["width"] * 0.2, box["y"] + 40)
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] * 0.4, box["y"] + 40, steps=8)
    page.mouse.up()
    until(page, f"{graph}._fullLayout.xaxis.range[1]", 700)
    page.mouse.click(box["x"] + box["width"] * 0.5, box["y"] + 40)

    low, high = page.evaluate(f"{graph}._fullLayout.xaxis.range.map(Number)")
    assert page.evaluate("replay.time") == pytest.approx((low + high) / 2, rel=0.02)


def test_the_pen_stands_where_its_time_is(watched: Watched, logbook: Logbook) -> None:
    """plotly's private figures for the axis still mean what the pen takes them for."""
    page = open_drive(watched, logbook)
    page.evaluate("replay.seek(replay.duration / 2)")
    box = page.locator(".strips .nsewdrag").first.bounding_box()
    pen = page.locator(".pen").bounding_box()

    assert box is not None
    assert pen is not None
    assert pen["x"] == pytest.approx(box["x"] + box["width"] / 2, abs=2)
