"""Parts: what is typed is judged with its sums, kept in a file, and cannot be used to break out."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from dataclasses import MISSING, fields
from pathlib import Path
from typing import get_type_hints

import pytest
from dash.development.base_component import Component
from flask.testing import FlaskClient
from playwright.sync_api import Browser

from analysis.parts.listing import KINDS, SINGLES
from collector.errors import PackhandError
from collector.logbook import Logbook
from dashboard.app import create_app
from dashboard.guard import BODY_MAX
from dashboard.pages import parts
from dashboard.part_fields import FORMS, in_plain_words
from dashboard.part_form import ROUTE
from dashboard.quantities import NBSP
from dashboard.shell import Place
from dashboard.store import Store
from tests.dashboard.conftest import SIZES, new_watched, serve
from tests.dashboard.demo_logs import make_logbook
from tests.dashboard.test_pages import text_of

SAMPLE = Path(__file__).parents[2] / "sample_logs" / "parts.toml"


@pytest.fixture
def store(tmp_path: Path) -> Store:
    """A logbook that knows its pack's cells and has no log yet."""
    book = Logbook.create(tmp_path / "book")
    (book.root / "logbook.toml").write_text(
        'invented = true\n[[pack]]\nname = "main"\ncells = 16\nrated_ah = 105\n')
    return Store(book)


def shown(store: Store) -> list[Component]:
    worked = parts.QUESTION.work(store, Place())
    store.workings.settle(30)
    worked = parts.QUESTION.work(store, Place())
    return parts.QUESTION.content(worked, store, Place())


def told(store: Store) -> str:
    return text_of(shown(store)).replace(NBSP, " ")


def listed(store: Store) -> dict[str, object]:
    return tomllib.loads((store.logbook.root / "parts.toml").read_text())


@pytest.mark.parametrize("kind", list(FORMS))
def test_every_key_of_a_part_can_be_typed(kind: str) -> None:
    """The form holds the fields of the part's class, those that are needed not folded away."""
    made = (KINDS | SINGLES)[kind]
    asked = {field.key: field for field in FORMS[kind].fields}
    needed = {f.name for f in fields(made) if f.default is MISSING
              and f.default_factory is MISSING}
    hints = get_type_hints(made)

    assert set(asked) == {f.name for f in fields(made)} - {"percent_at_c"}
    assert [name for name in needed if asked[name].is_rare] == []
    assert {name for name in asked if hints[name] in (bool, bool | None)} == {
        name for name, field in asked.items() if field.kind == "yes or no"}


def test_what_is_not_known_of_every_part_reads_as_a_sentence(store: Store) -> None:
    """Parts are named; a count of all of all tells nothing."""
    for name in ("main", "spare"):
        store.parts.keep("fuse", None, "", {"name": name, "rating_a": "125"})

    opening = told(store)

    assert "no part is found wanting; not all is known yet of" in opening
    assert "of 2 of 2" not in opening


@pytest.mark.scenario(11)
def test_breaker_cable_and_coil_get_verdicts_with_sums(store: Store) -> None:
    """A 48 V DC 100 A breaker, 1.2 m of 6 AWG and a 36 V coil on 16 cells: 16 x 3.65 V = 58.4 V;
    the coil takes (58.4 / 36)^2 = 2.6 times its heat; the cable 1.32 mOhm a metre (ASTM B258),
    warm and both ways 3.9 mOhm. Each says what would make it acceptable."""
    assert "Type what the label of your breaker says" in told(store)
    store.parts.keep("breaker", None, "", {"name": "main breaker", "rating_a": "100",
                                           "marked_v_dc": "48"})
    store.parts.keep("cable", None, "", {"name": "battery cable", "size": "6 AWG",
                                         "length_m": "1,2"})
    store.parts.keep("coil", None, "", {"name": "solenoid", "marked_v": "36"})
    words = told(store)

    for each in ("At 58.4 V, replace 2 of 3 listed: main breaker and solenoid.",
                 "marked 48 V DC; highest 58.4 V", "10.4 V too low",
                 "Acceptable with: marked for at least 58.4 V DC",
                 "(58.4 V / 36 V)² = 2.6 times its heat", "3.86 mΩ at 75 °C",
                 "at most 3 % of 51.2 V, which is reached at 398 A",
                 "The makers of pack and part, the local code and licensed practice decide.",
                 "above the 50 V"):
        assert each in words, each
    assert words.count('"No."') == 2


