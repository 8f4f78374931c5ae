"""The diary: what is kept, how it is told, what is refused."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from collector.errors import LogbookError
from collector.logbook import Logbook
from collector.logfile import write_log
from collector.moment import Moment
from collector.notes import Note, add_note
from dashboard.app import create_app
from dashboard.pages import diary as page
from dashboard.quantities import MINUS, NBSP, Units
from dashboard.store import Store
from tests.dashboard.demo_logs import (
    META,
    START,
    drive_table,
    drive_values,
    make_logbook,
    newest_stem,
    sample,
    start_journal,
)
from tests.dashboard.test_pages import text_of


@pytest.fixture
def book(tmp_path: Path) -> Logbook:
    return make_logbook(tmp_path / "book", drives=1, samples=600)


@pytest.fixture
def own(book: Logbook) -> Store:
    store = Store(book)
    store.logs()
    store.settle(60)
    return store


@pytest.fixture
def client(own: Store) -> Iterator[FlaskClient]:
    with create_app(own).server.test_client() as client:
        yield client


def at(seconds: float) -> str:
    return (START + timedelta(seconds=seconds)).isoformat()


def test_an_empty_diary_teaches(own: Store) -> None:
    """It says in one line what to do, and makes no file by being looked at."""
    assert page.opening(own.entries()) == page.TEACH
    assert not own.logbook.notes_path.exists()


def test_a_reading_is_kept_as_typed(own: Store) -> None:
    """The typed words stay beside the figure, with what the monitor said then."""
    told = own.diary.keep({"kind": "joint-millivolts", "value": "0.119 V", "joint": "main minus",
                           "at": at(300.4)}, Units())
    entry = own.entries()[0]
    volts = drive_values(600, 1.0)["voltage_v"][300]

    assert (entry.figure, entry.typed, entry.place) == (f"119{NBSP}mV", "0.119 V", "main minus")
    assert f"{volts:.2f}{NBSP}V" in entry.moment
    assert entry.moment in told
    assert entry.log == newest_stem(own.logbook)


@pytest.mark.parametrize(("kind", "value", "which"), [
    ("joint-millivolts", "119", "joint — say where"),
    ("cell-volts", "3.31", "cell — type the cell")])
def test_a_figure_of_a_joint_or_a_cell_says_which(own: Store, kind: str, value: str,
                                                  which: str) -> None:
    """Nothing could be made of it later, so it is not kept."""
    with pytest.raises(LogbookError, match=f"nothing says which {which}"):
        own.diary.keep({"kind": kind, "value": value}, Units())

    assert own.entries() == []


def test_that_the_charger_says_full_needs_no_words(own: Store) -> None:
    """The kind says all; anything else needs words."""
    own.diary.keep({"kind": "full"}, Units())
    with pytest.raises(LogbookError, match="no words"):
        own.diary.keep({"kind": "weather"}, Units())

    assert [entry.kind for entry in own.entries()] == ["the charger says full"]


def test_amps_are_told_by_their_way(own: Store) -> None:
    """Out and in as the log's sign says; nothing is read into a sign that is open."""
    moment = Moment("2026-04-02T08-15-00Z", 0.2, -48.2)
    note = Note(round(START.timestamp() * 1000), "mark", moment=moment)
    told = {sign: own.diary.__class__(own.logbook, lambda _, sign=sign: sign, lambda _: UTC)
            ._entry(note, Units()).moment
            for sign in ("negative_is_discharge", "positive_is_discharge", "undecided", "")}

    assert told == {"negative_is_discharge": f"48{NBSP}A out",
                    "positive_is_discharge": f"48{NBSP}A in",
                    "undecided": f"{MINUS}48.2{NBSP}A on the display",
                    "": f"{MINUS}48.2{NBSP}A on the display"}
    assert own.entries() == []


