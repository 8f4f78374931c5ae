"""The pages in a real browser: offline, usable by keyboard, right at every size."""

from __future__ import annotations

import gzip
from pathlib import Path

import plotly.offline
import pytest
from playwright.sync_api import Browser

from collector.logbook import Logbook
from dashboard.store import Store
from dashboard.theme import THEMES
from tests.dashboard.browsing import READY, open_drive, until
from tests.dashboard.conftest import SIZES, Watched, new_watched, serve
from tests.dashboard.demo_logs import newest_stem

pytestmark = pytest.mark.browser

AXE = gzip.decompress((Path(__file__).parents[1] / "data" / "axe" / "axe.min.js.gz").read_bytes())
AXE_TAGS = "['wcag2a','wcag2aa','wcag21a','wcag21aa','wcag22aa','best-practice']"
#: What can be pressed and is smaller than a thumb; links within a sentence are not meant.
SMALL_TARGETS = """[...document.querySelectorAll(
    'button, select, summary, input, textarea, nav a, a.log-row, .note a')]
    .filter((part) => part.offsetParent && !part.closest('p'))
    .filter((part) => { const box = part.getBoundingClientRect();
                        return box.height < 47.5 || box.width < 38; })
    .map((part) => part.outerHTML.slice(0, 90))"""
PLACES = {"now": ("/", "h1"), "drives": ("/drives", "a.log-row"), "drive": ("", READY),
          "diary": ("/diary", ".note"),
          "reach": ("/reach?load=50", ".verdict"),
          "claims": ("/claims", ".verdict"), "compare": ("/compare?split=2026-04-03", ".verdict"),
          "parts": ("/parts", ".verdict"), "part": ("/parts?kind=breaker", ".part-form"),
          "limits": ("/limits", ".verdict"), "limit": ("/limits?type=alarms", ".part-form"),
          "fills": ("/fills", ".verdict"), "cells": ("/cells", ".verdict"),
          "joints": ("/joints", ".verdict"), "seasons": ("/seasons", ".verdict"),
          "guide": ("/guide", "a.path"), "guided": ("/guide?guide=test", ".sentence"),
          "checks": ("/checks", "a.path"), "check": ("/checks?path=fitting", ".card"),
          "papers": ("/papers", ".verdict"), "share": ("/share", ".verdict"),
          "begin": ("/begin", ".way-in"), "bench": ("/bench", "#look"),
          "bring": ("/bring", "input[type=file]"),
          "display": ("/display?amps=-23&percent=91&hours=3:10", ".verdict")}


def place(name: str, logbook: Logbook) -> tuple[str, str]:
    path, ready = PLACES[name]
    return path or f"/drives/{newest_stem(logbook)}", ready


@pytest.mark.parametrize("size", ["desk", "phone"])
@pytest.mark.parametrize("name", list(PLACES))
def test_a_page_meets_the_access_rules(browser: Browser, address: str, logbook: Logbook,
                                       size: str, name: str) -> None:
    """axe-core finds no breach of WCAG 2.2 A and AA in any theme, with the choices open too; no
    page scrolls sideways or goes elsewhere by itself; on a phone whatever is pressed is 48 px at
    least."""
    watched = new_watched(browser, address, size)
    page = watched.open(*place(name, logbook))
    page.wait_for_timeout(300)
    assert page.url == address + place(name, logbook)[0]
    if size == "phone":
        assert page.evaluate(SMALL_TARGETS) == []
    page.click("#choices summary")
    page.evaluate(AXE.decode())
    for theme in set(THEMES) - {""}:
        page.select_option("#choice-theme", theme)
        found = page.evaluate(f"axe.run(document, {{runOnly: {AXE_TAGS}}})")
        assert [(v["id"], [n["target"] for n in v["nodes"]]) for v in found["violations"]] == []
        assert page.evaluate("document.documentElement.scrollWidth") <= SIZES[size]["width"], theme

    assert watched.outside == []
    assert watched.complaints == []
    page.context.close()


def test_only_the_small_plotly_is_fetched(watched: Watched, logbook: Logbook) -> None:
    """The cartesian build in the assets is used, and it is the one that the figures expect."""
    page = open_drive(watched, logbook)

    assert page.evaluate("Plotly.version") == plotly.offline.get_plotlyjs_version()
    assert [r for r in watched.requests if r.split("?")[0].endswith("/plotly.min.js")] == []
    assert page.query_selector("[data-title*=Share], .modebar-btn") is None


def test_an_empty_logbook_teaches(browser: Browser, empty_book: Path) -> None:
    """Each page says in one line what to do next."""
    served = serve(Store(Logbook.open(empty_book)))
    watched = new_watched(browser, next(served))

    idle = watched.open("/", ".sentence").inner_text(".sentence")
    assert "start on the Bench" in idle
    assert watched.page.inner_text(".onward a >> nth=0") == "Record on the Bench"
    assert "packhand\N{NO-BREAK SPACE}record" in watched.page.inner_text("main")
    assert "Bring a file" in watched.open("/drives", ".sentence").inner_text(".sentence")
    watched.open("/seasons", ".sentence")
    watched.page.wait_for_selector(".sentence a[href='/bring']")
    assert str(empty_book) not in watched.page.inner_text("body")
    assert watched.complaints == []
    watched.page.context.close()
    served.close()


def test_a_wrong_address_says_so(watched: Watched) -> None:
    """A log that is not there gives a sentence and a way back."""
    page = watched.open("/drives/2020-01-01T00-00-00Z", "h1")

    assert "no such log" in page.inner_text("main")
    assert "no such page" in watched.open("/nowhere", "h1").inner_text("h1")


def test_titles_follow_the_page(watched: Watched, logbook: Logbook) -> None:
    """A tab's title names the page (WCAG 2.2, criterion 2.4.2)."""
    page = watched.open("/drives", "a.log-row")
    until(page, "document.title.startsWith('Drives') ? 0 : 1", 0)
    page.click("a.log-row >> nth=0")
    page.wait_for_selector(READY)
    until(page, "document.title.startsWith('Drive ') ? 0 : 1", 0)
