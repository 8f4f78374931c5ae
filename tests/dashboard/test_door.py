"""Attacks on the door of the home network."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from playwright.sync_api import Browser
from werkzeug.test import TestResponse

from collector.logbook import Logbook
from dashboard.app import create_app
from dashboard.door import COOKIE, PATH, PAUSE_S, TRIES_MAX, Door, Key
from dashboard.store import Store
from tests.dashboard.conftest import SIZES, new_watched, serve_app
from tests.dashboard.demo_logs import newest_stem

HOST = "192.168.1.7"
KEY = Key("204816", "the cookie of this start")
PLACES = ["/", "/drives", "/_dash-layout", "/_dash-dependencies", "/assets/style.css",
          "/assets/replay.js", "/_dash-component-suites/dash/deps/react@18.3.1.min.js",
          "/moments/x?from=0&step=1&count=1", "/_favicon.ico", "/nowhere"]


class Wall:
    """A clock that the test sets."""

    now_s = 0.0

    def __call__(self) -> float:
        return self.now_s


class Phone(FlaskClient):
    """Asks by the address on the home network."""

    def open(self, *words: Any, **named: Any) -> TestResponse:
        return super().open(*words, **{"base_url": f"http://{HOST}:8050"} | named)


@pytest.fixture
def wall() -> Wall:
    return Wall()


@pytest.fixture
def client(store: Store, wall: Wall) -> Iterator[FlaskClient]:
    server = create_app(store, HOST, Door(KEY, wall)).server
    server.test_client_class = Phone
    with server.test_client() as client:
        yield client


def type_pin(client: FlaskClient, pin: str, **headers: str) -> TestResponse:
    return client.post(PATH, data={"pin": pin}, headers=headers)


@pytest.mark.parametrize("path", PLACES)
def test_without_the_cookie_nothing_is_served(client: FlaskClient, path: str) -> None:
    """No page, no asset, no layout: only the question for the PIN."""
    with client.get(path) as answer:
        assert answer.status_code == 401
        assert b"PIN from the terminal" in answer.data
        assert answer.headers["Cache-Control"] == "no-store"


@pytest.mark.parametrize("path", ["/_dash-update-component", "/notes", "/", PATH + "/"])
def test_without_the_cookie_nothing_is_taken(client: FlaskClient, path: str) -> None:
    """A callback or a note is not even looked at."""
    assert client.post(path, json={"output": "page.children"}).status_code == 401


def test_the_pin_opens_everything(client: FlaskClient, logbook: Logbook) -> None:
    """With the cookie the pages, their parts and the moments come; script cannot read it."""
    answer = type_pin(client, "204 816", Origin=f"http://{HOST}:8050")
    cookie = answer.headers["Set-Cookie"]

    assert answer.status_code == 303
    assert answer.headers["Location"] == "/"
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    assert KEY.pin not in cookie
    for path in ("/", "/_dash-layout", "/assets/style.css",
                 f"/moments/{newest_stem(logbook)}?from=0&step=1&count=1"):
        with client.get(path) as page:
            assert page.status_code == 200


def test_guessing_is_stopped(client: FlaskClient, wall: Wall) -> None:
    """After five wrong PINs the right one does not open either, from anywhere, for a minute."""
    codes = [type_pin(client, f"{n:06d}").status_code for n in range(TRIES_MAX + 1)]
    right = client.post(PATH, data={"pin": KEY.pin}, environ_base={"REMOTE_ADDR": "192.168.1.99"})
    wall.now_s = PAUSE_S - 1
    still = type_pin(client, KEY.pin)
    wall.now_s = PAUSE_S + 1

    assert codes == [401] * (TRIES_MAX - 1) + [429, 429]
    assert right.status_code == still.status_code == 429
    assert right.headers["Retry-After"] == "61"
    assert "Set-Cookie" not in right.headers
    assert type_pin(client, KEY.pin).status_code == 303


def test_the_pause_comes_back(client: FlaskClient, wall: Wall) -> None:
    """Whoever goes on guessing gets five tries a minute: 7200 a day of a million."""
    for _ in range(3):
        codes = [type_pin(client, "1").status_code for _ in range(TRIES_MAX)]
        assert codes == [401] * (TRIES_MAX - 1) + [429]
        wall.now_s += PAUSE_S + 1


def test_who_is_in_stays_in_during_the_pause(client: FlaskClient) -> None:
    """A guesser cannot shut out the phone that has the cookie."""
    type_pin(client, KEY.pin)
    for _ in range(TRIES_MAX + 1):
        client.post(PATH, data={"pin": "0"})

    assert client.get("/_dash-layout").status_code == 200


@pytest.mark.parametrize("cookie", ["", "another start", KEY.pin, "café", KEY.cookie + "x"])
def test_another_cookie_opens_nothing(client: FlaskClient, cookie: str) -> None:
    """The cookie of an earlier start, or one made up, is none."""
    client.set_cookie(COOKIE, cookie, domain=HOST)

    assert client.get("/_dash-layout").status_code == 401


def test_each_start_has_its_own_key() -> None:
    """PIN and cookie of one run are worth nothing in the next."""
    keys = [Key.new() for _ in range(50)]

    assert len({key.cookie for key in keys}) == 50
    assert len({key.pin for key in keys}) > 45
    assert all(re.fullmatch(r"\d{6}", key.pin) for key in keys)


@pytest.mark.parametrize("path", [f"/?pin={KEY.pin}", f"{PATH}?pin={KEY.pin}",
                                  f"/#pin={KEY.pin}"])
def test_a_pin_in_the_address_is_ignored(client: FlaskClient, path: str) -> None:
    """Addresses are kept in histories and shown on screens."""
    assert client.get(path).status_code == 401
    assert client.post(f"{PATH}?pin={KEY.pin}", data={}).status_code == 401


@pytest.mark.parametrize("headers", [
    {"Origin": "http://evil.example"}, {"Origin": "null"}, {"Sec-Fetch-Site": "cross-site"},
    {"Origin": "http://192.168.1.8:8050"},
])
def test_another_site_cannot_type_the_pin(client: FlaskClient, headers: dict[str, str]) -> None:
    """A form sent from elsewhere is refused, and counts as no try."""
    codes = {type_pin(client, "1", **headers).status_code for _ in range(TRIES_MAX + 1)}

    assert codes == {403}
    assert type_pin(client, KEY.pin).status_code == 303


@pytest.mark.parametrize("host", ["evil.example", "192.168.1.8", "192.168.1.7.evil.example"])
def test_another_host_name_is_refused(client: FlaskClient, host: str) -> None:
    """A name that was made to resolve to this machine does not even see the question."""
    answer = client.get("/", base_url=f"http://{host}:8050")

    assert answer.status_code == 400
    assert b"PIN" not in answer.data


def test_what_was_typed_is_not_said_again(client: FlaskClient) -> None:
    """The answer holds nothing of the request."""
    assert b"<script>" not in type_pin(client, "<script>alert(1)</script>").data


@pytest.mark.scenario(9)
@pytest.mark.browser
def test_a_phone_gets_in(browser: Browser, store: Store) -> None:
    """Type a wrong PIN, then the right one, and see the drives; nothing comes from outside."""
    with serve_app(create_app(store, "127.0.0.1", Door(KEY))) as address:
        watched = new_watched(browser, address, "phone")
        page = watched.open("/", "#pin")
        assert page.evaluate("document.documentElement.scrollWidth") <= SIZES["phone"]["width"]
        page.fill("#pin", "111111")
        page.click("button")
        page.wait_for_selector("[role=alert]:has-text('not the PIN')")
        page.fill("#pin", KEY.pin)
        page.click("button")
        page.wait_for_selector("h1:has-text('Now')")
        page.goto(address + "/drives")
        page.wait_for_selector("a.log-row")

        assert watched.outside == []
        assert [c for c in watched.complaints if "401" not in c] == []
        page.context.close()


@pytest.mark.parametrize("name", ["Anna", "Anna's <carts>", "Мария"])
def test_no_path_of_the_machine_is_told(tmp_path: Path, name: str, wall: Wall) -> None:
    """A damaged log is named within the logbook; the folder above it stays untold."""
    book = Logbook.create(tmp_path / name / "book")
    book.log_path("2026-04-02T08-15-00Z").write_bytes(b"not a log")
    store = Store(book)
    store.logs()
    store.settle(30)
    server = create_app(store, HOST, Door(KEY, wall)).server
    server.test_client_class = Phone
    with server.test_client() as client:
        type_pin(client, KEY.pin)
        told = [client.post("/_dash-update-component", json={
            "output": "..page.children...menu.children...page-title.data..",
            "outputs": [{"id": "page", "property": "children"},
                        {"id": "menu", "property": "children"},
                        {"id": "page-title", "property": "data"}],
            "inputs": [{"id": "place", "property": "pathname", "value": path},
                       {"id": "place", "property": "search", "value": ""}],
            "changedPropIds": ["place.pathname"]}).get_data(as_text=True)
            for path in ("/drives", "/drives/2026-04-02T08-15-00Z")]

    for words in map(str, map(json.loads, told)):
        assert name not in words
        assert "logs/2026-04-02T08-15-00Z" in words
        assert str(tmp_path) not in words
