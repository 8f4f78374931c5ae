"""A computer's clock that the logbook speaks against: the person is asked."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pyarrow as pa
import pytest

from collector.clock_doubt import clock_doubt
from collector.corrections import Correction, accept
from collector.journal import log_schema
from collector.logbook import Logbook
from collector.logfile import write_log
from collector.meta import LogMeta

ENDED = datetime(2026, 4, 2, 9, 0, tzinfo=UTC)


def ms(*when: int) -> int:
    return round(datetime(*when, tzinfo=UTC).timestamp() * 1000)  # type: ignore[misc,arg-type]


def with_log(book: Logbook, began: datetime, hours: float = 1.0) -> None:
    began_ms = round(began.timestamp() * 1000)
    table = pa.table({"time": pa.array([began_ms, began_ms + round(3_600_000 * hours)]),
                      "monotonic_s": [0.0, 3600.0 * hours], "current_a": [1.0, 1.0],
                      "event": pa.nulls(2, pa.string())}).cast(log_schema(("current_a",)))
    write_log(book.log_path(book.stem_for(began)), LogMeta(), table)


@pytest.fixture
def book(tmp_path: Path) -> Logbook:
    """One log, 8 to 9 o'clock."""
    book = Logbook.create(tmp_path / "book")
    with_log(book, ENDED.replace(hour=8))
    return book


@pytest.mark.scenario(15)
@pytest.mark.parametrize(("now", "said"), [
    ((2026, 4, 2, 9, 0), ""), ((2026, 4, 9), ""), ((2027, 3, 30), ""),
    ((2026, 3, 30), "before the newest log ends, which is"),
    ((2000, 1, 1), "nobody has set it"), ((1970, 1, 1), "nobody has set it"),
    ((2031, 4, 2), "5 years after the newest log ended")])
def test_a_clock_that_cannot_be_right_is_asked_about(
        book: Logbook, now: tuple[int, ...], said: str) -> None:
    """Behind the newest log, years after it, or never set; with what to do."""
    doubt = clock_doubt(book, ms(*now))

    assert said in doubt
    assert bool(doubt) is bool(said)
    assert not said or "set the computer's clock" in doubt


def test_a_log_that_was_moved_casts_no_doubt(book: Logbook) -> None:
    """Once its date is mended, a log from a wrong clock asks no more."""
    with_log(book, datetime(2031, 1, 1, tzinfo=UTC))
    before = clock_doubt(book, ms(2026, 4, 3))
    ahead_s = (ms(2031, 1, 1) - ms(2026, 4, 2, 10)) / 1000
    accept(book.corrections_path, Correction(1, 0, "", "time", ahead_s, 1.0, ms(2030, 12, 31),
                                             ms(2031, 1, 2)))

    assert "before the newest log ends" in before
    assert clock_doubt(book, ms(2026, 4, 3)) == ""


def test_an_empty_or_an_invented_logbook_speaks_against_nothing(
        tmp_path: Path, book: Logbook) -> None:
    """Invented days lie where they like."""
    assert clock_doubt(Logbook(tmp_path / "none"), ms(2026, 4, 2)) == ""
    (book.root / "logbook.toml").write_text("invented = true\n")
    assert clock_doubt(book, ms(2026, 3, 1)) == ""