def test_until_a_log_is_read_its_head_is_believed(tmp_path: Path,
                                                  monkeypatch: pytest.MonkeyPatch) -> None:
    """While no digest is known yet the way of amps and the hour come from the log's own head."""
    book = Logbook.create(tmp_path / "book")
    meta = replace(META, time_zone="Asia/Kathmandu", sign={"convention": "negative_is_discharge"})
    stem = book.stem_for(START)
    write_log(book.log_path(stem), meta, drive_table(60))
    add_note(book.notes_path, Note(round(START.timestamp() * 1000), "mark",
                                   moment=Moment(stem, 0.2, -48.2)))
    store = Store(book)
    monkeypatch.setattr(store, "logs", list)
    [entry] = store.entries()

    assert entry.moment == f"48{NBSP}A out"
    assert f"{entry.at:%H:%M}" == "14:00"  # 08:15 UTC, 5 h 45 min ahead


def test_figures_follow_the_persons_units(own: Store) -> None:
    """A bare figure is meant, and told, in what the person chose: 165 °F is 73.9 °C."""
    own.diary.keep({"kind": "surface-temperature", "value": "165"}, Units(temperature="F"))
    entry = own.diary.entries(Units())[0]

    assert entry.figure == f"73.9{NBSP}°C"
    assert own.diary.entries(Units(temperature="F"))[0].figure == f"165{NBSP}°F"


def test_a_mark_is_named_later(own: Store) -> None:
    """Naming adds a line and rewrites none; the diary and the strips show the last name."""
    at_ms = round((START.timestamp() + 200) * 1000)
    add_note(own.logbook.notes_path, Note(at_ms, "mark"))
    before = own.logbook.notes_path.read_bytes()
    for name in ("bump", "gate, left wheel"):
        own.diary.keep({"named": str(at_ms), "text": name}, Units())
    marks = own.recording(newest_stem(own.logbook)).marks

    assert own.logbook.notes_path.read_bytes().startswith(before)
    assert [entry.text for entry in own.entries()] == ["gate, left wheel"]
    assert [(mark.elapsed_s, mark.words) for mark in marks] == [(200.0, "gate, left wheel")]


def test_a_mark_of_the_log_is_shown_once(tmp_path: Path) -> None:
    """The recorder writes its mark into log and diary; the name in the diary is told."""
    store = Store(make_logbook(tmp_path / "book"))
    stem = newest_stem(store.logbook)
    first = store.recording(stem).marks[0]
    when = store.recording(stem).telemetry.at(first.elapsed_s)
    add_note(store.logbook.notes_path, Note(round(when.timestamp() * 1000), "mark", text="summit"))

    assert [mark.words for mark in store.recording(stem).marks] == ["summit", "<b>gate</b>"]


def test_a_mark_holds_the_moment(own: Store) -> None:
    """While recording, the mark says which way how many amps flowed, at once."""
    values = drive_values(600, 10.0, seed=3)
    values["current_a"][395:400] = -48.2
    stem = own.logbook.stem_for(datetime.now(UTC))
    with own.logbook.hold(stem):
        journal = start_journal(own.logbook, stem)
        start = datetime.now(UTC).timestamp() - 40
        for row in range(400):
            journal.write(sample(values, row, round((start + row / 10) * 1000), row / 10))
        own.live._looked_s = -1e9
        told = own.mark()
        journal.close()
    note = own.diary.notes()[0]

    assert note.moment.log == stem
    assert note.moment.current_a == -48.2
    assert told.endswith(f": 48{NBSP}A out.")


def test_a_mark_without_a_recording_is_kept(own: Store) -> None:
    """The moment itself is worth keeping."""
    assert own.mark().endswith("nothing was recorded then.")
    assert [entry.is_mark for entry in own.entries()] == [True]


