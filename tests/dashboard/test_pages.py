"""Pages as functions: what they hold for a given logbook, without a browser."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pyarrow as pa
import pytest
from dash import Dash
from dash.development.base_component import Component
from flask.testing import FlaskClient
from plotly.utils import PlotlyJSONEncoder

from analysis.estimate import NoEstimate
from analysis.finding import Finding
from analysis.phrases import day_text
from collector.logbook import Logbook
from collector.logfile import write_log
from dashboard.app import PAGES, create_app, open_page
from dashboard.elements import digits_for
from dashboard.facts import facts_of
from dashboard.pages import drive, drives
from dashboard.quantities import NBSP, Units
from dashboard.shell import Place, find_page, menu
from dashboard.store import Store
from dashboard.summaries import Summary
from tests.dashboard.demo_logs import META, START, drive_table, newest_stem


def text_of(component: Component | list[Component]) -> str:
    return json.dumps(component, cls=PlotlyJSONEncoder, ensure_ascii=False)


def summary(day: int, kind: str = "drive", **more: object) -> Summary:
    start = (START + timedelta(days=day)).isoformat()
    return Summary(**{"start": start, "duration_s": 3000.0, "kind": kind,  # type: ignore[arg-type]
                      "out_ah": 22.4, "in_ah": 0.4} | more)


def stem(day: int) -> str:
    return (START + timedelta(days=day)).strftime("%Y-%m-%dT%H-%M-%SZ")


@pytest.mark.parametrize(("path", "title", "rest"), [
    ("/", "Now", ""), ("", "Now", ""), ("/drives", "Drives", ""), ("/drives/", "Drives", ""),
    ("/drives/2026-04-02T08-15-00Z", "Drive", "2026-04-02T08-15-00Z"),
    ("/drives/..%2f..%2fetc", "Drive", "../../etc"),
])
def test_addresses_find_their_page(path: str, title: str, rest: str) -> None:
    """Each address has one page; the rest of it names the thing to show."""
    found = find_page(PAGES, path, "?kind=charge")

    assert found is not None
    assert title == found[0].TITLE
    assert found[1] == Place(rest, {"kind": "charge"})


@pytest.mark.parametrize("path", ["/nowhere", "/drivesandmore", "/moments/x"])
def test_other_addresses_find_none(path: str) -> None:
    """An address that is nobody's says so."""
    assert find_page(PAGES, path, "") is None


def test_a_drive_belongs_to_drives_in_the_menu() -> None:
    """The menu marks the page above the one that is open."""
    marked = [link for link in menu(PAGES, drive)[1].children if "aria-current" in text_of(link)]

    assert ["Drives" in text_of(link) for link in marked] == [True]


def test_every_page_begins_with_one_heading(store: Store, logbook: Logbook) -> None:
    """Screen readers find the page by its heading of the first level."""
    for path in ("/", "/drives", f"/drives/{newest_stem(logbook)}", "/drives/none", "/none"):
        content, _, title = open_page(store, path, "")
        assert text_of(content).count('"type": "H1"') == 1, path
        assert "packhand" in title


def test_the_list_tells_what_each_log_was() -> None:
    """When, how long, how much, at what cost."""
    rows = [(stem(0), summary(0, wh_per_km=96.2, amps=((-30.0, 5.0),)))]
    told = text_of(drives.listing(rows, {}, Units()))

    for words in ("Thu 2 Apr, 08:15", "50 min", f"22.4{NBSP}Ah out", f"96{NBSP}Wh/km", "drive",
                  "April 2026", f"1{NBSP}drive, 22{NBSP}Ah out in all."):
        assert words in told


def test_the_list_can_show_one_kind() -> None:
    """Charges alone, with the count of each kind on its way."""
    rows = [(stem(1), summary(1, "charge", out_ah=0.1, in_ah=60.2)), (stem(0), summary(0))]
    told = text_of(drives.listing(rows, {"kind": "charge"}, Units()))

    assert f"60.2{NBSP}Ah in" in told
    assert "22.4" not in told
    assert "Charges 1" in told
    assert "All 2" in told


def test_a_long_list_shows_a_month_at_a_time() -> None:
    """Four hundred logs do not make a slow page; every month is one step away."""
    rows = [(stem(day), summary(day)) for day in reversed(range(400))]
    newest = text_of(drives.listing(rows, {}, Units()))
    june = text_of(drives.listing(rows, {"month": "2026-06"}, Units()))
    wrong = text_of(drives.listing(rows, {"month": "<b>"}, Units()))

    assert newest.count('"log-row"') < 40
    assert newest.count("?month=") == 14
    assert june.count('"log-row"') == 30
    assert wrong == newest


