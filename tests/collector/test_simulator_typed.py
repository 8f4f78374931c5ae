"""What was typed into the invented season: its parts, a hot lug, the day of the new controller."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

import pyarrow as pa
import pytest

from collector.journal import log_schema
from collector.logbook import Logbook
from collector.logfile import write_log
from collector.meta import LogMeta
from collector.notes import Note, read_notes
from collector.simulator.later_years import SPRING_FILLS, evenings
from collector.simulator.staged import SEASON_ONE
from collector.simulator.typed import CONTROLLER_DAY, LUG_MOHM, type_in
from collector.table_file import read_tables

AMPS = [-3.0, -85.0, None, -20.0]


def typed(tmp_path: Path, *days: date) -> tuple[Note, ...]:
    """Notes of a logbook with a short log on each of these days."""
    book = Logbook.create(tmp_path / "book")
    for day in days:
        start = datetime(day.year, day.month, day.day, 8, tzinfo=UTC)
        schema = log_schema(("current_a", "voltage_v", "soc_pct"))
        rows = {"time": [round(start.timestamp() * 1000) + 1000 * n for n in range(4)],
                "monotonic_s": [0.0, 1.0, 2.0, 3.0], "current_a": AMPS,
                "voltage_v": [52.0, 50.5, 52.0, 51.8], "soc_pct": [80.0] * 4,
                "event": [None] * 4}
        arrays = {name: pa.array(values).cast(schema.field(name).type)
                  for name, values in rows.items()}
        write_log(book.log_path(book.stem_for(start)), LogMeta(pack="flatbed main"),
                  pa.table(arrays, schema=schema))
    type_in(book.root)
    assert read_tables(book.root / "parts.toml")["pack"]["name"] == "flatbed main"
    return read_notes(book.notes_path).rows


def test_nothing_is_noted_of_days_that_are_not_there(tmp_path: Path) -> None:
    """A season of a few days knows nothing of June; the parts were typed before it began."""
    assert typed(tmp_path, date(2026, 4, 2)) == ()


def test_the_lug_is_probed_at_the_hardest_pull(tmp_path: Path) -> None:
    """85 A x 1.4 mohm = 119 mV beside 10 mV of its twin, at the log's own figures."""
    lug, twin = typed(tmp_path, LUG_MOHM[0][0])

    assert (lug.value, twin.value) == (119, 10)
    assert (lug.moment.current_a, lug.moment.voltage_v) == (-85.0, 50.5)
    assert lug.time_ms % 60_000 == 1000


def test_the_notes_are_of_the_staged_days(tmp_path: Path) -> None:
    """The day on which the control changes; the lug hot on its last day, and after it made anew."""
    staged = {event.kind: event for event in SEASON_ONE}
    lug = staged["hot lug"]
    notes = typed(tmp_path, *{day for day, _, _ in LUG_MOHM}, CONTROLLER_DAY)

    assert staged["controller"].first == CONTROLLER_DAY
    assert [(lug.first <= day <= lug.last) == (mohm > 1) for day, joint, mohm in LUG_MOHM
            if joint == "main minus lug"] == [True, True]
    assert lug.changes["lug_mohm"] + 0.12 == pytest.approx(1.40)
    assert [note.kind for note in notes] == [
        "joint-millivolts", "joint-millivolts", "part-changed", "joint-millivolts", "part-changed"]
    assert notes[-1].time_ms < datetime(2026, 6, 12, 8, tzinfo=UTC).timestamp() * 1000


def test_later_years_are_typed_where_their_logs_are(tmp_path: Path) -> None:
    """A word in spring and a note each evening; a logbook of season one alone has neither."""
    with_spring = typed(tmp_path / "a", SPRING_FILLS[0])
    kinds = [note.kind for note in with_spring]

    assert (kinds.count("text"), kinds.count("day")) == (1, len(list(evenings(1))))
    assert [note.time_ms for note in with_spring] == sorted(note.time_ms for note in with_spring)
    assert typed(tmp_path / "b", date(2026, 4, 3)) == ()
