"""Make the README's pictures anew: ``python -m tests.pictures``.

Builds the invented season with seed 1, opens pages of it in a headless browser, and keeps what a
person would see.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

from collector.logbook import Logbook
from collector.simulator.season import build_season
from dashboard.app import create_app
from dashboard.store import Store
from tests.dashboard.conftest import CHROMIUM, FLAGS, SIZES, serve_app

FOLDER = Path(__file__).resolve().parents[1] / "dashboard" / "pictures"
#: The afternoon of the cut-out on the ramp.
RAMP = "2026-04-16T13"
#: Picture -> address, what must stand before it is taken, size, colours.
PICTURES = {
    "drive": ("", "#replay:not(.is-waiting) .pen-time:not(:empty)", "desk", "light"),
    "cells": ("/cells", ".verdict", "desk", "light"),
    "seasons": ("/seasons", ".verdict", "desk", "dark"),
    "reach-phone": ("/reach", ".verdict", "phone", "light"),
}
#: Small enough for a page of words.
DESK = {"width": 1200, "height": 800}
#: How long a season may take to be read for the first time. [ms]
PATIENCE_MS = 240_000


def main() -> None:
    if CHROMIUM is None:
        raise SystemExit("no chromium on this machine")
    FOLDER.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder) / "season"
        build_season(root, seed=1)
        book = Logbook.open(root)
        store = Store(book)
        ramp = next(entry.stem for entry in book.logs() if entry.stem.startswith(RAMP))
        with serve_app(create_app(store)) as address, sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
            for name, (path, ready, size, scheme) in PICTURES.items():
                take(browser, name, address + (path or f"/drives/{ramp}"), ready, size,
                     scheme)
            browser.close()


def take(browser: Browser, name: str, address: str, ready: str, size: str, scheme: str) -> None:
    """One picture, as high as the screen."""
    viewport = SIZES[size] if size == "phone" else DESK
    context = browser.new_context(viewport=viewport, color_scheme=scheme)
    page = context.new_page()
    page.goto(address)
    page.wait_for_selector(ready, timeout=PATIENCE_MS)
    page.wait_for_timeout(1500)
    page.screenshot(path=FOLDER / f"{name}.png")
    print(f"{name}.png: {(FOLDER / f'{name}.png').stat().st_size // 1000} kB")
    context.close()


if __name__ == "__main__":
    main()
