"""What the logs said at a moment."""

import math
from pathlib import Path

from collector.corrections import Correction, accept
from collector.journal import JournalWriter
from collector.logbook import Logbook
from collector.logfile import finish_log
from collector.meta import LogMeta
from collector.moment import LastFigures, Moment, moments_at
from collector.record import Sample

#: 2026-04-02T08:15:00Z.
START_MS = 1_775_117_700_000


def write(book: Logbook, stem: str, pack: str = "", amps: float = -20.0, count: int = 10,
          start_ms: int = START_MS) -> Path:
    """A journal with a sample a second; percent only in the first."""
    path = book.log_path(stem, ".csv")
    columns = ["current_a", "soc_pct"]
    with_percent = {"soc_pct": 91.0}
    journal = JournalWriter.create(path, LogMeta(pack=pack), columns)
    for n in range(count):
        values = {"current_a": amps - n} | (with_percent if n == 0 else {})
        journal.write(Sample(start_ms + 1000 * n, float(n), values))
    journal.write(Sample(start_ms + 1000 * count, float(count), event="mark: x"))
    journal.close()
    return path


def test_the_newest_figure_before_the_moment_counts(tmp_path: Path) -> None:
    """Each quantity by itself; the age is that of the newest, in a journal as in a sealed log."""
    book = Logbook.create(tmp_path)
    path = write(book, "2026-04-02T08-15-00Z")
    live = moments_at(book, START_MS + 3_400)
    finish_log(path)

    assert live == moments_at(book, START_MS + 3_400)
    [moment] = live.values()
    assert (moment.log, moment.age_s, moment.current_a, moment.soc_pct) == (
        "2026-04-02T08-15-00Z", 0.4, -23.0, 91.0)
    assert math.isnan(moment.voltage_v)
    assert moment.words == "-23.0 A, 91 %, 0.4 s before"


def test_a_log_that_a_wrong_clock_dated_is_found_by_its_true_time(tmp_path: Path) -> None:
    """Once it was moved, a reading typed with its true time stands beside the right figures."""
    book = Logbook.create(tmp_path)
    year_ms = 365 * 86_400_000
    finish_log(write(book, "2027-04-02T08-15-00Z", start_ms=START_MS + year_ms))
    before = moments_at(book, START_MS + 3_400)
    accept(book.corrections_path, Correction(
        1, 0, "", "time", year_ms / 1000, 1.0, START_MS + year_ms - 1000,
        START_MS + year_ms + 20_000))

    [moment] = moments_at(book, START_MS + 3_400).values()
    assert before == moments_at(book, START_MS + year_ms + 3_400) == {}
    assert (moment.log, moment.current_a) == ("2027-04-02T08-15-00Z", -23.0)


def test_a_moment_that_no_log_covers_has_none(tmp_path: Path) -> None:
    """Before the first sample, and long after the last."""
    book = Logbook.create(tmp_path)
    write(book, "2026-04-02T08-15-00Z")

    assert moments_at(book, START_MS - 1) == {}
    assert moments_at(book, START_MS + 60_000) == {}


def test_packs_recorded_together_are_told_apart(tmp_path: Path) -> None:
    """One moment a pack; of two logs of one pack, the later; a spoilt log is passed over."""
    book = Logbook.create(tmp_path)
    write(book, "2026-04-02T08-14-00Z", "front", -1)
    write(book, "2026-04-02T08-15-00Z", "front", -20)
    write(book, "2026-04-02T08-15-00Z-2", "rear", -30)
    (book.logs_folder / "2026-04-02T08-15-00Z-3.parquet").write_text("no log")
    found = moments_at(book, START_MS + 1_000)

    assert {pack: moment.current_a for pack, moment in found.items()} == {
        "front": -21.0, "rear": -31.0}


def test_a_running_recordings_figures_grow_stale() -> None:
    """Figures older than ten seconds do not stand for the moment."""
    last = LastFigures()
    last.take(Sample(0, 100.0, {"current_a": -5.0, "voltage_v": 52.0, "state": "drive"}))
    last.take(Sample(0, 104.0, {"current_a": -6.0}))
    fresh = last.at(105.0, "x")

    assert (fresh.age_s, fresh.current_a, fresh.voltage_v) == (1.0, -6.0, 52.0)
    assert math.isnan(last.at(111.0, "x").voltage_v)
    assert repr(last.at(120.0, "x")) == repr(Moment())
