"""What a person told beside the logs, and which drive it is of."""

from __future__ import annotations

from dataclasses import replace

from analysis.asking.told import BEFORE_DRIVE_S, conditions_noted
from analysis.digest import LogDigest
from collector.notes import Note
from tests.analysis.made_trips import UP, trip_digest


def at(unix_s: float, way: str) -> Note:
    return Note(round(unix_s * 1000), "route", text=way)


def ways(drives: list[LogDigest], *notes: Note) -> list[str]:
    told = conditions_noted(drives, notes)
    return [told[drive.log].route for drive in drives]


def test_a_way_is_that_of_the_drive_in_which_it_was_noted() -> None:
    """Not that of the next drive, however soon it began; before a drive it is the first one's."""
    first = trip_digest([(UP, 100.0)])
    gap_s = first.end_s - first.start_s + BEFORE_DRIVE_S / 4
    second = replace(first, log="second", head=replace(
        first.head, start_s=first.start_s + gap_s, end_s=first.end_s + gap_s))

    assert ways([first, second], at(first.start_s + 60, "mill")) == ["mill", ""]
    assert ways([first, second], at(first.start_s - 60, "mill")) == ["mill", ""]
    assert ways([second, first], at(second.start_s - 60, "mill")) == ["mill", ""]
    assert ways([first, second], at(first.start_s - BEFORE_DRIVE_S - 1, "mill")) == ["", ""]
    assert ways([first, second], at(second.end_s + 1, "mill")) == ["", ""]


def test_the_last_word_counts_and_capitals_make_no_other_way() -> None:
    """A name written anew replaces the one before; one way has one name, as written last."""
    drives = [trip_digest([(UP, 100.0)], day) for day in range(3)]
    start = [drive.start_s for drive in drives]

    assert ways(drives, at(start[0] + 60, "mill"), at(start[0], "shore")) == ["shore", "", ""]
    assert ways(drives, at(start[0], "The  Mill"), at(start[1], "the mill"), at(start[2], " ")) == [
        "the mill", "the mill", ""]


def test_a_note_of_another_pack_is_none_of_this_one() -> None:
    """Two vehicles may drive at one time; a note without a pack is of any."""
    drive = trip_digest([(UP, 100.0)])
    own = replace(drive, head=replace(drive.head, pack="main"))

    assert ways([own], replace(at(own.start_s, "mill"), pack="other")) == [""]
    assert ways([own], replace(at(own.start_s, "mill"), pack="main")) == ["mill"]
    assert ways([own], at(own.start_s, "mill")) == ["mill"]
