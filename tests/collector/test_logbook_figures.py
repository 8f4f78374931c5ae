"""Figures kept in logbook.toml: nothing of the file is lost, and what stood there is remembered."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from collector.errors import PackhandError
from collector.logbook import Logbook
from collector.logbook_figures import edition_of, keep_figures, place_of, table_of, typed_of
from collector.notes import read_notes
from collector.table_file import BEFORE_SUFFIX

BY_HAND = """\
# my cart
[units]
distance = "km"        # km or mi

[[vehicle]]
name = "cart"
mass_kg = 520          # with driver

[[pack]]
name = "front"
rated_ah = 105   # so the seller said
colour = "green"

[pack.limits]
peak_a = 200
breaker_a = 50

[pack.alarms]
out_a = [{limit = 100, for_s = 60, band = 7}, {limit = 200, for_s = 3}]

[[pack]]
name = "rear"
"""


@pytest.fixture
def book(tmp_path: Path) -> Logbook:
    found = Logbook.create(tmp_path / "book")
    (found.root / "logbook.toml").write_text(BY_HAND, encoding="utf-8")
    return found


def text_of(book: Logbook) -> str:
    return (book.root / "logbook.toml").read_text(encoding="utf-8")


def test_one_figure_is_changed_in_its_line(book: Logbook) -> None:
    """Comments and keys of the person's own stay; the old figure becomes a dated note."""
    (change,) = keep_figures(book, "pack", "front", {"rated_ah": "100"}, {})
    (note,) = read_notes(book.notes_path).rows

    assert text_of(book) == BY_HAND.replace("rated_ah = 105 ", "rated_ah = 100 ")
    assert (change.before, change.after) == (105, 100.0)
    assert (note.kind, note.value, note.unit, note.pack) == ("label", 105.0, "Ah", "front")
    assert (note.joint, note.text) == ("rated amp-hours", "then 100 Ah")
    assert (book.root / f"logbook.toml{BEFORE_SUFFIX}").read_text() == BY_HAND


def test_what_stands_there_already_is_not_touched(book: Logbook) -> None:
    """The form sends every field; those that say what is kept change nothing, in any unit."""
    before = edition_of(book)
    alarms = {"out_a": "100 A for 60 s; 200 A for 3 s", "in_a": ""}
    keep_figures(book, "alarms", "front", alarms, {})
    keep_figures(book, "vehicle", "cart", {"mass_kg": "1146.4 lb"}, {"mass": "lb"})

    assert edition_of(book) == before
    assert read_notes(book.notes_path).rows == ()


def test_an_alarm_keeps_the_band_that_was_written_by_hand(book: Logbook) -> None:
    """The form tells limits and seconds; the band of a limit stays with it."""
    keep_figures(book, "alarms", "front", {"out_a": "110 for 60 s; 200 for 3 s"}, {})

    assert typed_of(book.config(), "alarms", "front")["out_a"] == [
        {"limit": 110, "for_s": 60, "band": 7}, {"limit": 200, "for_s": 3}]
    assert "100 A for 60 s; 200 A for 3 s; then 110 A" in read_notes(book.notes_path).rows[0].text


def test_each_pack_has_its_own(book: Logbook) -> None:
    """The second pack's limits stand in the second pack's table."""
    keep_figures(book, "limits", "rear", {"peak_a": "150", "charge_min_c": "0"}, {})
    config = book.config()

    assert typed_of(config, "limits", "front") == {"peak_a": 200, "breaker_a": 50}
    assert typed_of(config, "limits", "rear") == {"peak_a": 150, "charge_min_c": 0}


def test_a_figure_is_taken_away(book: Logbook) -> None:
    """An emptied field; the line stays in the file as a comment, the figure as a note."""
    keep_figures(book, "limits", "front", {"peak_a": ""}, {})

    assert typed_of(book.config(), "limits", "front") == {"breaker_a": 50}
    assert "# peak_a = 200" in text_of(book)
    assert read_notes(book.notes_path).rows[0].text == "then taken away"


def test_a_new_logbook_takes_its_first_figures(tmp_path: Path) -> None:
    """No table and no name is needed; the template's words stay."""
    book = Logbook.create(tmp_path / "new")
    before = text_of(book)
    keep_figures(book, "limits", "", {"peak_a": "200"}, {})
    keep_figures(book, "pack", "", {"rated_ah": "105", "cells": "16"}, {})
    keep_figures(book, "vehicle", "cart", {"mass_kg": "520"}, {})

    assert text_of(book).startswith(before)
    assert book.config()["pack"] == [{"rated_ah": 105, "cells": 16, "limits": {"peak_a": 200}}]
    assert book.config()["vehicle"] == [{"name": "cart", "mass_kg": 520}]
    assert read_notes(book.notes_path).rows == ()


@pytest.mark.parametrize(("group", "name", "typed", "found"), [
    ("pack", "front", {"rated_ah": "105000"}, "hardly meant"),
    ("limits", "front", {"continuous_a": "250"}, "more than peak amps out, 200 A"),
    ("limits", "front", {"peak_a": "150", "cell_low_v": "x"}, "not a figure"),
    ("limits", "", {"peak_a": "150"}, "none of them meant")])
def test_what_does_not_do_changes_nothing(book: Logbook, group: str, name: str,
                                          typed: dict[str, str], found: str) -> None:
    """Neither the file nor the notes; the file as it was before does not appear either."""
    with pytest.raises(PackhandError, match=found):
        keep_figures(book, group, name, typed, {})  # type: ignore[arg-type]
    assert text_of(book) == BY_HAND
    assert sorted(path.name for path in book.root.iterdir()) == ["logbook.toml", "logs"]


@pytest.mark.parametrize("text", ["pack = 3\n", "[pack]\nrated_ah = 3\n", "pack = [3]\n",
                                  "[[pack]]\nlimits = 3\n", "[[pack]\n"])
def test_an_unusual_file_is_refused_and_stays(book: Logbook, text: str) -> None:
    """Whatever stands there, it is told in one line and not overwritten."""
    path = book.root / "logbook.toml"
    path.write_text(text)
    with pytest.raises(PackhandError):
        keep_figures(book, "limits", "", {"peak_a": "150"}, {})
    assert path.read_text() == text


def test_a_log_that_names_nothing_means_the_only_one() -> None:
    """With several packs nothing is guessed."""
    one, two = {"pack": [{"name": "a", "cells": 8}]}, {"pack": [{"name": "a"}, {"name": "b"}]}

    assert table_of(one, "pack", "") == {"name": "a", "cells": 8}
    assert [place_of(two, "pack", name) for name in ("", "b", "c")] == [None, 1, None]
    assert place_of(one, "pack", "b") is None
    assert tomllib.loads(BY_HAND)["pack"][1] == table_of(tomllib.loads(BY_HAND), "pack", "rear")