def test_days_of_the_past_are_a_line_each() -> None:
    """Of a long list the newest days stand open; an older day tells its logs and amp-hours in a
    line, with them behind it. A short list, a day of one log and one still being read stay."""
    rows: list[drives.Row] = []
    for day in reversed(range(8)):
        rows += [(stem(day), summary(day, "charge", out_ah=0.0, in_ah=40.0)),
                 (stem(day), summary(day)), (stem(day), None if day == 1 else summary(day))]
    long, short = (text_of(drives.listing(some, {}, Units())) for some in (rows, rows[:12]))
    single = text_of(drives.listing([*rows[:20], rows[-1]], {}, Units()))

    assert long.count('"className": "day"') == 3  # eight days less four open, one being read
    assert f"2{NBSP}drives, 1{NBSP}charge" in long
    assert f"44.8{NBSP}Ah out, 40.8{NBSP}Ah in" in long
    assert long.count('"log-row"') == len(rows)
    assert short.count('"className": "day"') == 0
    assert '"children": "Thu 2 Apr, 08:15"' in single


def test_unread_logs_are_listed_at_once() -> None:
    """The list does not wait for summaries, and says what is missing."""
    rows = [(stem(1), None), (stem(0), summary(0))]

    assert "being read" in text_of(drives.listing(rows, {}, Units()))
    assert f"Still reading 1{NBSP}log." in drives.opening(rows)
    assert drives.opening([(stem(0), None)]) == f"Reading 1{NBSP}log for the first time."
    assert not drives.is_settled(rows)


def test_a_log_with_a_name_of_its_own_is_listed() -> None:
    """A file that a person put there need not be named by time."""
    told = text_of(drives.listing([("my ride", None), ("other", Summary(problem="cut off"))],
                                  {}, Units()))

    assert "my ride" in told
    assert "cut off" in told


def test_a_drive_shows_its_answers(store: Store, logbook: Logbook) -> None:
    """Sentence, strips, marks, the gap with its cause, and the figures with their badges."""
    told = text_of(drive.layout(store, Place(newest_stem(logbook))))

    for words in ("Saturday 4 April 2026, 09:29", "Invented data.", "top of the ramp",
                  "link lost: the cable was pulled", "worked out", "measured",
                  "Minus means out of the pack."):
        assert words in told


@pytest.mark.parametrize(("asked", "given"), [
    ((-50.0, 20.0), (0.0, 70.0)), ((100.0, 100.5), (100.0, 102.0)),
    ((-1e9, 1e9), (0.0, 1649.0)), ((1600.0, 1700.0), (1549.0, 1649.0)),
])
def test_a_view_stays_within_the_drive(store: Store, logbook: Logbook,
                                       asked: tuple[float, float],
                                       given: tuple[float, float]) -> None:
    """Whatever a browser asks for, the view is a stretch of the drive."""
    assert drive.inside(store.recording(newest_stem(logbook)), *asked) == pytest.approx(given)


@pytest.fixture(scope="module")
def app(store: Store) -> Dash:
    return create_app(store)


@pytest.fixture
def client(app: Dash) -> FlaskClient:
    return app.server.test_client()


def draw(client: FlaskClient, view: object, name: str) -> object:
    answer = client.post("/_dash-update-component", json={
        "output": "drive-graph.figure", "changedPropIds": ["drive-view.data"],
        "outputs": {"id": "drive-graph", "property": "figure"},
        "inputs": [{"id": "drive-view", "property": "data", "value": view}],
        "state": [{"id": "drive-stem", "property": "data", "value": name}]})
    return answer.status_code, answer.get_json()


def test_a_view_travels_as_a_small_change(client: FlaskClient, logbook: Logbook) -> None:
    """Traces and axis alone, arrays as base64."""
    status, told = draw(client, [100, 200], newest_stem(logbook))
    operations = told["response"]["drive-graph"]["figure"]["operations"]  # type: ignore[index]
    arrays = [o for o in operations if o["location"][0] == "data"]

    assert status == 200
    assert arrays
    assert all(set(o["params"]["value"]) == {"dtype", "bdata"} for o in arrays)
    assert {o["location"][-1] for o in operations if o["location"][0] == "layout"} == {
        "range", "tickvals", "ticktext", "shapes", "annotations"}


@pytest.mark.parametrize("view", [None, [], ["a", "b"], [1], [1, 2, 3], {"a": 1}, ["nan", 1],
                                  [0, "inf"]])
def test_a_senseless_view_changes_nothing(client: FlaskClient, logbook: Logbook,
                                          view: object) -> None:
    """A wrong view is answered with no change, not with an error."""
    status, told = draw(client, view, newest_stem(logbook))

    assert status == 200
    assert told["response"] == {}  # type: ignore[index]


def test_facts_come_with_interval_and_badge(store: Store, logbook: Logbook) -> None:
    """Each worked-out figure states its interval; what minus means has its proof."""
    facts = {fact.label: fact for fact in facts_of(store.summary(newest_stem(logbook)), Units())}

    assert facts["Out of the pack"].badge == "worked out"
    assert facts["Out of the pack"].more.startswith("between ")
    assert facts["Most amps"].badge == "measured"
    assert facts["What minus means"].figure == "out of the pack"
    assert facts["Not recorded"].figure == "3 min"


