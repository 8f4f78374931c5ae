"""The parts list is changed a table at a time, and nothing that a person wrote is lost."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from collector.errors import DescriptionError, LogbookError
from collector.table_file import (
    BEFORE_SUFFIX,
    TablePlace,
    add_table,
    change_table,
    read_tables,
    strike_table,
)

BY_HAND = """\
# my cart
[pack]
cells = 16     # counted twice

[[breaker]]
name = "main # one"  # under the seat
rating_a = 50
# the seller said 60

# the other
[[breaker]]
name = "spare"
percent_at_c = { 40 = 100, 60 = 85 }

[[cable]]
name = "long"
size = "6 AWG"
length_m = 1.2
"""
COMMENTS = ("my cart", "counted twice", "under the seat", "the seller said 60", "the other")


@pytest.fixture
def path(tmp_path: Path) -> Path:
    found = tmp_path / "parts.toml"
    found.write_text(BY_HAND, encoding="utf-8")
    return found


def test_a_value_is_set_in_its_line(path: Path) -> None:
    """Only that value changes; its comment and every other line stay."""
    change_table(path, TablePlace("breaker", 0), {"rating_a": 100.0, "name": "main"})

    assert path.read_text(encoding="utf-8") == BY_HAND.replace('"main # one"', '"main"').replace(
        "rating_a = 50", "rating_a = 100")


def test_a_new_key_stands_behind_the_others(path: Path) -> None:
    """Before the comments that belong to the next table."""
    change_table(path, TablePlace("breaker", 0, "main # one"), {"marked_v_dc": 48.0})

    assert "rating_a = 50\nmarked_v_dc = 48\n# the seller" in path.read_text(encoding="utf-8")
    assert read_tables(path)["breaker"][1]["name"] == "spare"


def test_what_is_taken_away_becomes_a_comment(path: Path) -> None:
    """A key or a whole table; the words are still there to be read."""
    change_table(path, TablePlace("breaker", 0), {"rating_a": None})
    strike_table(path, TablePlace("breaker", 1, "spare"))

    assert read_tables(path)["breaker"] == [{"name": "main # one"}]
    text = path.read_text(encoding="utf-8")
    assert "# rating_a = 50\n" in text
    assert '# [[breaker]]\n# name = "spare"\n# percent_at_c' in text
    assert "\n[[cable]]\n" in text


def test_a_table_is_added_to_any_list(path: Path, tmp_path: Path) -> None:
    """At the end of one that is there, of one that lacks its last line end, and of none."""
    path.write_text(BY_HAND.rstrip(), encoding="utf-8")
    add_table(path, "coil", {"name": 'the "old" coil', "marked_v": 36})
    fresh = tmp_path / "new.toml"
    add_table(fresh, "coil", {"name": "coil", "marked_v": 36.5})
    change_table(fresh, TablePlace("pack"), {"cells": 16})

    assert path.read_text(encoding="utf-8").startswith(BY_HAND)
    assert read_tables(path)["coil"] == [{"name": 'the "old" coil', "marked_v": 36}]
    assert read_tables(fresh) == {"coil": [{"name": "coil", "marked_v": 36.5}],
                                 "pack": {"cells": 16}}


def test_the_list_as_it_was_stays_beside_it(path: Path) -> None:
    """One step back is always there."""
    change_table(path, TablePlace("pack"), {"cells": 15})

    assert path.with_name(path.name + BEFORE_SUFFIX).read_text(encoding="utf-8") == BY_HAND


@pytest.mark.parametrize(("text", "place"), [
    ('pack = { cells = 16 }\n', TablePlace("pack")),
    ('note = """\n[[breaker]]\n"""\n[[breaker]]\nname = "a"\n', TablePlace("breaker", 0)),
    ('[[breaker]]\nname = """\na"""\n', TablePlace("breaker", 0)),
    ('[[breaker]]\n"name" = "a"\n', TablePlace("breaker", 0)),
])
def test_an_unusual_list_is_refused_and_stays(tmp_path: Path, text: str,
                                              place: TablePlace) -> None:
    """What cannot be changed line by line is left to a text editor, not guessed at."""
    path = tmp_path / "parts.toml"
    path.write_text(text, encoding="utf-8")

    with pytest.raises(LogbookError, match="cannot be changed from here"):
        change_table(path, place, {"name": "b"})
    assert path.read_text(encoding="utf-8") == text
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("place", [
    TablePlace("breaker", 2), TablePlace("breaker", -1), TablePlace("breaker", 1, "main"),
    TablePlace("fuse", 0), TablePlace("cable")])
def test_a_list_that_changed_meanwhile_is_not_mistaken(path: Path, place: TablePlace) -> None:
    """A table that is not where it was seen is not replaced by its neighbour."""
    with pytest.raises(LogbookError, match="the list has changed"):
        change_table(path, place, {"rating_a": 1})
    assert path.read_text(encoding="utf-8") == BY_HAND


def test_nothing_is_struck_from_a_list_that_is_not_there(tmp_path: Path) -> None:
    """A page left open while the file went away is told, and no file is made."""
    with pytest.raises(LogbookError, match="the list has changed"):
        strike_table(tmp_path / "parts.toml", TablePlace("breaker", 0))
    assert list(tmp_path.iterdir()) == []


def test_a_broken_list_is_told_and_stays(path: Path) -> None:
    """The line to mend is named; nothing is written over it."""
    path.write_text(BY_HAND + "rating_a 50\n", encoding="utf-8")

    with pytest.raises(DescriptionError, match="line 19"):
        add_table(path, "coil", {"name": "c"})
    assert path.read_text(encoding="utf-8").endswith("rating_a 50\n")
    path.write_bytes(b"\xff")
    with pytest.raises(DescriptionError, match="UTF-8"):
        read_tables(path)


def test_ends_of_lines_stay(path: Path) -> None:
    """A list written on Windows keeps its own."""
    path.write_bytes(BY_HAND.replace("\n", "\r\n").encode())
    change_table(path, TablePlace("pack"), {"cells": 15})

    assert path.read_bytes() == BY_HAND.replace("\n", "\r\n").replace(
        "cells = 16", "cells = 15").encode()


BOOK = """\
[[vehicle]]
name = "cart"
mass_kg = 520          # with driver

