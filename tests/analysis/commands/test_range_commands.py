"""The commands range and compare, as a person types them."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pyarrow as pa
import pytest

from collector.logbook import STEM_FORMAT, Logbook
from collector.logfile import write_log
from collector.meta import LogMeta
from collector.note_kinds import KINDS
from collector.notes import Note, add_note
from packhand import main
from tests.analysis.made_trips import DOWN, UP, trip_log

CONFIG = """
[units]
distance = "{unit}"

[[vehicle]]
name = "flatbed"
mass_kg = 520

[[pack]]
name = "main"
rated_ah = 105

[[claim]]
text = "40 miles on a charge"
quantity = "range"
value = 40
unit = "mi"
"""


def write_logbook(root: Path, days: int = 8, unit: str = "km",
                  drop: tuple[str, ...] = ()) -> Path:
    """A logbook of days up and down, a fifth cheaper from the middle on."""
    book = Logbook.create(root)
    (root / "logbook.toml").write_text(CONFIG.format(unit=unit), encoding="utf-8")
    for day in range(days):
        start = datetime(2026, 5, 4, 8, tzinfo=UTC) + timedelta(days=day)
        factor = (1.0 if day < days / 2 else 0.8) * (1 + 0.01 * (day % 3))
        telemetry = trip_log([(UP, 150 * factor), (DOWN, 40 * factor)] * 3, start)
        count = len(telemetry)
        table = pa.table({
            "time": pa.array((start.timestamp() * 1000 + np.arange(count) * 1000).astype("int64"),
                             pa.timestamp("ms", "UTC")),
            "monotonic_s": telemetry.elapsed_s, **telemetry.columns,
            "soc_pct": np.linspace(90, 80, count).round(), "event": pa.nulls(count, pa.string())})
        table = table.drop_columns([name for name in drop if name in table.column_names])
        path = book.log_path(start.strftime(STEM_FORMAT))
        sign = {"convention": "negative_is_discharge", "decided_by": "person"}
        write_log(path, LogMeta(pack="main", vehicle="flatbed", kind="drive", sign=sign), table)
    return root


@pytest.fixture(scope="module")
def logbook(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_logbook(tmp_path_factory.mktemp("book"))


def note_ways(root: Path, ways: list[str]) -> None:
    """Names for the ways of the first days, typed before their drives."""
    for day, way in enumerate(ways):
        at = datetime(2026, 5, 4, 7, 30, tzinfo=UTC) + timedelta(days=day)
        add_note(root / "notes.csv", Note(round(at.timestamp() * 1000), "route", text=way))


def document(capsys: pytest.CaptureFixture[str], *words: str) -> dict:
    assert main([*words, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_range_begins_with_a_sentence(logbook: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Words first, the figures after, how well it held, the claims, a caution."""
    assert main(["range", str(logbook)]) == 0
    lines = capsys.readouterr().out.splitlines()

    assert lines[0].startswith("About ")
    assert "km left" in lines[0]
    assert any(line.startswith("consumption") and "Wh/km" in line for line in lines)
    assert any("Foretold from the drives before it" in line and "Half of them came within" in line
               for line in lines)
    assert any("“40 miles on a charge”" in line for line in lines)
    assert "not a promise" in lines[-1]


