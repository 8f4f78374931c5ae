"""The page Heat & joints: typed millivolts meet the amps of their minute; the caution stands by."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
from flask.testing import FlaskClient

from analysis.asking.book import Book
from analysis.asking.joints import ask_joints, joint_notes
from analysis.cells.joint_notes import JointNote, JointReport, ranked_joints
from analysis.estimate import Estimate
from collector.logbook import Logbook
from collector.notes import Note, add_note
from dashboard.app import create_app
from dashboard.pages import joints
from dashboard.quantities import NBSP, Units
from dashboard.shell import Place
from dashboard.store import Store
from tests.analysis.cells.test_joint_notes import ANEW, LUG
from tests.dashboard.demo_logs import START, drive_values, make_logbook
from tests.dashboard.test_pages import text_of


@pytest.fixture
def book(tmp_path: Path) -> Logbook:
    return make_logbook(tmp_path / "book", drives=1, samples=600)


@pytest.fixture
def client(book: Logbook) -> Iterator[FlaskClient]:
    with create_app(Store(book)).server.test_client() as client:
        yield client


def page(report: JointReport, store: Store) -> str:
    return text_of(joints.draw(report, store, Place()))


def steady_second() -> tuple[int, float]:
    """A second of the drive with many amps out, and how many."""
    amps = drive_values(600, 1.0)["current_a"]
    second = int(np.argmin(amps))
    return second, float(amps[second])


@pytest.mark.scenario(12)
def test_typed_millivolts_are_paired_with_the_log(client: FlaskClient, book: Logbook) -> None:
    """119 mV and 74 degC typed at a lug, no amps asked for: the log knows them, ohms and watts
    follow (Ohm's and Joule's laws)."""
    second, amps = steady_second()
    at = (START + timedelta(seconds=second)).isoformat()
    for kind, value in (("joint-millivolts", "119 mV"), ("surface-temperature", "74 C")):
        answer = client.post("/notes", data={"kind": kind, "joint": "Main minus lug",
                                             "value": value, "at": at})
        assert answer.status_code == 200, answer.get_json()
    (found,) = ask_joints(Book.open(book.root)).answer.joints
    ohms = found.joint.resistance_mohm

    assert found.current_a == pytest.approx(amps)
    assert isinstance(ohms, Estimate)
    assert ohms.value == pytest.approx(119 / abs(amps))
    assert found.surface_c == 74.0
    assert isinstance(found.heat_then_w, Estimate)
    assert found.heat_then_w.value == pytest.approx(0.119 * abs(amps))


def test_the_sentence_tells_ohms_watts_and_twin() -> None:
    """1.4 mohm, 12 times others of its kind, 10 W at the 85 A of its reading."""
    told = joints.opening(ranked_joints(LUG, 46.0).joints[0])

    assert told == (f"The main minus lug has 1.40{NBSP}mΩ, 11.7 times as much as others of its "
                    f"kind: 10.1{NBSP}W of heat at the 85{NBSP}A of its reading.")


def test_the_page_ranks_advises_and_warns(store: Store) -> None:
    """Hot lug first; tape for infra-red, live metal, the twin's difference; never amps to type."""
    told = page(ranked_joints(LUG, 46.0), store)

    assert told.index("main minus lug") < told.index("main plus lug")
    for words in (f"43{NBSP}°C warmer than others of its kind", "aim at dull tape",
                  "insulated tools", f"119.0{NBSP}mV", f"3.0{NBSP}W", "Not good: main minus lug."):
        assert words in told
    assert "clamp-amps" not in told
    assert told.count("data-notes") == 3


def test_degrees_follow_the_person() -> None:
    """43 K are 77 degrees Fahrenheit of difference (1 K is 1.8 °F, NIST SP 811)."""
    hot = ranked_joints(LUG, 46.0).joints[0]

    told = joints._warmer(hot, Units(temperature="F"))

    assert told == f"77{NBSP}°F warmer than others of its kind"
    assert f"such as 165{NBSP}°F" in text_of(joints._forms(Units(temperature="F")))


@pytest.mark.parametrize(("count", "words"), [
    (1, "The joint that"), (2, "Both joints that"), (3, "All 3 joints that")])
