"""Beside a recording: marks become notes, limits become alarms."""

from __future__ import annotations

from pathlib import Path

from collector.alarm_limits import Limit
from collector.alarms import Alarms
from collector.attendant import Attendant
from collector.notes import read_notes
from collector.record import Sample
from collector.recorder import Recording
from collector.sources.keyboard import SHELVE

RECORDING = Recording(Path("logs/2026-04-02T08-15-00Z.csv"), None)


class Beside:
    """An attendant, and what it said and rang."""

    def __init__(self, notes_path: Path, *limits: Limit) -> None:
        self.said: list[str] = []
        self.rings = 0
        alarms = Alarms(limits, "negative_is_discharge")
        self.attendant = Attendant(alarms, notes_path, "main", on_words=self.said.append,
                                   on_alarm=self._ring, on_shelve=alarms.shelve)

    def _ring(self) -> None:
        self.rings += 1

    def take(self, at_s: float, event: str = "", **values: float) -> list[str]:
        sample = Sample(round(1000 * at_s), at_s, values, event)
        return list(self.attendant.take(sample, RECORDING))


def test_a_mark_is_a_note_with_its_moment(tmp_path: Path) -> None:
    """The figures are those of the samples before it."""
    beside = Beside(tmp_path / "notes.csv")
    beside.take(10, current_a=-21.0, voltage_v=52.1)
    events = beside.take(10.5, "mark: 3")
    [note] = read_notes(tmp_path / "notes.csv").rows

    assert (note.time_ms, note.kind, note.text, note.pack) == (10_500, "mark", "3", "main")
    assert (note.moment.log, note.moment.age_s, note.moment.current_a) == (
        "2026-04-02T08-15-00Z", 0.5, -21.0)
    assert events == beside.said == []


def test_a_mark_that_cannot_be_kept_is_told_and_the_recording_goes_on(tmp_path: Path) -> None:
    """It stands in the log all the same."""
    beside = Beside(tmp_path / "none" / "notes.csv")
    beside.take(0, "mark: 1")

    assert beside.said == [f"{tmp_path}/none/notes.csv: cannot be written (No such file or "
                           "directory) — choose another folder with --logbook; the mark is in the "
                           "log alone"]


def test_an_alarm_rings_once_and_goes_into_the_log(tmp_path: Path) -> None:
    """Its end is told without a ring; shelved, it goes into the log in silence."""
    beside = Beside(tmp_path / "notes.csv", Limit("out_a", 100, 2, 5))
    events = [beside.take(at_s, current_a=-150.0) for at_s in (0.0, 1.0, 2.0, 3.0)]
    beside.take(4, SHELVE)
    after = [beside.take(at_s, current_a=amps)
             for at_s, amps in ((5.0, -20.0), (6.0, -150.0), (8.0, -150.0))]

    assert events == [[], [], ["alarm: amps out 150 A, above 100 A for 2 s — ease off: heat grows "
                               "with the square of the amps"], []]
    assert beside.rings == 1
    assert after[0] == ["alarm: over: amps out 20 A"]
    assert len(after[2]) == 1
    assert beside.said == ["alarms that sound now keep quiet for 10 minutes"]
