"""Reminders as iCalendar, read back by an outside library and held against RFC 5545."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import icalendar
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from analysis.asking.book import Book
from analysis.asking.evidence import Evidence, ask_evidence
from analysis.estimate import Estimate
from collector.logbook import Logbook
from dashboard.papers.reminders import LINE_OCTETS, Reminder, as_calendar, reminders


@pytest.fixture(scope="module")
def evidence(papers_book: Logbook) -> Evidence:
    return ask_evidence(Book.open(papers_book.root)).answer


def events(text: str) -> list[icalendar.Event]:
    return list(icalendar.Calendar.from_ical(text).walk("VEVENT"))


def test_each_reminder_is_read_back(evidence: Evidence) -> None:
    """Titles, days and repeats come out of another program's reader as they went in."""
    told = reminders(evidence, full_weeks=2)
    found = events(as_calendar(told, evidence))

    assert [str(event["SUMMARY"]) for event in found] == [entry.title for entry in told]
    assert [event.decoded("DTSTART") for event in found] == [entry.day for entry in told]
    assert [event["RRULE"]["INTERVAL"][0] for event in found if "RRULE" in event] == [2, 13, 26]


def test_the_first_full_charge_is_due_after_the_last_log(evidence: Evidence) -> None:
    """The last log ends on 16 April 2026: the next day plus one week."""
    assert reminders(evidence, full_weeks=1)[0].day == date(2026, 4, 24)


def test_a_known_drain_gives_the_top_up_day(evidence: Evidence) -> None:
    """(55 - 20) % of 105 Ah are 36.75 Ah: at 50 mA at most, 30.6 days until it may be low."""
    parked = replace(evidence.parked, usual_a=Estimate(0.04, 0.03, 0.05, "A"))
    last = reminders(replace(evidence, parked=parked))[-1]

    assert last.name == "top-up"
    assert last.day - date(2026, 4, 16) == timedelta(days=31)


def test_the_same_logbook_gives_the_same_calendar(evidence: Evidence) -> None:
    """Neither identity nor stamp depends on the moment of making; identities differ."""
    made = [as_calendar(reminders(evidence), evidence) for _ in range(2)]
    found = events(made[0])

    assert made[0] == made[1]
    assert len({str(event["UID"]) for event in found}) == len(found)
    assert all("Invented data" in str(event["DESCRIPTION"]) for event in found)


@settings(derandomize=True, max_examples=60)
@given(st.text(min_size=1, max_size=20).map(lambda words: words * 12))
@example("äöü, €; \\n " * 20)
def test_any_words_survive_the_folding(words: str) -> None:
    """Lines end in CRLF and have at most 75 octets (RFC 5545, 3.1); specials are escaped (3.3.11);
    no letter is cut, no line can be smuggled in."""
    entry = Reminder("x", date(2026, 5, 1), words, words)
    text = as_calendar((entry,), BARE)
    lines = text.split("\r\n")
    plain = "".join(c for c in " ".join(words.split()) if c.isprintable())

    assert lines[-1] == ""
    assert all(len(line.encode()) <= LINE_OCTETS for line in lines)
    assert "\n" not in text.replace("\r\n", "")
    assert [str(event["SUMMARY"]) for event in events(text)] == [plain]


class _Season:
    end_s = 1_777_000_000.0


class _Bare:
    """As much of the evidence as a calendar looks at."""

    pack = "main"
    is_invented = False
    season = _Season()


BARE = _Bare()
