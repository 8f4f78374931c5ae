"""A recording as the pages show it while it runs: figures, marks, alarms."""

from __future__ import annotations

import re
import time
from datetime import UTC, datetime
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from collector.logbook import Logbook
from collector.logfile import finish_log
from collector.record import Sample
from dashboard import live
from dashboard.store import Store
from tests.dashboard.browsing import until
from tests.dashboard.conftest import new_watched, serve
from tests.dashboard.demo_logs import drive_values, sample, start_journal

pytestmark = pytest.mark.browser


@pytest.mark.scenario(8)
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
        until(page, f"-{last_x}.length", -count - 5)
        shown = page.inner_text(".large-one:nth-child(2) .large-figure")
        page.wait_for_selector(".sentence:has-text('The recorder may have stopped.')")
        journal.close()
    finish_log(book.log_path(stem, ".csv"))
    page.wait_for_selector(".sentence:has-text('The recording ended at')")

    assert re.fullmatch(r"5\d\.\d\d\s?V", shown)
    assert watched.complaints == []
    watched.page.context.close()
    served.close()


@pytest.mark.scenario(8)
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
        page.fill(".reading [name=joint]", "main minus")
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
        until(page, f"-{beeps}", -2)
        page.click("#sound")
        off = page.get_attribute("#sound", "aria-pressed")
        journal.close()

    assert (silent, tried, waited) == (0, 1, 1)
    assert off == "false"
    page.context.close()
    served.close()
