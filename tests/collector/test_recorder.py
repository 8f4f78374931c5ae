"""From a source to a log: what is heard is kept, with what happened on the way."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from collector.clock import Clock
from collector.errors import LogInUse, SourceUnavailable
from collector.journal import JournalWriter
from collector.logbook import Logbook
from collector.logfile import read_log
from collector.meta import LogMeta
from collector.rawfile import Chunk, read_raw
from collector.record import Sample
from collector.recorder import Recording
from tests.collector.told import Told, recorded, rows_of, samples


def test_what_is_heard_is_in_the_log_and_in_the_capture(tmp_path: Path) -> None:
    """Samples go to the log, bytes to the capture beside it; the journal is sealed."""
    first, last = (Chunk(1_775_117_700_000 + n, n / 1000, b"%d" % n) for n in (0, 200))
    source = Told([first, *samples(3), last])
    recording = recorded(tmp_path, source)

    assert recording.path == tmp_path / "logs" / "2026-04-02T08-15-00Z.parquet"
    assert [row["current_a"] for row in rows_of(recording)] == [0.0, 1.0, 2.0]
    assert recording.raw_path is not None
    assert [c.data for c in read_raw(recording.raw_path)] == [b"0", b"200"]
    assert (recording.samples, recording.gaps, recording.problem) == (3, 0, "")
    assert source.is_closed
    assert not list(tmp_path.rglob("*.lock"))


@pytest.mark.scenario(15)
@pytest.mark.parametrize(("set_to_s", "words"), [
    (-259_200, "clock step: 259200.000 s back"), (3600, "clock step: 3600.000 s forward")])
def test_a_clock_that_is_set_is_an_event_and_keeps_the_order(
        tmp_path: Path, set_to_s: int, words: str) -> None:
    """Rows stay in the order heard, with the step between them."""
    before, after = samples(2), [
        Sample(s.time_ms + 1000 * set_to_s, s.monotonic_s, s.values)
        for s in samples(4)[2:] if isinstance(s, Sample)]
    rows = rows_of(recorded(tmp_path, Told([*before, *after])))

    assert [row["current_a"] for row in rows] == [0.0, 1.0, None, 2.0, 3.0]
    assert [row["event"] for row in rows] == [None, None, words, None, None]
    assert [row["monotonic_s"] for row in rows] == sorted(row["monotonic_s"] for row in rows)


def test_a_closed_lid_is_an_event_in_the_gap(tmp_path: Path) -> None:
    """The silence that the source tells afterwards is its consequence and the same gap."""
    slept_s = iter([0.0, 0.0, 3600.0, 3600.0])
    awake, source = samples(2), Told([])
    later = [Sample(item.time_ms + 3_600_000, item.monotonic_s + 3600, {"current_a": 5.0})
             for item in samples(3)[2:]]
    silent = Sample(later[0].time_ms - 10, later[0].monotonic_s - 0.01,
                    event="silent: nothing was heard for 3600 s")
    source.items = [*awake, silent, *later]
    source.clock = Clock(source.clock.wall, source.clock.steady, lambda: next(slept_s))
    recording = recorded(tmp_path, source)

    assert [row["event"] for row in rows_of(recording)] == [
        None, None, "computer slept: 3600 s",
        "asleep: nothing was heard for 3600 s; the link is open, the last amps were 1.0 A", None]
    assert recording.gaps == 1


def test_what_a_sample_leads_to_stands_behind_it(tmp_path: Path) -> None:
    """Events that follow from a sample carry its time."""
    recording = recorded(tmp_path, Told(samples(3)), on_sample=lambda sample, _: (
        ["alarm: x"] if sample.values.get("current_a") == 1.0 else None))

    assert [(row["monotonic_s"], row["event"]) for row in rows_of(recording)] == [
        (0.0, None), (0.1, None), (0.1, "alarm: x"), (0.2, None)]


def test_the_log_is_named_by_its_start(tmp_path: Path) -> None:
    """By the source's clock: a capture played again keeps its date."""
    recording = recorded(tmp_path, Told(samples(1)))

    assert recording.path is not None
    assert recording.path.stem == datetime(2026, 4, 2, 8, 15, tzinfo=UTC).strftime(
        "%Y-%m-%dT%H-%M-%SZ")


def _after_a_log_cut_off(book: Logbook, stem: str, pack: str) -> Recording:
    """The recording of pack p that follows a journal left behind."""
    left = JournalWriter.create(book.log_path(stem, ".csv"), LogMeta(pack=pack), ["current_a"])
    left.write(Sample(1_775_117_688_000, -12.0, {"current_a": 1.0}))
    left.close()
    return recorded(book.root, Told(samples(1)))


def test_a_log_after_one_that_was_cut_off_says_so(tmp_path: Path) -> None:
    """The same monitor's; a log of another pack has nothing to do with it."""
    book = Logbook.create(tmp_path)
    again, other = (
        rows_of(_after_a_log_cut_off(book, stem, pack))
        for stem, pack in (("2026-04-02T08-14-00Z", "p"), ("2026-04-02T08-13-00Z", "q")))

    assert [row["event"] for row in again] == [
        "restarted: the recorder stopped without closing 2026-04-02T08-14-00Z; 12 s unseen", None]
    assert [row["event"] for row in other] == [None]


