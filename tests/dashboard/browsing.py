"""Steps that several browser tests take: open a drive, wait, choose."""

from __future__ import annotations

from playwright.sync_api import Page

from collector.logbook import Logbook
from tests.dashboard.conftest import Watched
from tests.dashboard.demo_logs import newest_stem

READY = "#replay[data-ready=yes]"


def open_drive(watched: Watched, logbook: Logbook) -> Page:
    """The newest drive, with its first moment told."""
    page = watched.open(f"/drives/{newest_stem(logbook)}", READY)
    page.wait_for_selector("#replay:not(.is-waiting) .pen-time:not(:empty)")
    return page


def clock(page: Page) -> str:
    return page.inner_text("#clock")


def settle(page: Page, words: str) -> None:
    """Wait until the moment's sentence and figures stand, with these words in the clock."""
    page.wait_for_selector(f"#replay:not(.is-waiting) #clock:text-is('{words}')")


def until(page: Page, expression: str, at_most: float) -> None:
    for _ in range(160):
        if page.evaluate(expression) <= at_most:
            return
        page.wait_for_timeout(50)
    raise AssertionError(f"{expression} is {page.evaluate(expression)}, wanted {at_most}")


def choose(page: Page, name: str, value: str) -> None:
    """Choose in the box at the top of the page, as a person does."""
    if not page.is_visible(f"#choice-{name}"):
        page.click("#choices summary")
    page.select_option(f"#choice-{name}", value)