def test_good_joints_are_counted_in_words(count: int, words: str) -> None:
    """Nobody says "all 2"."""
    assert joints.all_good(count).startswith(words)


def test_a_mended_joint_is_good_and_tells_what_it_was(store: Store) -> None:
    """Before 1.4 mohm, now like its twin: yes."""
    report = ranked_joints(LUG + ANEW, 46.0)
    told = page(report, store)

    assert joints.ending(report.joints)[0] == "yes"
    assert f"The main minus lug was made anew: 1.40{NBSP}mΩ before, 0.12{NBSP}mΩ since." in told


def test_a_mended_joint_is_told_also_below_another(store: Store) -> None:
    """A busbar that ranks first does not hide what mending the lug did: words, table, picture."""
    report = ranked_joints([*LUG, *ANEW, JointNote("busbar 3", ANEW[-1].time_s, "millivolts", 90.0,
                                                   -85.0)], 46.0)
    told = page(report, store)

    assert report.joints[0].joint.joint == "busbar 3"
    assert "The main minus lug was made anew" in told
    assert '"data-head": "Before"' in told
    assert [row.label for joint in report.joints for row in joints.rows_of(joint)] == [
        "busbar 3", "main minus lug", "before", "main plus lug"]
    assert not joints.mended(report.joints[0])


def test_torque_follows_the_person(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    """12 N m are 8.9 lbf ft (NIST SP 811, appendix B.8); where nobody noted any, no column."""
    notes = [*LUG, JointNote("main minus lug", LUG[0].time_s - 1, "torque_nm", 12.0)]
    assert f"12.0{NBSP}Nm" in page(ranked_joints(notes, 46.0), store)
    assert '"data-head": "Tightened to"' not in page(ranked_joints(LUG, 46.0), store)
    monkeypatch.setattr(Store, "units", Units(torque="lbf-ft"))

    assert f"8.9{NBSP}lbf·ft" in page(ranked_joints(notes, 46.0), store)
    assert f"such as 9{NBSP}lbf·ft" in page(ranked_joints(notes, 46.0), store)


def test_an_unpaired_reading_stays_open() -> None:
    """Without amps the page says when to read again."""
    report = ranked_joints([JointNote("busbar 3", 0.0, "millivolts", 12.0)], 46.0)
    found, _, then = joints.ending(report.joints)

    assert found == "cannot tell yet"
    assert "while recording" in then
    assert "cannot be told yet" in joints.opening(report.joints[0])


def test_an_empty_page_teaches(store: Store) -> None:
    """One next step, the caution, the forms."""
    told = page(ranked_joints([], 46.0), store)

    assert "hold a meter across a joint" in told
    assert "insulated tools" in told
    assert told.count("data-notes") == 3


def test_notes_become_readings_of_their_joint() -> None:
    """However a name is typed it is one joint; tightening makes it anew; other notes are none."""
    notes = [Note(1000, "joint-millivolts", 119.0, joint="Main  minus Lug"),
             Note(2000, "torque", 12.0, joint="main minus lug"),
             Note(3000, "joint-millivolts", 10.0), Note(4000, "load", 60.0, joint="main minus lug")]

    assert [(n.joint, n.time_s, n.kind) for n in joint_notes(notes)] == [
        ("main minus lug", 1.0, "millivolts"), ("main minus lug", 2.0, "torque_nm"),
        ("main minus lug", 2.0, "made_anew")]


def test_notes_of_another_pack_are_left_out(book: Logbook) -> None:
    """Each pack has its own main minus lug; a note that names no pack is of any."""
    for pack, joint in (("main", "main minus lug"), ("other", "other lug"), ("", "busbar 3")):
        add_note(book.notes_path, Note(1000, "joint-millivolts", 119.0, joint=joint, pack=pack))

    assert {found.joint.joint for found in ask_joints(Book.open(book.root)).answer.joints} == {
        "main minus lug", "busbar 3"}


def test_before_the_first_log_joints_can_be_noted(tmp_path: Path) -> None:
    """A new logbook has no worst amps and raises nothing."""
    Logbook.create(tmp_path)

    assert ask_joints(Book.open(tmp_path)).answer.joints == ()
