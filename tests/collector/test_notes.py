"""Notes: what a person saw, kept with what the monitor said."""

import math
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from collector.moment import Moment
from collector.note_kinds import KINDS
from collector.notes import COLUMNS, Note, add_note, read_notes

words = st.text(st.characters(codec="utf-8")).map(lambda text: " ".join(text.split()))
figures = st.floats(-1e6, 1e6) | st.just(math.nan)
notes = st.builds(
    Note, st.integers(0, 4_000_000_000_000), st.sampled_from(sorted(KINDS)), figures,
    st.sampled_from(["", "A"]), words, words, st.none() | st.integers(1, 24), words, words, words,
    words, st.builds(Moment, words, figures, figures, figures, figures))


@settings(derandomize=True, max_examples=200)
@given(notes)
def test_a_note_reads_back_as_it_was_written(note: Note) -> None:
    """Missing stays missing, zero stays zero."""
    back = Note.from_row(note.as_row())

    assert repr(back) == repr(note)


def test_a_zero_reading_is_a_reading() -> None:
    """0 A and 0 % are told; what is missing is left out."""
    note = Note(0, "clamp-amps", 0.0, "A", moment=Moment("x", 0.0, current_a=0.0))

    assert note.as_json() == {"time": "1970-01-01T00:00:00.000Z", "kind": "clamp-amps",
                              "value": 0.0, "unit": "A", "log": "x", "age_s": 0.0,
                              "current_a": 0.0}


def test_a_spoilt_note_costs_itself(tmp_path: Path) -> None:
    """A time or figure that a hand spoilt is told by its line."""
    path = tmp_path / "notes.csv"
    for value in (1.0, 2.0, 3.0):
        add_note(path, Note(0, "load", value, "kg"))
    path.write_text(path.read_text().replace("load,2,", "load,two,"))
    found = read_notes(path)

    assert ([note.value for note in found.rows], found.damaged_lines) == ([1.0, 3.0], (3,))


def test_the_columns_are_the_documented_ones() -> None:
    """A logbook of today is read in ten years: columns are added, never renamed."""
    assert ",".join(COLUMNS) == (
        "time,kind,value,unit,typed,joint,cell,instrument,text,photo,pack,log,age_s,current_a,"
        "voltage_v,soc_pct")
