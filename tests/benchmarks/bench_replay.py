"""The replay of a drive of a million samples, in a headless browser.

Aims: first picture within 2 s of asking for a log that the store has open, 60 pen positions a
second, no request for a frame, a closer look on screen within 0.3 s, a long list within 1 s.
"""

from __future__ import annotations

import statistics
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

import psutil
from playwright.sync_api import Page, sync_playwright

from collector.logbook import Logbook
from collector.logfile import write_log
from dashboard.app import create_app
from dashboard.figures.strips import COLUMNS
from dashboard.server import open_server
from dashboard.store import Store
from tests.dashboard.conftest import CHROMIUM, FLAGS
from tests.dashboard.demo_logs import (
    META,
    START,
    drive_table,
    drive_values,
    sample,
    start_journal,
)

SAMPLES = 1_000_000
RATE_HZ = 10.0
LOGS = 400
PLAYED_MS = 4000
#: *Now* is drawn anew every five seconds: several of them make a fair mean. [s]
FOLLOWED_S = 30
GRAPH = "document.querySelector('.js-plotly-plot')"


def main() -> None:
    if CHROMIUM is None:
        print("no chromium on this machine")
        return
    with tempfile.TemporaryDirectory() as folder:
        book = Logbook.create(Path(folder))
        stem = book.stem_for(START)
        write_log(book.log_path(stem), META, drive_table(SAMPLES, RATE_HZ))
        store = Store(book)
        started = time.perf_counter()
        recording = store.recording(stem)
        print(f"open, sign, summary, pyramids         {time.perf_counter() - started:7.2f} s")
        views_ms = [_timed_ms(lambda part=part: recording.curves(
            0.0, recording.duration_s * part, COLUMNS)) for part in (1.0, 0.1, 0.01)]
        print("reduce whole, tenth, hundredth        "
              + " ".join(f"{ms:7.1f}" for ms in views_ms) + " ms")
        for day in range(1, LOGS):
            start = START + timedelta(hours=11 * day)
            write_log(book.log_path(book.stem_for(start)), META, drive_table(60, start=start))
        store.logs()
        store.settle(600)
        with served(store) as address, sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
            page = browser.new_page(viewport={"width": 1280, "height": 950})
            page.goto(address + "/drives")
            _measure(page, address, stem)
            _follow(page, address, book)
            browser.close()


def _timed_ms(work: object) -> float:
    """The fastest of five."""
    def once() -> float:
        started = time.perf_counter()
        work()  # type: ignore[operator]
        return (time.perf_counter() - started) * 1000
    return min(once() for _ in range(5))


@contextmanager
def served(store: Store) -> Iterator[str]:
    server = open_server(create_app(store), 0)
    threading.Thread(target=server.run, daemon=True).start()
    yield f"http://127.0.0.1:{server.effective_port}"
    server.close()


def _measure(page: Page, address: str, stem: str) -> None:
    first_s = []
    for _ in range(3):
        started = time.perf_counter()
        page.goto(f"{address}/drives/{stem}")
        page.wait_for_selector("#replay[data-ready=yes]")
        page.wait_for_selector("#moment-sentence:not(:empty)")
        first_s.append(time.perf_counter() - started)
    print(f"time to first picture and sentence    {min(first_s):7.2f} s")
    _play(page)
    closer_look(page)
    lists_s = []
    for _ in range(3):
        page.goto(address)
        page.wait_for_selector("h1")
        started = time.perf_counter()
        page.click("#menu >> text=Drives")
        page.wait_for_selector("a.log-row")
        lists_s.append(time.perf_counter() - started)
    print(f"list of {LOGS} logs                      {min(lists_s):7.2f} s")


def _play(page: Page) -> None:
    page.evaluate("""() => {
        window.frames = []; let before = performance.now();
        const count = (now) => { frames.push(now - before); before = now;
                                 requestAnimationFrame(count); };
        requestAnimationFrame(count);
        window.cost = []; const show = replay.show.bind(replay);
        replay.show = (now) => { const t = performance.now(); show(now);
                                 cost.push(performance.now() - t); };
    }""")
    page.click("[data-speed='100']")
    requests = page.evaluate("performance.getEntriesByType('resource').length")
    page.evaluate("window.frames.length = 0")
    page.click("#play")
    used_s = _cpu_s()
    page.wait_for_timeout(PLAYED_MS)
    used_s = _cpu_s() - used_s
    frames, cost = page.evaluate("[frames, cost]")
    requests = page.evaluate("performance.getEntriesByType('resource').length") - requests
    page.click("#play")
    print(f"frames a second at 100x               {1000 * len(frames) / sum(frames):7.1f}   "
          f"worst frame {max(frames):.0f} ms")
    print(f"script for each frame, median, worst  {statistics.median(cost):7.2f} ms "
          f"{max(cost):.1f} ms")
    print(f"requests in {PLAYED_MS / 1000:.0f} s                       {requests:7d}")
    print(f"processor of all of Chromium          {100000 * used_s / PLAYED_MS:7.0f} % of a core")


def _follow(page: Page, address: str, book: Logbook) -> None:
    """The page Now on a recording at 10 Hz."""
    stem = book.stem_for(datetime.now(UTC))
    values = drive_values(12_000, RATE_HZ)
    with book.hold(stem):
        journal = start_journal(book, stem)
        begun_s = time.time() - 600
        for row in range(6000):
            journal.write(sample(values, row, round((begun_s + row / 10) * 1000), row / 10))
        page.goto(address)
        page.wait_for_selector("#now-graph .traceout")
        page.wait_for_timeout(2000)
        used_s = _cpu_s()
        for row in range(6000, 6000 + 10 * FOLLOWED_S):
            journal.write(sample(values, row, round((begun_s + row / 10) * 1000), row / 10))
            page.wait_for_timeout(100)
        used_s = _cpu_s() - used_s
        journal.close()
    print(f"Now at 10 Hz, all of Chromium         {100 * used_s / FOLLOWED_S:7.1f} % of a core"
          "   (aim 5)")


def _cpu_s() -> float:
    """Processor seconds of this process's browser so far."""
    total = 0.0
    for process in psutil.Process().children(recursive=True):
        if "chrom" in process.name():
            times = process.cpu_times()
            total += times.user + times.system
    return total


def closer_look(page: Page) -> None:
    taken_ms = page.evaluate(f"""async () => {{
        const graph = {GRAPH}, taken = [];
        for (const part of [0.5, 0.2, 0.05, 0.01, 1]) {{
            const drawn = new Promise((done) => graph.once("plotly_afterplot", done));
            const before = performance.now();
            replay.look(0, replay.duration * part);
            await drawn;
            taken.push(performance.now() - before);
            await new Promise((done) => setTimeout(done, 300));
        }}
        return taken;
    }}""")
    print(f"closer look on screen, median, worst  {statistics.median(taken_ms):7.0f} ms "
          f"{max(taken_ms):.0f} ms")


if __name__ == "__main__":
    main()
