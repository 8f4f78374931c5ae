"""Checks: cards, what was typed on them, and how far a person has come."""

from __future__ import annotations

from pathlib import Path

import pytest

from collector.logbook import Logbook
from collector.note_kinds import KINDS
from collector.notes import Note, add_note
from collector.typed_figures import BOAT, HOUSE
from dashboard.checks.otherwise import _OF_KIND
from dashboard.checks.paths import PATHS, paths_of
from dashboard.checks.progress import KIND, place_of, standing
from dashboard.pages import checks
from dashboard.quantities import Units
from dashboard.shell import Place
from dashboard.store import Store
from tests.dashboard.test_pages import text_of


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return Store(Logbook.create(tmp_path / "book"))


def shown(store: Store, path: str = "") -> str:
    return text_of(checks.body(store, Place(query={"path": path} if path else {}))).replace(
        "\N{NO-BREAK SPACE}", " ")


def keep(store: Store, **form: str) -> None:
    store.diary.keep(form, Units())


def test_every_reading_can_be_kept() -> None:
    """A card asks only for what the notes know."""
    asked = {reading.kind for path in PATHS for card in path.cards for reading in card.readings}

    assert asked <= set(KINDS)
    assert KIND in KINDS


def test_keys_are_unique() -> None:
    """A note of a card belongs to one card."""
    places = [place_of(path, card) for path in PATHS for card in path.cards]

    assert len(places) == len(set(places))


def test_live_metal_comes_with_its_caution() -> None:
    """Whoever is asked to measure volts on the vehicle is told what can hurt."""
    live = [card for path in PATHS for card in path.cards
            if {reading.kind for reading in card.readings}
            & {"point-volts", "frame-leakage", "joint-millivolts"}]

    assert live
    assert [card.question for card in live if not card.caution] == []


def test_the_last_word_on_a_card_counts(store: Store) -> None:
    """Done, left out, open again: as a person pressed last."""
    path = PATHS[2]
    card = path.cards[0]
    place = place_of(path, card)

    def now() -> str:
        return standing(path, card, list(reversed(store.diary.notes())))

    assert now() == "open"
    for word, stands in (("done", "done"), ("open again", "open"), ("left out", "left out")):
        keep(store, kind=KIND, joint=place, text=word)
        assert now() == stands
    assert "0 of 4 done, 1 left out" in shown(store)
    assert "go on with “First power-up”" in shown(store)


def test_the_ladder_asks_for_the_point_that_halves_it(store: Store) -> None:
    """Each typed reading moves the question on, until the fault has a place."""
    assert "probe the pack's plus post" in shown(store, "stuck")
    for point, volts in (("the pack's plus post", "52.4"), ("the coil's feed", "0"),
                         ("behind the key switch", "52.1"), ("behind the pedal switch", "0.2 V")):
        keep(store, kind="point-volts", joint=point, value=volts)

    told = shown(store, "stuck")
    assert "The fault is between behind the key switch (52.1 V) and behind the pedal switch" in told


def test_leakage_is_judged_from_three_readings(store: Store) -> None:
    """Under 30 % of the pack's volts is what a floating pack shows (a lift-truck service
    manual, quoted in the card)."""
    assert "All three readings are needed" in shown(store, "fitting")
    for kind, joint, volts in (("meter-volts", "", "54.4"), ("frame-leakage", "minus", "3.1"),
                               ("frame-leakage", "plus", "4.0")):
        keep(store, kind=kind, joint=joint, value=volts)
    clean = shown(store, "fitting")
    keep(store, kind="frame-leakage", joint="plus", value="39")

    assert "minus to frame 3.1 V, plus to frame 4 V: up to 7 % of 54.4 V" in clean
    assert "Yes. " in clean
    assert "up to 72 % of 54.4 V" in shown(store, "fitting")
    assert "Yes. " not in shown(store, "fitting")


def test_an_unknown_path_shows_all(store: Store) -> None:
    """A wrong address leads to the list, not to an error."""
    assert "It will not move" in shown(store, "../../etc")


def test_of_one_moment_the_last_word_counts(store: Store) -> None:
    """Two presses within one millisecond: what was written last stands."""
    card = PATHS[2].cards[0]
    for word in ("done", "open again"):
        add_note(store.logbook.notes_path, Note(1_777_000_000_000, KIND, text=word,
                                                joint=place_of(PATHS[2], card)))

    assert standing(PATHS[2], card, list(reversed(store.diary.notes()))) == "open"


@pytest.mark.parametrize(("kind", "foreign"), [
    (BOAT, ("pedal", "wheel", "axle", "road", "brake", "jack ", "climb")),
    (HOUSE, ("pedal", "wheel", "axle", "road", "brake", "jack ", "climb", "drive", "propeller",
             "throttle", "helper", "pulling", "creep", "controller"))])
def test_a_boat_is_no_cart(store: Store, kind: str, foreign: tuple[str, ...]) -> None:
    """No card of a boat speaks of wheels, none of a pack that drives nothing of driving; every
    reading stays under the address that it had, and live metal keeps its caution."""
    paths = paths_of(kind)
    told = [" ".join((path.title, card.question, *card.steps, card.good, card.caution,
                      *(reading.label for reading in card.readings))).lower()
            for path in paths for card in path.cards]

    assert [(word, words) for words in told for word in foreign if word in words] == []
    known = {place_of(path, card) for path in PATHS for card in path.cards}
    assert {place_of(path, card) for path in paths for card in path.cards} <= known
    assert all(card.caution for path in paths for card in path.cards if card.judge)
    (store.logbook.root / "logbook.toml").write_text(f'[[vehicle]]\nkind = "{kind}"\n')
    assert paths[0].title in shown(store)


def test_every_change_of_words_finds_its_card() -> None:
    """An address that no path has would change nothing."""
    known = {place_of(path, card) for path in PATHS for card in path.cards}
    known |= {path.key for path in PATHS}

    assert {address for changes in _OF_KIND.values() for address in changes} - known == set()
