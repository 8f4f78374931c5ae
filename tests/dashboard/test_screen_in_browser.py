"""What each person chooses for the screen: colours, units, motion, print."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Browser

from collector.logbook import Logbook
from tests.dashboard.browsing import READY, choose, open_drive
from tests.dashboard.conftest import Watched, new_watched

pytestmark = pytest.mark.browser


def test_the_theme_is_kept(watched: Watched, logbook: Logbook) -> None:
    """Each theme paints page and lines at once, without a request, and the next page keeps it."""
    page = open_drive(watched, logbook)
    paint = ("getComputedStyle(document.querySelector('.tracevolts .js-line')).stroke"
             " + getComputedStyle(document.documentElement).backgroundColor")
    asked = len(watched.requests)
    seen = {}
    for theme in ("light", "dark", "sunlight", "night"):
        choose(page, "theme", theme)
        seen[theme] = page.evaluate(paint)
    assert len(watched.requests) == asked
    page.reload()
    page.wait_for_selector(READY)

    assert len(set(seen.values())) == 4
    assert page.evaluate(paint) == seen["night"]
    page.click("#choices summary")
    assert page.input_value("#choice-theme") == "night"
    choose(page, "theme", "")
    assert page.evaluate(paint) == seen["light"]


def test_there_is_no_flash(watched: Watched, logbook: Logbook) -> None:
    """The chosen colours stand before anything is drawn: the script comes before the body."""
    page = open_drive(watched, logbook)
    choose(page, "theme", "night")
    page.add_init_script("document.addEventListener('readystatechange', () => { window.grounds = "
                         "(window.grounds || []).concat(getComputedStyle("
                         "document.documentElement).backgroundColor) })")
    page.reload()

    assert set(page.evaluate("grounds")) == {"rgb(0, 0, 0)"}


def test_units_are_each_persons_own(browser: Browser, address: str, logbook: Logbook) -> None:
    """Miles, degrees Fahrenheit and miles for each kilowatt-hour in one browser, not in another;
    the logbook is not touched. 1 mi = 1.609344 km (NIST SP 811, appendix B.8)."""
    before = (logbook.root / "logbook.toml").read_bytes()
    one = new_watched(browser, address)
    page = open_drive(one, logbook)
    km = [float(n) for n in re.findall(r"([\d.]+)\s(?:km|Wh/km)", page.inner_text(".opening"))]
    for name, value in (("distance", "mi"), ("temperature", "F"), ("consumption", "mi/kWh")):
        with page.expect_navigation():
            choose(page, name, value)
        page.wait_for_selector(READY)
    mi = [float(n) for n in re.findall(r"([\d.]+)\smi\b", page.inner_text(".opening"))]
    units = page.inner_text("#lane-temperature .unit"), page.inner_text("#lane-speed .unit")
    other = open_drive(new_watched(browser, address), logbook)

    assert mi[0] == pytest.approx(km[0] / 1.609344, abs=0.06)
    assert mi[1] == pytest.approx(1000 / (km[1] * 1.609344), abs=0.06)
    assert units == ("°F", "mph")
    assert "km" in other.inner_text(".opening")
    assert (logbook.root / "logbook.toml").read_bytes() == before
    page.context.close()
    other.context.close()


def test_with_reduced_motion_the_pen_steps_once_a_second(browser: Browser, address: str,
                                                         logbook: Logbook) -> None:
    """Nothing moves by itself, and when played the pen steps instead of gliding."""
    watched = new_watched(browser, address, reduced_motion="reduce")
    page = open_drive(watched, logbook)
    page.evaluate("window.places = new Set(); new MutationObserver(() => "
                  "places.add(document.querySelector('.pen').style.transform)).observe("
                  "document.querySelector('.pen'), {attributes: true})")
    page.click("#play")
    page.wait_for_timeout(1600)

    assert page.evaluate("places.size") in (1, 2)
    page.context.close()


def test_it_prints_black_on_white(watched: Watched, logbook: Logbook) -> None:
    """Whatever the theme, paper is white and what only a screen can do is left out."""
    page = open_drive(watched, logbook)
    choose(page, "theme", "night")
    page.emulate_media(media="print")

    assert page.evaluate("getComputedStyle(document.body).color") == "rgb(0, 0, 0)"
    assert page.evaluate("getComputedStyle(document.documentElement).backgroundColor") == (
        "rgb(255, 255, 255)")
    assert not page.is_visible("#choices")
    assert not page.is_visible("#play")


def test_forced_colours_are_taken(browser: Browser, address: str, logbook: Logbook) -> None:
    """Where the system forces its colours, lines and text are drawn in them."""
    watched = new_watched(browser, address, forced_colors="active")
    page = open_drive(watched, logbook)
    line = "document.querySelector('.tracevolts .js-line')"
    stroke = page.evaluate(f"getComputedStyle({line}).stroke")
    text = page.evaluate("getComputedStyle(document.body).color")

    assert stroke == text
    page.context.close()


def test_on_a_phone_the_way_one_is_at_is_in_sight(browser: Browser, address: str) -> None:
    """The last page of a group stands at the end of a menu that is wider than the screen."""
    watched = new_watched(browser, address, "phone")
    page = watched.open("/parked", "#menu .siblings [aria-current]")
    page.wait_for_function(
        "document.querySelector('#menu .siblings [aria-current]').getBoundingClientRect().right"
        " <= window.innerWidth + 1")
    watched.page.context.close()
