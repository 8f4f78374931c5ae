"""Pages over a long logbook and over a drive of ten million samples, in a headless browser.

Aims: ten million samples on screen within 1 s of asking for a log that the store has open, a
closer look within 0.15 s; a page over a season of a thousand logs within 1 s once its answer is
kept. The first reading of a logbook is shown as it goes and is told apart.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from collector.logbook import Logbook
from collector.logfile import write_log
from collector.simulator.season import build_season
from dashboard.store import Store
from tests.benchmarks.bench_replay import closer_look, served
from tests.dashboard.conftest import CHROMIUM, FLAGS
from tests.dashboard.demo_logs import META, START, drive_table

SAMPLES = 10_000_000
RATE_HZ = 10.0
READY = "#replay:not(.is-waiting) .pen-time:not(:empty)"
PAGES = ("seasons", "cells", "fills", "reach", "parked", "joints")
#: How long a first reading may take. [ms]
PATIENCE_MS = 240_000


def main() -> None:
    if CHROMIUM is None:
        print("no chromium on this machine")
        return
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        page = browser.new_page(viewport={"width": 1280, "height": 950})
        _long_drive(page, Path(folder) / "drive")
        _season(page, Path(folder) / "season")
        browser.close()


def _long_drive(page: Page, root: Path) -> None:
    book = Logbook.create(root)
    stem = book.stem_for(START)
    write_log(book.log_path(stem), META, drive_table(SAMPLES, RATE_HZ))
    store = Store(book)
    opened_s = _timed_s(lambda: store.recording(stem))
    print(f"10 M samples: open, sign, summary     {opened_s:7.2f} s")
    with served(store) as address:
        page.goto(address + "/drives")
        shown_s = min(_shown_s(page, f"{address}/drives/{stem}", READY) for _ in range(3))
        print(f"10 M samples on screen                {shown_s:7.2f} s   (aim 1)")
        closer_look(page)


def _season(page: Page, root: Path) -> None:
    build_season(root, seed=1)
    for name in ("read anew", "digests kept"):
        store = Store(Logbook.open(root))
        with served(store) as address:
            for path in PAGES:
                first_s = _shown_s(page, f"{address}/{path}", ".verdict")
                again_s = min(_shown_s(page, f"{address}/{path}", ".verdict") for _ in range(3))
                print(f"{len(store.logbook.logs())} logs, {name}: {path:10} {first_s:7.2f} s, "
                      f"then {again_s:5.2f} s   (aim 1)")


def _shown_s(page: Page, address: str, ready: str) -> float:
    def show() -> None:
        page.goto(address)
        page.wait_for_selector(ready, timeout=PATIENCE_MS)

    return _timed_s(show)


def _timed_s(work: Callable[[], object]) -> float:
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun
