"""``packhand note`` as a person uses it."""

import json
from pathlib import Path

import pytest

import packhand
from collector.clock import from_person
from collector.logbook import Logbook
from collector.notes import read_notes
from tests.collector.test_moment import START_MS, write


def note(book: Path, *words: str) -> int:
    return packhand.main(["note", *words, "--logbook", str(book)])


def test_a_reading_is_kept_with_what_the_log_said(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Figure, unit, joint and the moment stand in notes.csv and in the JSON."""
    write(Logbook.create(tmp_path), "2026-04-02T08-15-00Z", "flatbed main")
    code = note(tmp_path, "joint-millivolts", "119mV", "--joint", "main minus",
                "--at", "2026-04-02T08:15:02.5Z", "--json")
    document = json.loads(capsys.readouterr().out)
    [kept] = read_notes(tmp_path / "notes.csv").rows

    assert (code, document["schema"]) == (0, "packhand.note/1")
    assert document["note"] == kept.as_json() == {
        "time": "2026-04-02T08:15:02.500Z", "kind": "joint-millivolts", "value": 119.0,
        "unit": "mV", "typed": "119mV", "joint": "main minus", "pack": "flatbed main",
        "log": "2026-04-02T08-15-00Z", "age_s": 0.5, "current_a": -22.0, "soc_pct": 91.0}


@pytest.mark.parametrize(("words", "said"), [
    (("joint-millivolts", "119mV"), "joint-millivolts: nothing says which joint — add --joint"),
    (("torque", "12Nm"), "torque: nothing says which joint — add --joint"),
    (("cell-volts", "3.31"), "cell-volts: nothing says which cell — add --cell")])
def test_a_figure_of_a_joint_or_a_cell_says_which(
        words: tuple[str, ...], said: str, tmp_path: Path,
        capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing could be made of it later: one line says what to add, and nothing is kept."""
    assert note(tmp_path / "book", *words) == 1

    told = capsys.readouterr().err
    assert said in told
    assert told.count("\n") == 1
    assert not (tmp_path / "book").exists()


def test_minus_amps_are_no_option(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A figure that begins with a minus is taken as it is typed; the caution stands beside it."""
    assert note(tmp_path / "new", "clamp-amps", "-21,5A") == 0
    assert read_notes(tmp_path / "new" / "notes.csv").rows[0].value == -21.5
    said = capsys.readouterr().out
    assert "clamp-amps -21.5 A" in said
    assert "no log covers that moment" in said
    assert "usual caution: zero the clamp right before" in said


def test_notes_are_listed_by_their_time(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Also those written later for an earlier moment; one kind alone if it is named."""
    note(tmp_path, "mark", "--text", "gate")
    note(tmp_path, "claim", "40 miles on a charge", "--at", "2026-04-02")
    capsys.readouterr()
    note(tmp_path, "--list")
    everything = capsys.readouterr().out.splitlines()
    note(tmp_path, "mark", "--list", "--json")
    marks = json.loads(capsys.readouterr().out)

    assert [line.split()[2] for line in everything] == ["claim", "mark"]
    assert [n["text"] for n in marks["notes"]] == ["gate"]


@pytest.mark.parametrize(("words", "message"), [
    (["wind", "3mV"], "wind: 'mV' is no unit of wind"),
    (["mark", "--at", "noonish"], "--at: 'noonish' is not a time — such as 14:05"),
    (["photo", "none.jpg"], "none.jpg: no such picture"),
    (["photo"], "photo: nothing was typed — give the path of the picture"),
    (["part-changed"], "part-changed: nothing was typed — say it in words"),
    (["wind"], "wind: no figure was typed; it takes one in m/s, "),
    (["mark", "--at", "2026-04-02T08:15:02Z"], "several packs were logged then: rear, front"),
])
def test_what_cannot_be_noted_is_one_line(
        tmp_path: Path, capsys: pytest.CaptureFixture[str], words: list[str], message: str
) -> None:
    """Nothing is written then."""
    book = Logbook.create(tmp_path)
    write(book, "2026-04-02T08-15-00Z", "front")
    write(book, "2026-04-02T08-15-00Z-2", "rear")

    assert note(tmp_path, *words) == 1
    assert message in capsys.readouterr().err
    assert not book.notes_path.exists()


@pytest.mark.parametrize("kind", ["mark", "full", "empty"])
def test_some_kinds_say_all_by_themselves(tmp_path: Path, kind: str) -> None:
    """That the charger says full needs no words."""
    assert note(tmp_path, kind) == 0


def test_a_moment_to_come_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A slip of the year is seen at once."""
    assert note(tmp_path, "mark", "--at", "2999-01-01") == 0

    assert "that is still to come by this computer's clock" in capsys.readouterr().out


def test_a_days_figures_are_read_when_they_are_typed(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What can be read is kept in the person's own words; what cannot is refused, nothing kept."""
    book = ["--logbook", str(tmp_path)]

    assert packhand.main(["note", "day", "52 Ah out, 9.5 km, 41 to 100 %", *book]) == 0
    assert packhand.main(["note", "day", "52 Ah out, some rain", *book]) == 1
    assert "'some rain' is no figure of a day" in capsys.readouterr().err
    (note,) = read_notes(Logbook(tmp_path).notes_path).rows
    assert (note.kind, note.text) == ("day", "52 Ah out, 9.5 km, 41 to 100 %")


def test_the_pack_is_said_where_there_are_several(tmp_path: Path) -> None:
    """Then its own log gives the moment."""
    book = Logbook.create(tmp_path)
    write(book, "2026-04-02T08-15-00Z", "front", -20)
    write(book, "2026-04-02T08-15-00Z-2", "rear", -30)
    note(tmp_path, "mark", "--pack", "rear", "--at", "2026-04-02T08:15:02Z")

    assert read_notes(book.notes_path).rows[0].moment.current_a == -32.0


def test_saying_nothing_is_misuse(tmp_path: Path) -> None:
    """Exit 2, as for every command."""
    with pytest.raises(SystemExit) as ended:
        note(tmp_path)

    assert ended.value.code == 2


def test_times_are_the_persons_own() -> None:
    """A zone that is named counts; a time of day is today's."""
    today = from_person("2026-04-02")

    assert from_person("2026-04-02T08:15:00Z") == START_MS
    assert from_person("2026-04-02T00:00") == today
    assert (from_person("14:05") - from_person("14:00:30")) == 270_000