def test_gaps_are_counted_once_each(tmp_path: Path) -> None:
    """A loss, its return and the silence after it are one gap; a sample ends it."""
    def event(kind: str) -> Sample:
        return Sample(0, 0.0, event=f"{kind}: x")

    lost, back, silent, sample = *map(event, ("link lost", "link back", "silent")), *samples(1)

    assert recorded(tmp_path, Told([lost, back, silent, sample, silent, sample])).gaps == 2


def test_a_monitor_that_cannot_be_opened_leaves_no_file(tmp_path: Path) -> None:
    """The message goes up, and not even the logbook is made."""
    with pytest.raises(SourceUnavailable, match="no such port"):
        recorded(tmp_path / "book", Told([], SourceUnavailable("x", "no such port")))

    assert list(tmp_path.iterdir()) == []


def test_a_recording_of_nothing_leaves_no_file(tmp_path: Path) -> None:
    """No empty log fills the logbook."""
    recording = recorded(tmp_path, Told([]))

    assert (recording.path, recording.raw_path) == (None, None)
    assert list((tmp_path / "logs").iterdir()) == []


def test_a_bug_leaves_a_journal_that_is_recovered(tmp_path: Path) -> None:
    """An error nobody foresaw keeps its traceback and costs no sample."""
    def fail(sample: Sample, _: Recording) -> None:
        if sample.values["current_a"] == 2.0:
            raise ZeroDivisionError("bug")

    with pytest.raises(ZeroDivisionError, match="bug"):
        recorded(tmp_path, Told(samples(9)), on_sample=fail)
    [recovery] = Logbook.open(tmp_path).recover()

    assert read_log(recovery.path).table.num_rows == 3


def test_leftovers_are_brought_back_first_and_told(tmp_path: Path) -> None:
    """A journal of a recorder that was cut off becomes a log, with what was torn."""
    book = Logbook.create(tmp_path)
    writer = JournalWriter.create(book.log_path("2026-04-01T00-00-00Z", ".csv"), LogMeta(),
                                  ("current_a",))
    writer.write(Sample(0, 0.0, {"current_a": 1.0}))
    writer.close()
    writer.path.write_bytes(writer.path.read_bytes() + b"1970-")
    told: list[str] = []
    recorded(tmp_path, Told(samples(1)), on_words=told.append)

    assert told[0] == ("2026-04-01T00-00-00Z.parquet: brought back from its journal; "
                       "5 bytes torn off the end, 0 damaged lines")
    assert [entry.is_journal for entry in book.logs()] == [False, False]


def test_a_second_recorder_on_the_same_log_is_refused(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The first keeps its log; the second is told, and its source is closed."""
    monkeypatch.setattr(Logbook, "stem_for", lambda *_: "same")
    source = Told(samples(1))
    with (Logbook.create(tmp_path).hold("same"),
          pytest.raises(LogInUse, match="same: another recorder is writing this log — stop it")):
        recorded(tmp_path, source)

    assert source.is_closed


def changed(at_s: float) -> Sample:
    """The event of a source whose monitor is another one now."""
    return Sample(1_775_117_700_000 + round(1000 * at_s), at_s, event="changed: another pack")


def test_a_change_begins_a_new_log(tmp_path: Path) -> None:
    """Both are sealed, both tell it, each with its own capture; the last one is given back with
    the earlier ones."""
    before, after = samples(3), samples(9)[3:]
    chunks = [Chunk(1_775_117_700_000 + n, n / 1000, b"%d" % n) for n in (0, 300)]
    recording = recorded(tmp_path, Told([chunks[0], *before, changed(0.3), chunks[1], *after]))
    first, = recording.earlier

    assert [row["event"] or row["current_a"] for row in rows_of(first)] == [
        0.0, 1.0, 2.0, "changed: another pack"]
    assert [row["event"] or row["current_a"] for row in rows_of(recording)] == [
        "changed: another pack", 3.0, 4.0, 5.0, 6.0, 7.0, 8.0]
    assert (first.samples, recording.samples) == (3, 6)
    assert [first.path, recording.path] == [
        tmp_path / "logs" / f"2026-04-02T08-15-00Z{n}.parquet" for n in ("", "-2")]
    assert [[c.data for c in read_raw(each.raw_path)] for each in (first, recording)
            if each.raw_path] == [[b"0"], [b"300"]]


def test_changes_one_after_the_other_make_no_heap_of_logs(tmp_path: Path) -> None:
    """Within a minute of a change the next one stands in the same log."""
    items = [Sample(1_775_117_700_000 + 1000 * n, float(n), {"current_a": 1.0})
             for n in range(200)]
    for at in (150, 100, 50, 10):
        items.insert(at, changed(float(at)))
    recording = recorded(tmp_path, Told(list(items)))

    assert len(recording.earlier) == 2
    assert sum(row["event"] is None for each in (*recording.earlier, recording)
               for row in rows_of(each)) == 200


def test_a_change_at_the_very_end_leaves_no_empty_log(tmp_path: Path) -> None:
    """Nothing came after it."""
    recording = recorded(tmp_path, Told([*samples(2), changed(0.2)]))

    assert recording.earlier == ()
    assert recording.samples == 2
    assert [path.suffix for path in sorted((tmp_path / "logs").iterdir())] == [".parquet", ".raw"]
