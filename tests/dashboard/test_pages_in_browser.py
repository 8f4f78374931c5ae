"""The pages in a real browser: offline, usable by keyboard, right at every size."""

from __future__ import annotations

import gzip
import re
import time
from datetime import UTC, datetime
from pathlib import Path

import plotly.offline
import pytest
from playwright.sync_api import Browser, Page

from collector.logbook import Logbook
from collector.logfile import finish_log
from collector.record import Sample
from dashboard import live
from dashboard.store import Store
from dashboard.theme import THEMES
from tests.dashboard.conftest import Watched, new_watched, serve
from tests.dashboard.demo_logs import drive_values, newest_stem, sample, start_journal

pytestmark = pytest.mark.browser

AXE = gzip.decompress((Path(__file__).parents[1] / "data" / "axe" / "axe.min.js.gz").read_bytes())
AXE_TAGS = "['wcag2a','wcag2aa','wcag21a','wcag21aa','wcag22aa','best-practice']"
READY = "#replay[data-ready=yes]"
#: What can be pressed and is smaller than a thumb; links within a sentence are not meant.
SMALL_TARGETS = """[...document.querySelectorAll(
    'button, select, summary, input, textarea, nav a, a.log-row, .note a')]
    .filter((part) => part.offsetParent && !part.closest('p'))
    .filter((part) => { const box = part.getBoundingClientRect();
                        return box.height < 47.5 || box.width < 38; })
    .map((part) => part.outerHTML.slice(0, 90))"""
PLACES = {"now": ("/", "h1"), "drives": ("/drives", "a.log-row"), "drive": ("", READY),
          "diary": ("/diary", ".note")}


def place(name: str, logbook: Logbook) -> tuple[str, str]:
    path, ready = PLACES[name]
    return path or f"/drives/{newest_stem(logbook)}", ready


def open_drive(watched: Watched, logbook: Logbook) -> Page:
    page = watched.open(*place("drive", logbook))
    page.wait_for_selector("#replay:not(.is-waiting) .pen-time:not(:empty)")
    return page


def clock(page: Page) -> str:
    return page.inner_text("#clock")


def settle(page: Page, words: str) -> None:
    """Wait until the moment's sentence and figures stand, with these words in the clock."""
    page.wait_for_selector(f"#replay:not(.is-waiting) #clock:text-is('{words}')")


@pytest.mark.parametrize("size", ["desk", "phone"])
@pytest.mark.parametrize("name", list(PLACES))
def test_a_page_meets_the_access_rules(browser: Browser, address: str, logbook: Logbook,
                                       size: str, name: str) -> None:
    """axe-core finds no breach of WCAG 2.2 A and AA in any theme, with the choices open too; no
    page scrolls sideways; on a phone whatever is pressed is 48 px at least."""
    watched = new_watched(browser, address, size)
    page = watched.open(*place(name, logbook))
    page.wait_for_timeout(300)
    if size == "phone":
        assert page.evaluate(SMALL_TARGETS) == []
    page.click("#choices summary")
    page.evaluate(AXE.decode())
    for theme in set(THEMES) - {""}:
        page.select_option("#choice-theme", theme)
        found = page.evaluate(f"axe.run(document, {{runOnly: {AXE_TAGS}}})")
        assert [(v["id"], [n["target"] for n in v["nodes"]]) for v in found["violations"]] == []
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), theme

    assert watched.outside == []
    assert watched.complaints == []
    page.context.close()


def test_only_the_small_plotly_is_fetched(watched: Watched, logbook: Logbook) -> None:
    """The cartesian build in the assets is used, and it is the one that the figures expect."""
    page = open_drive(watched, logbook)

    assert page.evaluate("Plotly.version") == plotly.offline.get_plotlyjs_version()
    assert [r for r in watched.requests if r.split("?")[0].endswith("/plotly.min.js")] == []
    assert page.query_selector("[data-title*=Share], .modebar-btn") is None


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
    _until(page, "-replay.time", -905)

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
        _until(page, f"{graph}._fullLayout.xaxis.range[1] - {graph}._fullLayout.xaxis.range[0]",
               (before[1] - before[0]) * 0.51)
    low, high = page.evaluate(f"{graph}._fullLayout.xaxis.range.map(Number)")
    drawn = page.evaluate(f"Array.from({graph}._fullData.find(t => t.uid === 'volts').x)")

    assert low < 300 < high
    assert len([s for s in drawn if low <= s <= high]) == pytest.approx(high - low, abs=2)
    page.click("#whole")
    _until(page, f"-({graph}._fullLayout.xaxis.range[1])", -1600)


def _until(page: Page, expression: str, at_most: float) -> None:
    for _ in range(160):
        if page.evaluate(expression) <= at_most:
            return
        page.wait_for_timeout(50)
    raise AssertionError(f"{expression} is {page.evaluate(expression)}, wanted {at_most}")


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
    _until(page, f"{graph}._fullLayout.xaxis.range[1]", 700)
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


def choose(page: Page, name: str, value: str) -> None:
    """Choose in the box at the top of the page, as a person does."""
    if not page.is_visible(f"#choice-{name}"):
        page.click("#choices summary")
    page.select_option(f"#choice-{name}", value)


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


