"""What was typed into the invented season: the parts, and the day of the new controller."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest

from collector.logbook import Logbook
from collector.notes import read_notes
from collector.parts_file import read_parts
from collector.simulator.staged import SEASON_ONE
from collector.simulator.typed import CONTROLLER_DAY, type_in


@pytest.mark.parametrize(("until", "notes"), [
    (CONTROLLER_DAY - timedelta(days=1), 0), (CONTROLLER_DAY, 1), (date(2026, 10, 26), 1)])
def test_nothing_is_noted_before_its_day(tmp_path: Path, until: date, notes: int) -> None:
    """A season of a few days knows nothing of June; the parts were typed before it began."""
    book = Logbook.create(tmp_path / "book")
    type_in(book.root, until)

    assert len(read_notes(book.notes_path).rows) == notes
    assert read_parts(book.root / "parts.toml")["pack"]["name"] == "flatbed main"
    assert read_parts(book.root / "parts.toml")["invented"] is True


def test_the_note_is_of_the_staged_day() -> None:
    """The day on which the control changes."""
    assert [event.first for event in SEASON_ONE if event.kind == "controller"] == [CONTROLLER_DAY]
