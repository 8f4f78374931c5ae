"""Corrections in a logbook: accepted, listed, taken back, never rewritten."""

from __future__ import annotations

from pathlib import Path

import pytest

from collector.corrections import (
    Correction,
    accept,
    active,
    layers_of,
    next_number,
    read_corrections,
    undo,
)
from collector.errors import LogbookError

FIRST = Correction(1, 1_000_000, "main", "current_a", 0.35, 1.0, 1_746_921_600_000, None, "pairs")
SECOND = Correction(2, 2_000_000, "", "voltage_v", 0.0, 1.01, 1_000, 9_000, "meter, volts")


def test_what_was_accepted_comes_back(tmp_path: Path) -> None:
    """In the order in which it begins to hold, whenever it was accepted."""
    path = tmp_path / "corrections.csv"
    for correction in (FIRST, SECOND):
        accept(path, correction)
    rows = read_corrections(path).rows

    assert rows == (FIRST, SECOND)
    assert active(rows) == [SECOND, FIRST]
    assert next_number(rows) == 3


def test_taking_back_adds_a_line(tmp_path: Path) -> None:
    """The history stays; a number is never used twice, and only what stands can be undone."""
    path = tmp_path / "corrections.csv"
    accept(path, FIRST)
    before = path.read_bytes()
    undo(path, 1, 3_000_000, "wrong day")

    assert path.read_bytes().startswith(before)
    assert active(read_corrections(path).rows) == []
    assert next_number(read_corrections(path).rows) == 2
    with pytest.raises(LogbookError, match="no correction 1 stands — standing: none"):
        undo(path, 1, 4_000_000)


def test_layers_belong_to_a_pack(tmp_path: Path) -> None:
    """Those without a pack's name hold for every pack."""
    path = tmp_path / "corrections.csv"
    for correction in (FIRST, SECOND):
        accept(path, correction)

    assert layers_of(path, "spare") == (
        {"kind": "zero", "column": "voltage_v", "value": -0.0, "from": "1970-01-01T00:00:01.000Z",
         "until": "1970-01-01T00:00:09.000Z", "reason": "meter, volts"},
        {"kind": "gain", "column": "voltage_v", "value": 1.01, "from": "1970-01-01T00:00:01.000Z",
         "until": "1970-01-01T00:00:09.000Z", "reason": "meter, volts"})
    assert [layer["value"] for layer in layers_of(path, "main")] == [0.0, 1.01, -0.35, 1.0]
    assert layers_of(tmp_path / "none.csv", "main") == ()


def test_a_spoilt_line_is_passed_over(tmp_path: Path) -> None:
    """An action or number that a hand spoilt costs its own line."""
    path = tmp_path / "corrections.csv"
    accept(path, FIRST)
    accept(path, SECOND)
    path.write_text(path.read_text().replace("1,accept", "1,accpet"))
    found = read_corrections(path)

    assert (found.rows, found.damaged_lines) == ((SECOND,), (2,))