def test_measured_amps_count_where_they_are_harder(tmp_path: Path) -> None:
    """The sample list says 77 A over ten seconds; a logbook that saw more is believed, and the
    why shows both."""
    book = make_logbook(tmp_path / "book", drives=1, samples=1500)
    (book.root / "parts.toml").write_text(SAMPLE.read_text().replace(
        'name = "flatbed main"', 'name = "main"').replace("rms_1_min_a = 75", "rms_1_min_a = 7"))
    words = told(Store(book))

    assert "replace 3 of 11 listed: main breaker, accessory fuse and main solenoid" in words
    assert '"your logs: ' in words
    assert '"parts list: 7 A"' in words
    assert "Lead acid against lithium" in words
    assert "a needle that moves is late" in words


def test_a_part_is_changed_and_taken_off(store: Store) -> None:
    """What is typed anew replaces what was; what is taken off stays in the file as a comment."""
    store.parts.keep("coil", None, "", {"name": "solenoid", "marked_v": "36"})
    store.parts.keep("coil", 0, "solenoid", {"name": "solenoid", "marked_v": "54",
                                             "max_v": "60"})
    assert listed(store)["coil"] == [{"name": "solenoid", "marked_v": 54, "max_v": 60}]
    assert "does, by its label" in told(store)
    store.parts.strike("coil", 0, "solenoid")

    assert "coil" not in listed(store)
    assert '# name = "solenoid"' in (store.logbook.root / "parts.toml").read_text()


@pytest.mark.parametrize(("kind", "words", "found"), [
    ("breaker", {"name": "b", "rating_a": "fifty"}, "Amps on its label: 'fifty' is no number"),
    ("breaker", {"name": "b"}, "“Amps on its label”"),
    ("cable", {"name": "c", "size": "thick", "length_m": "1"}, "not a size"),
    ("coil", {"name": "c", "marked_v": "-36"}, "above 0"),
    ("coil", {"name": "c", "marked_v": "nan"}, "finite number"),
    ("gauge", {"name": "g", "empty_v": "50", "full_v": "40"}, "above"),
    ("../logbook", {"name": "x"}, "is none"),
])
def test_what_does_not_do_is_told_and_not_kept(store: Store, kind: str, words: dict[str, str],
                                               found: str) -> None:
    """One line in the form's own words; the file is not made."""
    with pytest.raises(PackhandError, match=found):
        store.parts.keep(kind, None, "", words)
    assert not (store.logbook.root / "parts.toml").exists()


def test_text_is_never_markup_or_structure(store: Store) -> None:
    """A name with brackets, quotes and line ends is a name."""
    name = '<b>x</b>"]\n[[fuse]]\nname = "y'
    store.parts.keep("coil", None, "", {"name": name, "marked_v": "36"})

    assert listed(store)["coil"] == [{"name": " ".join(name.split()), "marked_v": 36}]
    assert "fuse" not in listed(store)
    assert "DangerouslySet" not in told(store)
    assert '"type": "B"' not in told(store)


def test_a_list_that_cannot_be_judged_says_why(store: Store) -> None:
    """A wrong key or a broken line is named; the forms stay in reach."""
    path = store.logbook.root / "parts.toml"
    path.write_text('[[coil]]\nname = "c"\nmarked_v = 36\nmax = 40\n')
    assert "did you mean max_v?" in told(store)
    assert "?kind=breaker" in told(store)
    path.write_text("[[coil\n")

    assert "not TOML" in told(store)
    assert "not TOML" in text_of(parts.layout(store, Place(query={"kind": "coil"})))


@pytest.fixture
def client(store: Store) -> Iterator[FlaskClient]:
    with create_app(store).server.test_client() as client:
        yield client


@pytest.mark.parametrize("text", ["pack = 3", "coil = 3", "coil = [3]", "cable = [[1]]",
                                  "[coil]\nname = 1", "[[pack]]\ncells = 1"])
def test_any_list_is_answered_in_words(store: Store, text: str) -> None:
    """Whatever is valid TOML and no parts list is told, on both views."""
    (store.logbook.root / "parts.toml").write_text(f"{text}\n[[gauge]]\nname = 'g'\n")

    assert "parts.toml" in told(store)
    for kind in ("coil", "cable", "pack", "breaker"):
        assert "part-form" in text_of(parts.layout(store, Place(query={"kind": kind, "at": "0"})))


def test_the_pack_is_asked_for_first(tmp_path: Path) -> None:
    """Without cells no part can be judged; one figure is enough."""
    store = Store(Logbook.create(tmp_path / "book"))
    store.parts.keep("coil", None, "", {"name": "c", "marked_v": "36"})
    assert "how many cells the pack has" in told(store)
    store.parts.keep("pack", None, "", {"cells": "12"})

    assert "At 43.8 V, replace 1 of 1 listed: c." in told(store)