def test_range_prints_the_agreed_keys(logbook: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The document of the design, with nothing else on standard output."""
    found = document(capsys, "range", str(logbook), "--claim", "5 km")

    assert found["schema"] == "packhand.range/1"
    assert {"usable_wh", "consumption_wh_per_km", "range_km", "time_h", "backtest",
            "claims"} <= set(found)
    assert {"predictions", "coverage", "median_abs_error_pct"} <= set(found["backtest"])
    assert [set(c) >= {"text", "verdict", "words", "runs_needed"} for c in found["claims"]] == [
        True, True]
    assert found["claims"][0]["verdict"] == "yes"
    assert found["range_km"]["unit"] == "km"
    assert found["capacity_ah"]["badge"] == "typed"


def test_range_answers_in_miles_where_the_logbook_does(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The person's unit on the screen, kilometres in the document."""
    root = write_logbook(tmp_path, 4, "mi")
    assert main(["range", str(root)]) == 0
    text = capsys.readouterr().out

    assert "miles left" in text.splitlines()[0]
    assert "Wh/mi" in text
    assert document(capsys, "range", str(root))["range_km"]["unit"] == "km"


def test_a_boat_without_speed_is_answered_in_hours(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Amps and volts alone give hours and drives; nothing assumes a road."""
    root = write_logbook(tmp_path, 5, drop=("speed_m_s",))
    found = document(capsys, "range", str(root))

    assert found["range_km"]["value"] is None
    assert found["time_h"]["value"] > 0
    assert found["drives_left"]["value"] > 0
    assert "of use left" in found["words"]


def test_percent_and_distance_alone_give_a_range(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Without amps and volts the display's percent has to do, and a claim can be judged by it."""
    root = write_logbook(tmp_path, 5, drop=("current_a", "voltage_v"))
    found = document(capsys, "range", str(root), "--percent", "60", "--claim", "2 km")
    way_km = 3 * (UP.sum() + DOWN.sum()) / 1000

    assert found["range_km"]["value"] == pytest.approx(50 * way_km / 10, rel=0.05)
    assert found["consumption_wh_per_km"]["value"] is None
    assert found["rate"]["unit"] == "%/km"
    assert found["claims"][0]["verdict"] == "yes"


def test_what_if_moves_the_range(logbook: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """More load, cold and a larger reserve shorten it; a typed percent counts."""
    def km(*words: str) -> float:
        return document(capsys, "range", str(logbook), *words)["range_km"]["value"]

    usual = km()

    assert km("--extra-load", "200") < 0.85 * usual
    assert km("--temperature", "-5") < usual
    assert km("--reserve", "40") < 0.7 * usual
    assert km("--percent", "40") < 0.6 * usual


def test_noted_loads_are_learnt_from(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A load noted beside a drive explains what that drive took."""
    root = write_logbook(tmp_path, 8)
    before = document(capsys, "range", str(root), "--extra-load", "100")["consumption_wh_per_km"]
    for day in range(8):
        at = datetime(2026, 5, 4, 7, 30, tzinfo=UTC) + timedelta(days=day)
        kg = 300.0 if day < 4 else 100.0
        add_note(root / "notes.csv", Note(round(at.timestamp() * 1000), "load", kg, "kg"))
    after = document(capsys, "range", str(root), "--extra-load", "100")["consumption_wh_per_km"]

    assert "load" in KINDS
    assert after["value"] != pytest.approx(before["value"], rel=0.005)


def test_a_noted_way_is_foretold_from_its_own_drives(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Two ways of one vehicle: each has its own consumption, and one name too few is told."""
    root = write_logbook(tmp_path, 8)
    note_ways(root, ["yard"] * 3 + ["once"] + ["Shore", "shore ", *["shore"] * 2])

    def told(way: str) -> dict:
        return document(capsys, "range", str(root), "--route", way)

    assert "route" in KINDS
    assert told("shore")["consumption_wh_per_km"]["value"] < 0.85 * (
        told("yard")["consumption_wh_per_km"]["value"])
    assert told(" SHORE ")["consumption_wh_per_km"] == told("shore")["consumption_wh_per_km"]
    assert told("shore")["ways"] == ["once", "shore", "yard"]
    assert "on the way “shore”" in told("shore")["words"]
    assert told("once")["range_km"]["reason"] == (
        "only 1 drive is noted as on the way “once”")
    assert main(["range", str(root), "--route", "hill"]) == 1
    assert "noted ways: 'once', 'shore', 'yard'" in capsys.readouterr().err


def test_a_claim_may_stand_in_the_notes(tmp_path: Path,
                                        capsys: pytest.CaptureFixture[str]) -> None:
    """What a seller said, as noted; words without a figure are told and left out."""
    root = write_logbook(tmp_path, 4)
    for k, words in enumerate(("30 km on a charge", "goes far")):
        add_note(root / "notes.csv", Note(1_777_000_000_000 + k, "claim", text=words))
    assert main(["range", str(root)]) == 0
    told = capsys.readouterr()

    assert "“30 km on a charge”" in told.out
    assert "left out: claim in notes: 'goes far'" in told.err


@pytest.mark.parametrize(("words", "message"), [
    (("--claim", "far"), "--claim: 'far' is not a number with one of the units"),
    (("--pack", "other"), "no log of pack 'other'"),
])
def test_range_says_what_is_wrong_in_one_line(
        logbook: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...],
        message: str) -> None:
    """Exit code 1 and one line on standard error."""
    assert main(["range", str(logbook), *words]) == 1

    error = capsys.readouterr().err
    assert message in error
    assert error.count("\n") == 1


def test_a_wrong_claim_in_the_logbook_names_its_file(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The person learns which file and which table to mend."""
    root = write_logbook(tmp_path, 1)
    (root / "logbook.toml").write_text('[[claim]]\nvalue = 5\nunit = "furlong"\n', encoding="utf-8")

    assert main(["range", str(root)]) == 1
    assert "logbook.toml: " in capsys.readouterr().err


def test_an_empty_logbook_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """No log: one line that says how to get one."""
    Logbook.create(tmp_path)

    assert main(["range", str(tmp_path)]) == 1
    assert "packhand record" in capsys.readouterr().err


def test_compare_prints_the_agreed_keys(logbook: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The document of the design, with the table by speed."""
    found = document(capsys, "compare", str(logbook), "--split", "2026-05-08")

    assert found["schema"] == "packhand.compare/1"
    assert {"before", "after", "change_pct", "pairs", "verdict", "words"} <= set(found)
    assert found["verdict"] == "yes"
    assert found["pairs"] == 4
    assert found["change_pct"]["value"] == pytest.approx(-20, abs=2)
    assert {"from_kmh", "wh_per_km", "least_burnt_pct"} <= set(found["speed_bands"]["before"][0])


def test_compare_joins_noted_ways_first(tmp_path: Path,
                                        capsys: pytest.CaptureFixture[str]) -> None:
    """Three days of each side are noted as one way, the fourth is known by its trips."""
    root = write_logbook(tmp_path)
    note_ways(root, ["yard"] * 3 + [""] + ["yard"] * 3)
    found = document(capsys, "compare", str(root), "--split", "2026-05-08")
    assert main(["compare", str(root), "--split", "2026-05-08"]) == 0
    lines = capsys.readouterr().out.splitlines()

    assert found["paired_on"] == [{"by": "name", "way": "yard", "routes": 1, "pairs": 3},
                                  {"by": "speed", "way": "", "routes": 2, "pairs": 1}]
    assert lines[1] == ("Pairs of days: 3 on “yard”, as noted; 1 on ways known again by their "
                        "length and speeds.")


def test_compare_takes_no_change_for_another(tmp_path: Path,
                                             capsys: pytest.CaptureFixture[str]) -> None:
    """From the fifth day on a fifth less is used, and that is noted: what was changed on the third
    day gets nothing of it, unless spans are typed; another pack's change limits nothing."""
    root = write_logbook(tmp_path, 10)
    for day, words, pack in ((7, "lug made anew", ""), (9, "new control", "main"),
                             (8, "other pack's fuse", "other")):
        at = datetime(2026, 5, day, 12, tzinfo=UTC)
        add_note(root / "notes.csv", Note(round(at.timestamp() * 1000), "part-changed", text=words,
                                          pack=pack))
    lug = document(capsys, "compare", str(root), "--split", "2026-05-07")
    control = document(capsys, "compare", str(root), "--split", "2026-05-09")
    mixed = document(capsys, "compare", str(root), "--before", "..2026-05-06", "--after",
                     "2026-05-07..")
    assert main(["compare", str(root), "--split", "2026-05-07"]) == 0
    lines = capsys.readouterr().out.splitlines()

    assert (lug["before"]["days"], lug["after"]["days"]) == (3, 2)
    assert lug["verdict"] == "cannot tell yet"
    assert lug["limited_by"] == [{"day": "2026-05-09", "words": "new control"}]
    assert (control["before"]["days"], control["after"]["days"]) == (2, 5)
    assert control["limited_by"] == [{"day": "2026-05-07", "words": "lug made anew"}]
    assert (mixed["before"]["days"], mixed["after"]["days"]) == (3, 7)
    assert mixed["limited_by"] == []
    assert ("Only days before “new control” on 9 May 2026 are compared, so that one change is not "
            "taken for another.") in lines


def test_nothing_lies_before_the_first_day(logbook: Path,
                                           capsys: pytest.CaptureFixture[str]) -> None:
    """One line, no traceback."""
    assert main(["compare", str(logbook), "--split", "0001-01-01"]) == 1
    assert "no day lies before 0001-01-01" in capsys.readouterr().err


def test_compare_takes_two_spans(logbook: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Days of either side, both ends included, open to one side if wished."""
    found = document(capsys, "compare", str(logbook), "--before", "..2026-05-06", "--after",
                     "2026-05-09..")

    assert found["before"]["days"] == 3
    assert found["after"]["days"] == 3


def test_compare_prints_words_first(logbook: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A sentence, both sides, what may confound, the table by speed."""
    assert main(["compare", str(logbook), "--split", "2026-05-08"]) == 0
    lines = capsys.readouterr().out.splitlines()

    assert lines[0].startswith("It helped: consumption −20 %")
    assert any(line.startswith("before") for line in lines)
    assert any(line.startswith("mind") and "load and wind" in line for line in lines)
    assert any("km/h" in line and "Wh/km" in line for line in lines)


def test_one_day_after_is_no_verdict(logbook: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Too few pairs: said first, and no chance is told of them."""
    assert main(["compare", str(logbook), "--before", "..2026-05-07", "--after", "2026-05-08"]) == 0
    out = capsys.readouterr().out

    assert out.startswith("Cannot tell yet")
    assert "by chance" not in out


@pytest.mark.parametrize(("words", "message"), [
    ((), "neither --split nor both --before and --after"),
    (("--before", "2026-05-01..2026-05-09", "--after", "2026-05-08.."), "some days are in both"),
])
def test_compare_says_what_is_missing(logbook: Path, capsys: pytest.CaptureFixture[str],
                                      words: tuple[str, ...], message: str) -> None:
    """One line, exit code 1."""
    assert main(["compare", str(logbook), *words]) == 1
    assert message in capsys.readouterr().err


def test_a_day_that_is_none_is_a_misuse(logbook: Path,
                                        capsys: pytest.CaptureFixture[str]) -> None:
    """Exit code 2, and how a day is written."""
    with pytest.raises(SystemExit) as ended:
        main(["compare", str(logbook), "--split", "June"])

    assert ended.value.code == 2
    assert "write 2026-06-12" in capsys.readouterr().err


def test_what_if_it_climbs_and_goes_slower(logbook: Path,
                                           capsys: pytest.CaptureFixture[str]) -> None:
    """A climb takes its work off; a speed of one's own drives changes range and time."""
    usual = document(capsys, "range", str(logbook))
    climbed = document(capsys, "range", str(logbook), "--climb", "100")
    slower = document(capsys, "range", str(logbook), "--speed", "7.2")

    assert climbed["climb_wh"]["value"] == pytest.approx(520 * 9.80665 * 100 / 3600 / 0.7)
    assert climbed["range_km"]["value"] < usual["range_km"]["value"]
    assert slower["range_km"]["value"] == pytest.approx(
        usual["range_km"]["value"] / slower["pace_cost"]["value"], rel=1e-6)
    assert slower["time_h"]["value"] == pytest.approx(slower["range_km"]["value"] / 7.2)
    assert usual["climb_wh"] is usual["pace_cost"] is None


def test_what_if_says_what_it_rests_on(logbook: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The sentence repeats what was asked, the lines below say where it comes from."""
    assert main(["range", str(logbook), "--climb", "60", "--speed", "7.2"]) == 0
    told = capsys.readouterr().out

    assert "after a climb of 60 m, at 7 km/h" in told.splitlines()[0]
    assert "m g h" in told
    assert "on your own drives" in told


@pytest.mark.parametrize("words", [("--climb", "-5"), ("--speed", "0"), ("--speed", "nan")])
def test_a_climb_or_speed_of_nothing_is_misuse(logbook: Path, words: tuple[str, str]) -> None:
    """What lies downhill is not foretold."""
    with pytest.raises(SystemExit, match="2"):
        main(["range", str(logbook), *words])
