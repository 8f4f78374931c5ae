"""Following a recording: fresh, silent, ended, and the words for each."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from collector.journal import JournalWriter
from collector.logbook import Logbook
from collector.logfile import finish_log
from collector.record import Sample
from dashboard.live import KEPT_S, LiveFeed, LiveView
from dashboard.pages import now
from dashboard.quantities import NBSP
from dashboard.recency import age_words, day_words, live_sentence, span_words
from tests.dashboard.demo_logs import COLUMNS, META, START, drive_values, sample, start_journal

VALUES = drive_values(4000, 1.0, seed=5)
START_MS = round(START.timestamp() * 1000)


class Wall:
    """A clock that the test sets."""

    def __init__(self) -> None:
        self.now_s = START.timestamp()

    def __call__(self) -> float:
        return self.now_s


@pytest.fixture
def book(tmp_path: Path) -> Logbook:
    return Logbook.create(tmp_path / "book")


def test_nothing_recorded_teaches(book: Logbook) -> None:
    """An idle logbook says how to start."""
    view = LiveFeed(book, {}).look()

    assert view == LiveView("nothing")
    assert "start on the Bench" in live_sentence(view)


def test_a_recording_is_followed_to_its_end(book: Logbook) -> None:
    """Fresh samples, then silence, then the finished log: each is said."""
    wall = Wall()
    feed = LiveFeed(book, {}, wall)
    stem = book.stem_for(START)
    with book.hold(stem):
        journal = start_journal(book, stem)
        assert live_sentence(feed.look()) == "Recording. Nothing heard from the monitor yet."
        for row in range(720):
            journal.write(sample(VALUES, row, START_MS + 1000 * row, 50.0 + row))
        wall.now_s += 719.4
        fresh = feed.look()
        wall.now_s += 60
        silent = feed.look()
        journal.close()
    finish_log(book.log_path(stem, ".csv"))
    wall.now_s += 5
    ended = feed.look()

    assert fresh.state == "recording"
    assert fresh.recording is not None
    assert fresh.recording.duration_s <= KEPT_S
    assert live_sentence(fresh).startswith("Recording for 12 min.")
    assert live_sentence(fresh).endswith(f"Last sample 0.4{NBSP}s ago.")
    assert live_sentence(silent) == ("Nothing new since 09:26:59. "
                                     "The recorder may have stopped.")
    assert live_sentence(ended) == "The recording ended at 09:26:59, after 12 min."


def test_a_sign_that_turns_is_told_and_never_swapped(book: Logbook) -> None:
    """The sentence loses its direction and says why and what to do; it never says the opposite."""
    wall = Wall()
    feed = LiveFeed(book, {}, wall)
    stem = book.stem_for(START)
    told = []
    with book.hold(stem):
        journal = start_journal(book, stem)
        for row in range(2400):
            way = 1 if row < 900 else -1
            journal.write(sample(VALUES | {"current_a": way * VALUES["current_a"]}, row,
                                 START_MS + 1000 * row, 50.0 + row))
            wall.now_s += 1
            if row % 60 == 59:
                told.append(now.texts(feed.look())["texts"]["aside"])
        journal.close()
    turned = next(n for n, words in enumerate(told) if "the sign turns within the log" in words)

    assert turned * 60 < 900 + KEPT_S
    assert not any(words.startswith("Plus means out") for words in told)
    assert "the sign turns within the log, about 09:" in told[turned]
    assert all(words.endswith("Its sign has turned: stop the recording and begin anew.")
               for words in told[turned:])


def test_a_description_that_was_wrong_is_told(book: Logbook) -> None:
    """What the volts say goes before it, and both are said."""
    wall = Wall()
    feed = LiveFeed(book, {}, wall)
    stem = book.stem_for(START)
    meta = replace(META, monitor={"sign": {"current_a": "positive_is_discharge"}})
    with book.hold(stem):
        journal = JournalWriter.create(book.log_path(stem, ".csv"), meta, COLUMNS)
        for row in range(300):
            journal.write(sample(VALUES, row, START_MS + 1000 * row, 50.0 + row))
            wall.now_s += 1
            if row in (3, 299):
                told = now.texts(feed.look())["texts"]["aside"]
        journal.close()

    assert told.endswith("But the description says plus is out of the pack.")


def test_a_boat_is_asked_for_its_throttle(book: Logbook) -> None:
    """Nobody asks it to press a pedal."""
    wall = Wall()
    feed = LiveFeed(book, {"vehicle": [{"name": META.vehicle, "kind": "boat"}]}, wall)
    stem = book.stem_for(START)
    with book.hold(stem):
        journal = start_journal(book, stem)
        for row in range(60):
            journal.write(Sample(START_MS + 1000 * row, 50.0 + row,
                                 {"current_a": 20.0, "voltage_v": 53.0}))
        wall.now_s += 61
        told = now.texts(feed.look())["texts"]["aside"]
        journal.close()

    assert told.endswith("which way cannot be told yet: push the throttle once, hard, while "
                         "recording.")


def test_the_file_is_looked_at_once_however_many_ask(book: Logbook) -> None:
    """Within a quarter of a second every page gets the same view."""
    wall = Wall()
    feed = LiveFeed(book, {}, wall)
    first = feed.look()
    wall.now_s += 0.1

    assert feed.look() is first
    wall.now_s += 0.3
    assert feed.look() is not first


def test_a_log_of_events_alone_is_nothing_to_draw(book: Logbook) -> None:
    """The link can be lost before the first sample."""
    wall = Wall()
    stem = book.stem_for(START)
    with book.hold(stem):
        journal = start_journal(book, stem)
        journal.write(Sample(START_MS, 50.0, {}, "link lost: no such port"))
        view = LiveFeed(book, {}, wall).look()
        journal.close()

    assert view.recording is None
    assert view.state == "recording"
    assert now.paper(view) is None


def test_the_page_shows_what_is_known(book: Logbook) -> None:
    """Sentence, large figures, marks and strips of the last five minutes."""
    wall = Wall()
    stem = book.stem_for(START)
    with book.hold(stem):
        journal = start_journal(book, stem)
        for row in range(400):
            journal.write(sample(VALUES, row, START_MS + 1000 * row, 50.0 + row))
        journal.write(Sample(START_MS + 399_500, 449.5, {}, "mark: <i>gate</i>"))
        wall.now_s += 401
        view = LiveFeed(book, {}, wall).look()
        journal.close()
    assert view.recording is not None
    told = str(now.words(view))
    figure = now.picture(view.recording, view)

    assert "<i>gate</i>" in told
    assert "Invented data." in told
    assert now.last_readings(view)["volts"] == (f"{VALUES['voltage_v'][399]:.2f}", "")
    assert tuple(figure.layout.xaxis.range) == (-300.0, 0.0)
    assert max(figure.data[2].x) == pytest.approx(-2.0)


@pytest.mark.parametrize(("age_s", "words"), [
    (0.04, f"0.0{NBSP}s ago"), (0.4, f"0.4{NBSP}s ago"), (12.3, f"12{NBSP}s ago"),
    (180.0, "3 min ago"), (7500.0, "2 h 05 ago"),
])
def test_age_is_put_into_words(age_s: float, words: str) -> None:
    """Tenths while fresh, then seconds, minutes, hours."""
    assert age_words(age_s) == words


@pytest.mark.parametrize(("seconds", "words"), [(40.0, f"40{NBSP}s"), (720.0, "12 min"),
                                                (7500.0, "2 h 05")])
def test_spans_are_put_into_words(seconds: float, words: str) -> None:
    """Seconds, minutes, hours and minutes."""
    assert span_words(seconds) == words


def test_days_have_no_leading_zero() -> None:
    """As a person writes them."""
    assert day_words(datetime(2026, 4, 2, tzinfo=UTC)) == "Thursday 2 April 2026"