def test_what_the_logbook_knows_is_not_copied(store: Store) -> None:
    """Cells, amp-hours, what the board lets in and the mass stand in the form; only what is typed
    anew is written, so that a change under Pack & limits reaches the parts too."""
    path = store.logbook.root / "logbook.toml"
    path.write_text(path.read_text() + '[pack.limits]\ncharge_a = 60\n[[vehicle]]\nmass_kg = 520\n')
    known = store.parts.typed("pack", None)
    store.parts.keep("pack", None, "", {key: str(value) for key, value in known.items()}
                     | {"resistance_mohm": "16"})
    store.parts.keep("coil", None, "", {"name": "c", "marked_v": "36"})
    path.write_text(path.read_text().replace("cells = 16", "cells = 12"))

    assert known == {"name": "main", "cells": 16, "capacity_ah": 105, "charge_max_a": 60}
    assert store.parts.typed("vehicle", None) == {"mass_kg": 520}
    assert listed(store)["pack"] == {"resistance_mohm": 16}
    assert "At 43.8 V, replace 1 of 1 listed: c." in told(store)


@pytest.mark.parametrize("form", [
    {}, {"part": "coil"}, {"part": "coil", "at": "x"}, {"part": "coil", "at": "7"},
    {"part": "coil", "at": "7", "strike": "yes"}, {"part": "coil", "at": "-1"},
    {"part": "nothing", "name": "c"}, {"part": "coil", "at": "9" * 400}])
def test_a_senseless_form_changes_nothing(client: FlaskClient, store: Store,
                                          form: dict[str, str]) -> None:
    """Whatever a browser sends, it is answered in words and nothing is written."""
    answer = client.post(ROUTE, data=form | {"marked_v": "36"})

    assert answer.status_code == 422
    assert answer.get_json()["words"]
    assert not (store.logbook.root / "parts.toml").exists()


@pytest.mark.parametrize("headers", [
    {"Origin": "http://evil.example"}, {"Origin": "null"}, {"Sec-Fetch-Site": "cross-site"}])
def test_another_site_cannot_write_the_list(client: FlaskClient, store: Store,
                                            headers: dict[str, str]) -> None:
    """A page from elsewhere in the same browser keeps no part; nor does a large body, nor one of
    another kind."""
    form = {"part": "coil", "name": "c", "marked_v": "36"}
    foreign = client.post(ROUTE, data=form, headers={"Host": "127.0.0.1:8050", **headers})
    large = client.post(ROUTE, data=b"x" * (BODY_MAX + 1))

    assert foreign.status_code == 403
    assert large.status_code == 413
    assert client.post(ROUTE, json=form).status_code == 422
    assert client.get(ROUTE).status_code in (200, 405)
    assert not (store.logbook.root / "parts.toml").exists()
    assert client.post(ROUTE, data=form).status_code == 200
    assert listed(store)["coil"] == [{"name": "c", "marked_v": 36}]


def test_keys_are_told_by_their_labels() -> None:
    """The names of keys are for files; other words stay."""
    assert in_plain_words("type holds_1_min_a, not x_y", "breaker") == (
        "type “Amps it holds for a minute, by its maker's curve”, not x_y")


@pytest.mark.scenario(11)
@pytest.mark.browser
def test_a_part_is_typed_on_a_phone(browser: Browser, store: Store) -> None:
    """Choose the kind, type the label, keep it; a wrong figure stays in its field with the reason;
    the verdict stands on the page it leads to."""
    served = serve(store)
    watched = new_watched(browser, next(served), "phone")
    page = watched.open("/parts", ".part-ways")
    page.click("text=A coil of a solenoid")
    page.wait_for_selector(".part-form")
    assert page.evaluate("document.documentElement.scrollWidth") <= SIZES["phone"]["width"]
    page.fill("[name=name]", "main solenoid")
    page.fill("[name=marked_v]", "many")
    page.click("text=Keep it")
    page.wait_for_selector(".told:has-text('is no number')")
    page.fill("[name=marked_v]", "36")
    page.click("text=Keep it")
    page.wait_for_selector(".sentence:has-text('replace 1 of 1 listed')")

    assert listed(store)["coil"] == [{"name": "main solenoid", "marked_v": 36}]
    assert watched.outside == []
    page.context.close()
    served.close()