@pytest.mark.parametrize(("form", "found"), [
    ({}, "kind: '' is none"), ({"kind": "rumour"}, "'rumour' is none"),
    ({"kind": "photo", "value": "/etc/passwd"}, "'photo' is none"),
    ({"kind": "clamp-amps", "value": "many"}, "'many' is not a figure"),
    ({"kind": "clamp-amps", "value": "3 psi"}, "'psi' is no unit"),
    ({"kind": "clamp-amps"}, "no figure was typed"),
    ({"kind": "text"}, "no words"), ({"kind": "text", "text": "a", "cell": "-1"}, "no number"),
    ({"kind": "text", "text": "a", "at": "noonish"}, "time: 'noonish' is none"),
    ({"named": "1", "text": "a"}, "no such mark"),
])
def test_what_cannot_be_read_is_refused(client: FlaskClient, own: Store, form: dict[str, str],
                                        found: str) -> None:
    """One line says what was found; nothing is kept."""
    answer = client.post("/notes", data=form)

    assert answer.status_code == 422
    assert found in answer.json["words"]
    assert not own.logbook.notes_path.exists()


@pytest.mark.parametrize("headers", [{"Origin": "http://evil.example"}, {"Origin": "null"},
                                     {"Sec-Fetch-Site": "cross-site"}])
def test_another_site_cannot_write(client: FlaskClient, own: Store,
                                   headers: dict[str, str]) -> None:
    """A form on a page from elsewhere keeps nothing."""
    answer = client.post("/notes", data={"kind": "text", "text": "a"}, headers=headers)

    assert answer.status_code == 403
    assert not own.logbook.notes_path.exists()


def test_words_stay_words(own: Store) -> None:
    """Line ends and unprintable characters cannot break the file; markup is text."""
    nasty = "a\nmark,\x00\x1b[2J<script>alert(1)</script>,=1+1\u202e"
    own.diary.keep({"kind": "text", "text": nasty, "joint": "b\r\nc"}, Units())
    with own.logbook.notes_path.open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))

    assert len(rows) == 1
    assert rows[0]["text"] == "a mark,[2J<script>alert(1)</script>,=1+1"
    assert rows[0]["joint"] == "b c"
    assert '"children": "a mark' not in text_of(page.listing(own))  # joined with the place
    assert "<script>" in text_of(page.listing(own))


def test_a_logbook_that_takes_nothing_says_so(own: Store) -> None:
    """The mark button tells why, in one line."""
    own.logbook.notes_path.mkdir()

    assert "notes.csv" in own.mark()
    with pytest.raises(LogbookError):
        own.entries()
    assert "cannot be read" in text_of(page.listing(own))
    assert own.recording(newest_stem(own.logbook)).marks == ()


def test_days_are_newest_first(own: Store) -> None:
    """A day has its heading once; within it the newest stands first."""
    for hours in (0, 1, 30):
        own.diary.keep({"kind": "text", "text": f"h{hours}", "at": at(3600 * hours)}, Units())
    told = text_of(page.listing(own))
    places = [told.index(word) for word in ("Friday 3 April", "h30", "Thursday 2 April", "h1",
                                            "h0")]

    assert f"3{NBSP}notes, the last on Friday 3 April" in told
    assert places[1:] == sorted(places[1:])
    assert told.count("Thursday 2 April") == 1


def test_days_off_the_display_are_folded_and_counted(own: Store) -> None:
    """They stand together, in the words in which they were typed, and do not bury the notes."""
    for day in ("2026-05-03", "2026-05-04"):
        own.diary.keep({"kind": "day", "value": "52 Ah out, 9.5 km, 41 to 100 %",
                        "at": f"{day}T19:00"}, Units())
    own.diary.keep({"kind": "text", "value": "new tyres", "at": "2026-05-04T20:00"}, Units())
    first, days, *others = (text_of(part) for part in page.listing(own))

    assert f"1{NBSP}note and 2{NBSP}typed days, the last on" in first
    assert "Days typed from the display" in days
    assert "4 May 2026" in days
    assert days.count("52 Ah out, 9.5 km, 41 to 100 %") == 2
    assert ["52 Ah" in other for other in others] == [False]


def test_a_day_that_cannot_be_read_is_refused(own: Store) -> None:
    """As on the command line: the part and what is allowed, and nothing is kept."""
    with pytest.raises(LogbookError, match="'some rain' is no figure of a day"):
        own.diary.keep({"kind": "day", "value": "52 Ah out, some rain"}, Units())
    assert own.entries() == []