def test_an_empty_logbook_teaches(browser: Browser, empty_book: Path) -> None:
    """Each page says in one line what to do next."""
    served = serve(Store(Logbook.open(empty_book)))
    watched = new_watched(browser, next(served))

    assert "packhand record" in watched.open("/", ".sentence").inner_text(".sentence")
    assert "packhand import" in watched.open("/drives", ".sentence").inner_text(".sentence")
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
    _until(page, "document.title.startsWith('Drives') ? 0 : 1", 0)
    page.click("a.log-row >> nth=0")
    page.wait_for_selector(READY)
    _until(page, "document.title.startsWith('Drive ') ? 0 : 1", 0)


def test_now_follows_a_recording(browser: Browser, tmp_path: Path,
                                 monkeypatch: pytest.MonkeyPatch) -> None:
    """New samples reach sentence, figures and strips; when they stop, the page says so."""
    monkeypatch.setattr(live, "SILENT_S", 2.5)
    book = Logbook.create(tmp_path / "book")
    values = drive_values(600, 10.0)
    stem = book.stem_for(datetime.now(UTC))
    served = serve(Store(book))
    watched = new_watched(browser, next(served))
    last_x = "document.querySelector('.js-plotly-plot')._fullData.find(t => t.uid === 'volts').x"
    with book.hold(stem):
        journal = start_journal(book, stem)
        page = watched.open("/", ".sentence:has-text('Nothing heard')")
        for row in range(25):
            journal.write(sample(values, row, round(time.time() * 1000), time.monotonic()))
            page.wait_for_timeout(100)
        page.wait_for_selector(".sentence:has-text('Recording for')")
        page.wait_for_selector("#now-graph .traceout")
        count = page.evaluate(last_x + ".length")
        for row in range(25, 40):
            journal.write(sample(values, row, round(time.time() * 1000), time.monotonic()))
            page.wait_for_timeout(100)
        _until(page, f"-{last_x}.length", -count - 5)
        shown = page.inner_text(".large-one:nth-child(2) .large-figure")
        page.wait_for_selector(".sentence:has-text('The recorder may have stopped.')")
        journal.close()
    finish_log(book.log_path(stem, ".csv"))
    page.wait_for_selector(".sentence:has-text('The recording ended at')")

    assert re.fullmatch(r"5\d\.\d\d\s?V", shown)
    assert watched.complaints == []
    watched.page.context.close()
    served.close()


def test_a_mark_is_set_named_and_seen(browser: Browser, tmp_path: Path) -> None:
    """Press Mark on a phone while it records, see it in the strip, name it in the diary, add a
    reading; what is wrong stays in the field with the reason beside it."""
    book = Logbook.create(tmp_path / "book")
    values = drive_values(600, 10.0)
    stem = book.stem_for(datetime.now(UTC))
    served = serve(Store(book))
    watched = new_watched(browser, next(served), "phone")
    with book.hold(stem):
        journal = start_journal(book, stem)
        for row in range(20):
            journal.write(sample(values, row, round(time.time() * 1000), time.monotonic()))
            time.sleep(0.02)
        page = watched.open("/", "#now-graph .traceout")
        page.tap("#now-mark")
        page.wait_for_selector("#now-marked:has-text('Marked')")
        page.wait_for_selector("#now-graph .shapelayer path", state="attached")
        page.goto(watched.address + "/diary")
        page.tap(".naming summary")
        page.fill(".naming textarea", "<i>bump</i> at the gate")
        page.keyboard.press("Enter")
        page.wait_for_selector(".note-text:has-text('<i>bump</i> at the gate')")
        page.select_option("#note-kind", "torque")
        page.wait_for_selector("#note-hint:has-text('meant in Nm')")
        page.fill(".reading [name=value]", "12 psi")
        page.tap(".reading button")
        page.wait_for_selector(".reading .told:has-text('no unit of torque')")
        kept = page.input_value(".reading [name=value]")
        page.fill(".reading [name=value]", "12 Nm")
        page.tap(".reading button")
        page.wait_for_selector(".fact-figure:has-text('12')")
        journal.close()

    assert kept == "12 psi"
    assert page.input_value(".reading [name=value]") == ""
    assert page.query_selector(".note i") is None
    assert watched.outside == []
    assert [c for c in watched.complaints if "422" not in c] == []
    page.context.close()
    served.close()


def test_alarms_are_heard_after_a_tap(browser: Browser, tmp_path: Path) -> None:
    """Nothing sounds by itself; the tap beeps once as a trial, and a standing alarm repeats."""
    book = Logbook.create(tmp_path / "book")
    stem = book.stem_for(datetime.now(UTC))
    served = serve(Store(book))
    beeps = "Number(document.documentElement.dataset.beeps || 0)"
    with book.hold(stem):
        journal = start_journal(book, stem)
        page = new_watched(browser, next(served)).open("/", "#sound")
        silent = page.evaluate(beeps)
        page.click("#sound")
        tried = page.evaluate(beeps)
        page.wait_for_timeout(2500)
        waited = page.evaluate(beeps)
        now_ms = round(time.time() * 1000)
        journal.write(sample(drive_values(600, 10.0), 0, now_ms, 1.0))
        journal.write(Sample(now_ms + 1, 1.001, {}, event="alarm: amps out 212 A, above 200 A for "
                             "2 s \N{EM DASH} ease off"))
        page.wait_for_selector("[role=alert]:has-text('amps out 212 A')")
        _until(page, f"-{beeps}", -2)
        page.click("#sound")
        off = page.get_attribute("#sound", "aria-pressed")
        journal.close()

    assert (silent, tried, waited) == (0, 1, 1)
    assert off == "false"
    page.context.close()
    served.close()


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
