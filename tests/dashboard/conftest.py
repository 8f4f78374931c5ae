"""One logbook, one server and one browser for all dashboard tests; nothing from outside."""

from __future__ import annotations

import shutil
import threading
from collections.abc import Generator, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from dash import Dash
from playwright.sync_api import Browser, Page, Route, sync_playwright

from collector.logbook import Logbook
from collector.moment import Moment
from collector.notes import Note, add_note
from dashboard.app import create_app
from dashboard.server import open_server
from dashboard.store import Store
from tests.dashboard.demo_logs import START, make_logbook, newest_stem
from tests.dashboard.papers_book import make_papers_book

CHROMIUM = shutil.which("chromium")
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
         "--disable-background-networking", "--disable-component-update", "--disable-sync"]
SIZES = {"desk": {"width": 1440, "height": 1000}, "phone": {"width": 390, "height": 844}}


@pytest.fixture(scope="session")
def logbook(tmp_path_factory: pytest.TempPathFactory) -> Logbook:
    book = make_logbook(tmp_path_factory.mktemp("book"))
    moment = Moment(newest_stem(book), 0.2, -48.2, 52.1, 71)
    day_ms = round(START.timestamp() * 1000)
    for note in (Note(day_ms - 60_000, "mark", moment=moment),
                 Note(day_ms, "torque", 12.0, "Nm", "12Nm", "main minus", text="<b>new</b> washer"),
                 Note(day_ms + 86_400_000, "claim", text="40 miles")):
        add_note(book.notes_path, note)
    shutil.copy(Path(__file__).parents[2] / "sample_logs" / "parts.toml", book.root)
    return book


@pytest.fixture(scope="session")
def papers_book(tmp_path_factory: pytest.TempPathFactory) -> Logbook:
    return make_papers_book(tmp_path_factory.mktemp("papers"))


@pytest.fixture(scope="session")
def store(logbook: Logbook) -> Store:
    store = Store(logbook)
    store.logs()
    store.settle(60)
    return store


@contextmanager
def serve_app(app: Dash) -> Iterator[str]:
    """Serve an app as the command does; gives the address."""
    server = open_server(app, 0)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.effective_port}"
    server.close()
    server.task_dispatcher.shutdown()
    thread.join(5)


def serve(store: Store) -> Generator[str, None, None]:
    """Serve a store's pages; yields the address."""
    with serve_app(create_app(store)) as address:
        yield address


@pytest.fixture(scope="session")
def address(store: Store) -> Iterator[str]:
    yield from serve(store)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    if CHROMIUM is None:
        pytest.skip("no chromium on this machine")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield browser
        browser.close()


class Watched:
    """A page of one size whose requests and complaints are noted."""

    def __init__(self, page: Page, address: str) -> None:
        self.page = page
        self.address = address
        self.requests: list[str] = []
        self.outside: list[str] = []
        self.complaints: list[str] = []
        page.route("**/*", self._route)
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.on("console", lambda message: self.complaints.append(message.text)
                if message.type in ("error", "warning") else None)

    def _route(self, route: Route) -> None:
        address = route.request.url
        self.requests.append(address)
        if address.startswith(("http://127.0.0.1:", "data:", "blob:")):
            route.continue_()
        else:
            self.outside.append(address)
            route.abort()

    def open(self, path: str, ready: str) -> Page:
        self.page.goto(self.address + path)
        self.page.wait_for_selector(ready, state="attached")
        return self.page


def new_watched(browser: Browser, address: str, size: str = "desk", **options: object) -> Watched:
    is_phone = size == "phone"
    context = browser.new_context(viewport=SIZES[size], has_touch=is_phone, is_mobile=is_phone,
                                  **options)
    return Watched(context.new_page(), address)


@pytest.fixture
def watched(browser: Browser, address: str) -> Iterator[Watched]:
    """A desk-sized page that must stay offline and without complaint."""
    found = new_watched(browser, address)
    yield found
    found.page.context.close()
    assert found.outside == []
    assert found.complaints == []


@pytest.fixture(scope="session")
def empty_book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = tmp_path_factory.mktemp("empty")
    Logbook.create(root)
    return root
