"""Pack & limits: figures of labels are typed, told with where they come from, and kept safely."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from playwright.sync_api import Browser

from analysis.limits import Limits
from analysis.phrases import type_label
from collector.errors import LogbookError
from collector.logbook import Logbook
from dashboard.app import PAGES, create_app
from dashboard.door import PATH, Door, Key
from dashboard.elements import NAMED, linked
from dashboard.guard import BODY_MAX
from dashboard.label_shelf import GROUPS
from dashboard.pages import diary, limits
from dashboard.quantities import NBSP, Units
from dashboard.shell import Place
from dashboard.store import Store
from tests.dashboard.conftest import SIZES, new_watched, serve
from tests.dashboard.demo_logs import make_logbook
from tests.dashboard.test_pages import text_of

TYPED = """\
# my cart
[[vehicle]]
name = "cart"
mass_kg = 520          # with driver

[[pack]]
name = "main"
rated_ah = 105         # so the seller said
colour = "green"

[pack.limits]
continuous_a = 100
"""
METRIC, IMPERIAL = Units(), Units(distance="mi", temperature="F", mass="lb")


@pytest.fixture
def store(tmp_path: Path) -> Store:
    book = Logbook.create(tmp_path / "book")
    (book.root / "logbook.toml").write_text(TYPED)
    return Store(book)


def text(store: Store) -> str:
    return (store.logbook.root / "logbook.toml").read_text()


def told(store: Store, **query: str) -> str:
    return text_of(limits.layout(store, Place(query=query))).replace(NBSP, " ")


def form(store: Store, group: str = "pack", name: str = "main", **typed: str) -> dict[str, str]:
    return {"group": group, "name": name, "edition": store.labels.edition(), **typed}


def test_what_is_typed_is_told_with_where_it_comes_from(store: Store) -> None:
    """The sentence has the figures, each has its badge and its why, and what is missing is said."""
    words = told(store)

    for each in ("main: 105 Ah by its label; its board allows 100 A continuously.", '" typed"',
                 "Found: on the pack's label", "520 kg",
                 "Not typed: cells in series, warranted percent of the rating.",
                 "None is listed.", "Type what you want to hear of",
                 "2 of 4 figures that other pages wait for are not typed yet.",
                 "peak amps out: the board's data sheet"):
        assert each in words, each


def test_an_empty_logbook_teaches_the_one_next_thing(tmp_path: Path) -> None:
    """No pack, no vehicle, no log: the amp-hours come first, and need no name."""
    store = Store(Logbook.create(tmp_path / "new"))
    assert limits.TEACH in told(store)
    store.labels.take(form(store, name="", rated_ah="105"), METRIC)

    assert store.logbook.config()["pack"] == [{"rated_ah": 105}]
    assert "The pack: 105 Ah by its label." in told(store)


def test_a_change_keeps_what_was_there_as_dated_history(store: Store) -> None:
    """The comment and the person's own key stay in the file; the old figure stands on the page and
    in the Diary."""
    words = store.labels.take(form(store, rated_ah="100", cells="16"), METRIC)

    assert words == "Kept: rated amp-hours, cells in series."
    assert text(store) == TYPED.replace("rated_ah = 105 ", "rated_ah = 100 ").replace(
        'colour = "green"\n', 'colour = "green"\ncells = 16\n')
    assert re.search(r"105 Ah until \d+ \w+ 20\d\d", told(store))
    assert "105 Ah" in text_of(diary.layout(store, Place())).replace(NBSP, " ")


def test_the_persons_units_are_meant_and_told(store: Store) -> None:
    """1 lb = 0.453 592 37 kg (NIST SP 811, appendix B.8); 32 °F are 0 °C."""
    store.labels.take(form(store, "vehicle", "cart", mass_kg="1000"), IMPERIAL)
    store.labels.take(form(store, "limits", charge_min_c="32"), IMPERIAL)
    config = store.logbook.config()
    shown = {row.key: row.figure for row in store.labels.rows("limits", "main", IMPERIAL)}

    assert config["vehicle"][0]["mass_kg"] == pytest.approx(453.59237, rel=1e-5)
    assert "453.6 kg" in told(store)
    assert config["pack"][0]["limits"]["charge_min_c"] == 0
    assert shown["charge_min_c"] == "32 °F"
    _, mass = store.labels.rows("vehicle", "cart", IMPERIAL)
    assert mass.before is not None
    assert mass.before[0] == "1146.4 lb"


def test_what_the_vehicle_is_is_chosen(store: Store) -> None:
    """One word of three, told on the page and to whoever asks; on wheels until it is said, and
    where the file has a word that is none."""
    before = store.vehicle_kind
    store.labels.take(form(store, "vehicle", "cart", kind="boat"), METRIC)
    shown = told(store, type="vehicle", name="cart")

    assert (before, store.vehicle_kind) == ("wheels", "boat")
    assert "Kind of vehicle" in told(store)
    assert all(f'"value": "{word}"' in shown for word in ("", "wheels", "boat", "house"))
    path = store.logbook.root / "logbook.toml"
    path.write_text(path.read_text().replace('"boat"', '"sled"'))
    assert store.vehicle_kind == "wheels"


@pytest.mark.parametrize(("typed", "words"), [
    ({"rated_ah": "105000"}, "hardly meant"), ({"rated_ah": "many"}, "not a figure"),
    ({"rated_ah": "100", "cells": "-1"}, "hardly meant"),
    ({"edition": "0"}, "changed since this page was opened"), ({"name": "other"}, "no such name"),
    ({"name": "../main"}, "no such name"), ({"group": "units"}, "is none"),
    ({"group": "limits", "peak_a": "50"}, "more than peak amps out, 50 A")])
def test_what_does_not_do_is_told_and_changes_nothing(store: Store, typed: dict[str, str],
                                                      words: str) -> None:
    """One line; the file and the notes stay."""
    with pytest.raises(LogbookError, match=words) as error:
        store.labels.take(form(store) | typed, METRIC)
    assert "\n" not in str(error.value)
    assert text(store) == TYPED
    assert not store.logbook.notes_path.exists()


def test_a_file_that_cannot_be_read_says_why(store: Store) -> None:
    """A slip in the text editor is told on the page; what was known before still serves."""
    assert store.packs() == ["main"]
    (store.logbook.root / "logbook.toml").write_text("[[pack\n")

    assert "not TOML" in told(store)
    assert store.packs() == ["main"]


def test_what_is_typed_counts_at_once(tmp_path: Path) -> None:
    """No restart: units of the logbook, packs, and the hours left of a drive follow the file."""
    book = make_logbook(tmp_path / "book", drives=1, samples=400)
    store = Store(book)
    stem = book.logs()[0].stem
    before = store.summary(stem)
    path = book.root / "logbook.toml"
    path.write_text(re.sub(r"rated_ah = \d+", "rated_ah = 52", path.read_text()) +
                    '[[pack]]\nname = "second"\n')
    after = store.summary(stem)

    assert "second" in store.packs()
    assert after.remaining != before.remaining


def test_a_breaker_counts_in_a_drive_that_is_open(tmp_path: Path) -> None:
    """Listed under Parts, it is held against the drive at once."""
    book = make_logbook(tmp_path / "book", drives=1, samples=900)
    store = Store(book)
    stem = book.logs()[0].stem
    before = {finding.kind for finding in store.summary(stem).findings}
    store.parts.keep("breaker", None, "", {"name": "main", "rating_a": "5"})

    assert "breaker_heat" not in before
    assert "breaker_heat" in {finding.kind for finding in store.summary(stem).findings}


def test_packs_that_only_logs_name_can_be_typed(tmp_path: Path) -> None:
    """A pack that was recorded and never typed gets a table of its own, by its name."""
    book = make_logbook(tmp_path / "book", drives=1, samples=50)
    (book.root / "logbook.toml").write_text('[[pack]]\nname = "spare"\n')
    store = Store(book)
    assert store.labels.names("pack") == ["main", "spare"]
    store.labels.take(form(store, "limits", peak_a="200"), METRIC)

    assert store.logbook.config()["pack"] == [{"name": "spare"},
                                              {"name": "main", "limits": {"peak_a": 200}}]
    assert "main: its board allows 200 A for a short time." in told(store)
    assert "/limits?pack=spare" in told(store)


def test_the_breaker_is_not_asked_for_twice(store: Store) -> None:
    """It stands in the parts list; the page tells it and leads there."""
    store.parts.keep("breaker", None, "", {"name": "main", "rating_a": "50", "marked_v_dc": "48"})

    assert "50 A" in told(store)
    assert "marked 48 V DC" in told(store)
    assert [row.key for row in store.labels.rows("limits", "main", METRIC)
            if row.key.startswith("breaker")] == []


def test_the_verdict_is_yes_when_all_that_others_wait_for_is_typed(store: Store) -> None:
    """Amp-hours, both amps of the board, the breaker."""
    store.labels.take(form(store, "limits", peak_a="200"), METRIC)
    rows = [*store.labels.rows("pack", "main", METRIC), *store.labels.rows("limits", "main",
                                                                           METRIC)]
    lacking, whole = Limits(), replace(Limits(), breaker_a=100.0)

    assert limits.ending(rows, whole)[0] == "yes"
    found, words, then = limits.ending(rows, lacking)
    assert (found, words[:6]) == ("no", "1 of 4")
    assert "list it under Parts" in then


@pytest.mark.parametrize("group", GROUPS)
def test_each_form_asks_with_where_to_find_it(store: Store, group: str) -> None:
    """Every field has its hint; what is typed stands in it; nothing of the file is markup."""
    words = told(store, type=group)
    rows = store.labels.rows(group, "main", METRIC)  # type: ignore[arg-type]

    assert words.count('"type": "Textarea"') + words.count('"type": "Select"') == len(rows)
    assert [row.key for row in rows if row.found.replace('"', "") not in words] == []


@pytest.mark.parametrize("query", [
    {"type": "nothing"}, {"pack": "<b>x</b>"}, {"type": "limits", "name": "../.."},
    {"type": "vehicle", "name": "main"}])
def test_whatever_the_address_says_a_known_name_is_shown(store: Store,
                                                         query: dict[str, str]) -> None:
    """A name from the browser is only compared with those that are known."""
    words = told(store, **query)

    assert "main" in words or "cart" in words
    assert "<b>" not in words
    assert "../.." not in words


def test_a_sentence_that_sends_one_to_a_page_leads_there() -> None:
    """The words that the analysis uses become a way; every other word stays as it is."""
    words = f"{type_label('the mass', 'mass_kg')}; list it under Parts (parts.toml)"
    parts = linked(words).children  # type: ignore[union-attr]
    ways = [part for part in parts if not isinstance(part, str)]

    assert [(way.children, way.href) for way in ways] == [
        ("Pack & limits", "/limits"), ("Parts", "/parts")]
    assert "".join(part if isinstance(part, str) else part.children for part in parts) == words
    for other in ("look under the Parts list", "under Partsville", "Parts", ""):
        assert linked(other) == other
    assert dict(NAMED) == {page.TITLE: page.PATH for page in PAGES if page.TITLE in NAMED}


@pytest.fixture
def client(store: Store) -> Iterator[FlaskClient]:
    with create_app(store).server.test_client() as client:
        yield client


def test_the_route_keeps_and_tells(client: FlaskClient, store: Store) -> None:
    """200 with what was kept, 422 with why not."""
    good = client.post(limits.ROUTE, data=form(store, rated_ah="100"))
    bad = client.post(limits.ROUTE, data=form(store, rated_ah="a lot"))

    assert (good.status_code, good.get_json()["words"]) == (200, "Kept: rated amp-hours.")
    assert bad.status_code == 422
    assert "not a figure" in bad.get_json()["words"]


@pytest.mark.parametrize("headers", [
    {"Origin": "http://evil.example"}, {"Origin": "null"}, {"Sec-Fetch-Site": "cross-site"},
    {"Host": "evil.example"}])
def test_another_site_cannot_change_a_limit(client: FlaskClient, store: Store,
                                            headers: dict[str, str]) -> None:
    """A page from elsewhere in the same browser is refused before it is looked at."""
    asked = form(store, "limits", peak_a="3000")
    answer = client.post(limits.ROUTE, data=asked, headers={"Host": "127.0.0.1:8050", **headers})

    assert answer.status_code in (400, 403)
    assert text(store) == TYPED


@pytest.mark.parametrize("sent", [
    {"data": b"x" * (BODY_MAX + 1)}, {"json": {"group": "pack", "name": "main"}}, {"data": {}},
    {"data": {"group": "pack", "rated_ah": "1" * 5000}}, {"data": b"\xff\xfe"},
    {"data": {"group": "pack", "name": "main", "rated_ah": "9\n[[pack]]"}}])
def test_a_senseless_body_changes_nothing(client: FlaskClient, store: Store,
                                          sent: dict[str, Any]) -> None:
    """Too large, another type, no fields, no edition: answered, never written."""
    assert client.post(limits.ROUTE, **sent).status_code in (413, 422)
    assert client.get(limits.ROUTE).status_code in (200, 405)
    assert text(store) == TYPED


def test_over_the_home_network_the_pin_is_asked_first(store: Store) -> None:
    """Without the cookie nothing is taken; with it a limit is typed from the phone."""
    host = "192.168.1.7"
    server = create_app(store, host, Door(Key("204816", "cookie"))).server
    asked, at = form(store, rated_ah="100"), {"base_url": f"http://{host}:8050"}
    with server.test_client() as phone:
        assert phone.post(limits.ROUTE, data=asked, **at).status_code == 401
        assert text(store) == TYPED
        phone.post(PATH, data={"pin": "204816"}, **at)
        assert phone.post(limits.ROUTE, data=asked, **at).status_code == 200
    assert "rated_ah = 100" in text(store)


@pytest.mark.browser
def test_a_limit_is_typed_on_a_phone(browser: Browser, store: Store) -> None:
    """From the page to the form and back; a slip stays in its field with the reason."""
    served = serve(store)
    watched = new_watched(browser, next(served), "phone")
    page = watched.open("/limits", ".verdict")
    page.click("text=Change what the board allows")
    page.wait_for_selector("[name=peak_a]")
    assert page.evaluate("document.documentElement.scrollWidth") <= SIZES["phone"]["width"]
    page.fill("[name=peak_a]", "20")
    page.click("text=Keep it")
    page.wait_for_selector(".told:has-text('is more than peak amps out')")
    page.fill("[name=peak_a]", "200")
    page.click("text=Keep it")
    page.wait_for_selector(".sentence:has-text('for a short time')")

    assert tomllib.loads(text(store))["pack"][0]["limits"] == {"continuous_a": 100, "peak_a": 200}
    assert watched.outside == []
    page.context.close()
    served.close()