def test_facts_follow_the_units(store: Store, logbook: Logbook) -> None:
    """In miles, distance and consumption are in miles."""
    facts = {fact.label: fact.figure
             for fact in facts_of(store.summary(newest_stem(logbook)), Units("mi"))}

    assert facts["Distance"].endswith(f"{NBSP}mi")
    assert facts["For each mile"].endswith("Wh/mi")


@pytest.mark.parametrize(("half_width", "digits"), [(12.0, 0), (1.0, 0), (0.4, 1), (0.04, 2),
                                                    (0.0, 1)])
def test_digits_follow_the_interval(half_width: float, digits: int) -> None:
    """No more decimals than the interval deserves (JCGM 100:2008, 7.2.6)."""
    assert digits_for(half_width) == digits


def test_many_gaps_do_not_drown_the_page(tmp_path: Path) -> None:
    """The longest are listed and those that can be seen are shaded; the rest are counted."""
    table = drive_table(3000)
    seconds = table["monotonic_s"].to_numpy() + 20.0 * (np.arange(3000) // 10)
    place = table.column_names.index("monotonic_s")
    book = Logbook.create(tmp_path / "book")
    write_log(book.log_path("many"), META, table.set_column(place, "monotonic_s", [seconds]))
    store = Store(book)
    told = text_of(drive.layout(store, Place("many")))

    assert len(store.recording("many").gaps) == 299
    assert told.count("data-seek") == drive.GAPS_MAX
    assert "and 259 shorter gaps" in told


@pytest.mark.scenario(15)
def test_a_log_that_was_cut_off_says_so(tmp_path: Path) -> None:
    """After a power cut both logs tell: what was brought back, and what nobody saw."""
    book = Logbook.create(tmp_path / "book")
    cut = replace(META, recovered={"rows": 60, "torn_bytes": 12, "damaged_lines": 0})
    write_log(book.log_path("cut"), cut, drive_table(60))
    table = drive_table(60, marks=((0, "x"),))
    place = table.column_names.index("event")
    words = ["restarted: the computer stopped without closing cut; 300 s unseen", *[None] * 60]
    write_log(book.log_path("next"), META, table.set_column(
        place, table.schema.field(place), [pa.array(words, table.schema.field(place).type)]))
    write_log(book.log_path("whole"), META, drive_table(60))
    told = {name: text_of(drive.layout(Store(book), Place(name))).replace(NBSP, " ")
            for name in ("cut", "next", "whole")}

    assert ("Cut off before it was closed, and brought back: 60 samples; lost: 12 bytes torn off "
            "the end.") in told["cut"]
    assert ("Before this log the computer stopped without closing cut; 300 s unseen."
            in told["next"])
    assert not any(word in told["whole"] for word in ("Cut off", "Before this log"))


def test_a_single_sample_is_shown(tmp_path: Path) -> None:
    """A log that was closed at once is a page like any other."""
    book = Logbook.create(tmp_path / "book")
    write_log(book.log_path("one"), META, drive_table(1))
    store = Store(book)

    assert "Thursday 2 April 2026" in text_of(drive.layout(store, Place("one")))


def test_a_drive_ends_with_what_stands_out(store: Store) -> None:
    """The sure first, with what to do; nothing is nothing; what is open stays open."""
    sure, still_open = (Finding(kind, found, f"{kind} at 20 °C", NoEstimate("", ""), f"mend {kind}")
                        for kind, found in (("cut", "yes"), ("zero", "cannot tell yet")))

    assert drive.ending([]) == ("no", "Nothing stands out in this log.", drive.ending([])[2])
    assert drive.ending([still_open, sure])[::2] == ("yes", "mend cut")
    assert drive.ending([still_open])[::2] == ("cannot tell yet", "mend zero")
    told = text_of([drive._findings([still_open, sure], Units(temperature="F"))])
    assert told.index("Cut at 68") < told.index("Zero at 68")


def test_a_drive_is_held_against_what_is_typed_of_its_pack(tmp_path: Path) -> None:
    """A 10 A breaker under a drive of 40 A: said on the drive's page, with what to do."""
    book = Logbook.create(tmp_path / "book")
    write_log(book.log_path("one"), META, drive_table(900))
    before = text_of(drive.layout(Store(book), Place("one")))
    (book.root / "logbook.toml").write_text('[[pack]]\nname = "main"\n[pack.limits]\n'
                                            'breaker_a = 10\n')
    after = text_of(drive.layout(Store(book), Place("one")))

    assert "the breaker is too small" not in before
    assert "the breaker is too small" in after
    assert "Something stands out in this log." in after


def test_a_page_tells_the_days_of_the_logbook(tmp_path: Path) -> None:
    """An evening's drive in California is told by its own day, whoever looks at it from where."""
    evening = datetime(2026, 5, 4, 2, tzinfo=UTC)
    book = Logbook.create(tmp_path)
    write_log(book.log_path(book.stem_for(evening)),
              replace(META, time_zone="America/Los_Angeles"), drive_table(30, start=evening))
    server = create_app(Store(book)).server

    with server.test_request_context("/_dash-update-component"):
        server.preprocess_request()
        assert day_text(evening.timestamp()) == "3 May 2026"