[[pack]]
name = "front"
cells = 16

[pack.limits]   # the board's sheet
peak_a = 200

# the spare
[[pack]]
name = "rear"
# bought used

[[claim]]
text = "40 miles"
"""


def test_a_table_below_another_is_changed_and_added(tmp_path: Path) -> None:
    """Each of two packs keeps its own; what is new stands behind all that belongs to its pack."""
    path = tmp_path / "logbook.toml"
    path.write_text(BOOK, encoding="utf-8")
    alarms = [{"limit": 100.0, "for_s": 60.0}, {"limit": 200.5, "for_s": 3.0}]
    change_table(path, TablePlace("pack", 0, "front", "limits"), {"peak_s": 10.0})
    change_table(path, TablePlace("pack", 1, "rear", "limits"), {"peak_a": 150.0})
    change_table(path, TablePlace("pack", 0, "front", "alarms"), {"out_a": alarms})
    change_table(path, TablePlace("vehicle", 0), {"mass_kg": 540.0})

    assert path.read_text(encoding="utf-8") == BOOK.replace("520 ", "540 ").replace(
        "peak_a = 200\n", "peak_a = 200\npeak_s = 10\n\n[pack.alarms]\nout_a = [{limit = 100, "
        "for_s = 60}, {limit = 200.5, for_s = 3}]\n").replace(
        'name = "rear"\n', 'name = "rear"\n\n[pack.limits]\npeak_a = 150\n')


@pytest.mark.parametrize("text", [
    "[[pack]]\nlimits = {peak_a = 200}\n", "[[pack]]\nlimits.peak_a = 200\n",
    "[[pack]]\n[ pack . limits ]\npeak_a = 200\n", "[[pack]]\nlimits = 3\n",
    "[[pack]]\n[pack.limits]\npeak_a = [\n200]\n", '[[pack]]\n["pack".limits]\npeak_a = 1\n'])
def test_an_unusual_table_below_is_refused_and_stays(tmp_path: Path, text: str) -> None:
    """Whatever is not written in a table of its own, a key a line, is left to a text editor."""
    path = tmp_path / "logbook.toml"
    path.write_text(text, encoding="utf-8")

    with pytest.raises(LogbookError, match="cannot be changed from here"):
        change_table(path, TablePlace("pack", 0, under="limits"), {"peak_a": 150.0})
    assert path.read_text(encoding="utf-8") == text


@settings(derandomize=True, max_examples=60, deadline=None)
@given(name=st.text(min_size=1, max_size=20), rating=st.floats(1e-6, 1e9),
       number=st.integers(0, 1), is_set=st.booleans())
def test_any_change_is_that_change_alone(tmp_path_factory: pytest.TempPathFactory, name: str,
                                         rating: float, number: int, is_set: bool) -> None:
    """Whatever is typed, the list says the old list with it, and keeps every comment; or nothing
    is changed."""
    path = tmp_path_factory.mktemp("list") / "parts.toml"
    path.write_text(BY_HAND, encoding="utf-8")
    wanted = tomllib.loads(BY_HAND)
    values = {"name": name, "rating_a": rating if is_set else None}
    try:
        change_table(path, TablePlace("breaker", number), values)
    except LogbookError:
        assert path.read_text(encoding="utf-8") == BY_HAND
        assert not name.isprintable()
        return
    table = wanted["breaker"][number]
    table["name"] = name
    if is_set:
        table["rating_a"] = rating
    else:
        table.pop("rating_a", None)

    assert read_tables(path) == wanted
    text = path.read_text(encoding="utf-8")
    assert [words for words in COMMENTS if f"# {words}" not in text] == []
