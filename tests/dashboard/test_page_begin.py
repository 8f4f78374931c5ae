"""Begin: four ways in without hardware or network, and a rehearsal that mixes with nothing."""

from __future__ import annotations

import argparse
import time
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from collector.logbook import Logbook
from dashboard.app import PAGES, create_app, open_page
from dashboard.bench import second_book
from dashboard.commands import demo
from dashboard.invented_book import VEHICLES, build_once
from dashboard.pages import begin
from dashboard.shell import INVENTED, Place, frame
from dashboard.store import Store
from tests.dashboard.conftest import new_watched, serve
from tests.dashboard.test_pages import text_of


@pytest.mark.browser
@pytest.mark.scenario(1)
def test_an_empty_start_offers_four_ways(browser: Browser, empty_book: Path) -> None:
    """No hardware, no network: the pages open at once and offer four ways, none of them dead."""
    served = serve(Store(Logbook.open(empty_book)))
    watched = new_watched(browser, next(served))
    begun_s = time.monotonic()
    page = watched.open("/", ".sentence")
    opened_s = time.monotonic() - begun_s
    page.click("text=begin")
    page.wait_for_selector(".way-in")
    ways = page.eval_on_selector_all(".way-in h2", "all => all.map(one => one.textContent)")
    leads = page.eval_on_selector_all(".way-in a", "all => all.map(one => one.pathname)")
    for path in leads:
        watched.open(path, "h1")
        assert "no such page" not in watched.page.inner_text("main")

    assert opened_s < 10
    assert ways == ["Rehearse", "Listen", "Bring a file", "Type readings"]
    assert leads == ["/bench", "/bring", "/display"]
    assert watched.outside == []
    assert watched.complaints == []
    page.context.close()
    served.close()


@pytest.mark.scenario(2)
@pytest.mark.parametrize(("vehicle", "folder"), [
    ("flatbed", "own-rehearsal"), ("punt", "own-rehearsal-punt")])
def test_the_rehearsal_is_beside_a_persons_own(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch, vehicle: str, folder: str) -> None:
    """The invented logbook lies in a folder of its own, at an address of its own, and says that it
    is invented; the person's own logbook stays as it was."""
    monkeypatch.setattr(second_book, "build_once", lambda root, seed, _, progress, vehicle:
                        build_once(root, seed, 2, progress, vehicle))
    book = Logbook.create(tmp_path / "own")
    store = Store(book)
    create_app(store)
    before = {path: path.read_bytes() for path in book.root.rglob("*") if path.is_file()}
    second = store.bench.rehearsals[vehicle]
    second.begin()
    second.begin()
    deadline = time.monotonic() + 60
    while not (second.address or second.problem) and time.monotonic() < deadline:
        time.sleep(0.1)

    assert second.problem == ""
    assert second.address.startswith("http://127.0.0.1:")
    assert second.words == f"The {vehicle}'s rehearsal is open, beside your own logbook."
    other = Store(Logbook.open(tmp_path / folder))
    assert other.is_invented
    assert not store.is_invented
    assert {path: path.read_bytes() for path in book.root.rglob("*") if path.is_file()} == before


def test_command_and_page_offer_the_same_vehicles(store: Store) -> None:
    """``packhand demo --vehicle`` names them without loading the simulator."""
    parser = argparse.ArgumentParser()
    demo.add_arguments(parser)
    (vehicle,) = [a for a in parser._actions if a.dest == "vehicle"]

    assert tuple(vehicle.choices or ()) == tuple(VEHICLES)
    assert all(words in text_of(begin.layout(store, Place())) for words in VEHICLES.values())


@pytest.mark.scenario(2)
def test_invented_data_is_called_so_on_every_page(store: Store) -> None:
    """The banner belongs to the frame that every page stands in, not to a page."""
    assert INVENTED in text_of(frame(store.units, is_invented=True))
    assert INVENTED not in text_of(frame(store.units, is_invented=False))


def test_every_way_in_the_menu_leads_to_its_page(store: Store) -> None:
    """A page added to the list can be opened, and its title is its own."""
    create_app(store)
    titles = [open_page(store, page.PATH, "")[2] for page in PAGES if page.GROUP]

    assert titles == [f"{page.TITLE} · packhand" for page in PAGES if page.GROUP]
