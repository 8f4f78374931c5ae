"""The commands drive and explain, as a person types them."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pyarrow as pa
import pytest

from collector.journal import log_schema
from collector.logfile import write_log
from collector.meta import LogMeta
from packhand import main
from tests.analysis.made_logs import DATA, pedal_drive

A13 = str(DATA / "real_drives" / "drive_A13.csv.gz")


def test_drive_prints_words_and_figures(capsys: pytest.CaptureFixture[str]) -> None:
    """A sentence first, then the figures with what they may be off by."""
    assert main(["drive", A13]) == 0

    out = capsys.readouterr().out
    assert out.startswith("12 min, 4.6 km: 2.3 Ah out, 0.5 Ah in")
    assert "charge out          2.29 ± 0.04 Ah" in out


def test_drive_takes_the_amp_hours_from_the_logbook(
        capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """A log that lies in a logbook needs no --capacity: amps told a tenth too small, or a display
    set to another pack, show at once; elsewhere nothing is held against nothing."""
    rows = "".join(f"2026-05-04T{s // 3600 + 8:02d}:{s // 60 % 60:02d}:{s % 60:02d}Z,"
                   f"{-18 * (s // 20 % 2)},{52.8 - 0.3 * (s // 20 % 2):.1f},"
                   f"{round(100 - s / 14400 * 40)}\n" for s in range(0, 14400, 2))
    (tmp_path / "logs").mkdir()
    for folder in (tmp_path, tmp_path / "logs"):
        (folder / "day.csv").write_text("time,current_a,voltage_v,soc_pct\n" + rows)
    (tmp_path / "logbook.toml").write_text('[[pack]]\nname = "main"\nrated_ah = 105\n')

    def found(log: Path) -> dict:
        assert main(["drive", str(log), "--json"]) == 0
        return json.loads(capsys.readouterr().out)

    inside, alone = found(tmp_path / "logs" / "day.csv"), found(tmp_path / "day.csv")
    [finding] = inside["findings"]
    assert finding["kind"] == "gain_or_capacity_setting"
    assert finding["size"]["value"] == pytest.approx(90 / 105, abs=0.01)
    assert inside["remaining"]["usable_ah"]["value"] is not None
    assert alone["findings"] == []


def test_drive_says_what_a_table_leaves_open(
        capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """A month that may be another stands above every figure; lesser doubts below."""
    path = tmp_path / "open.csv"
    path.write_text("date,time,amps\n" + "".join(
        f"03/04/2026,08:00:{s:02d},{s % 7}\n" for s in range(60)))
    assert main(["drive", str(path)]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert main(["drive", str(path), "--json"]) == 0
    doubts = json.loads(capsys.readouterr().out)["doubts"]

    assert lines[0].startswith("NOT SETTLED: Is 3/4/2026 3 April 2026 or 4 March 2026?")
    assert "--dates day-first or month-first" in lines[0]
    assert lines[-1] == ("Open: The times name no zone. Taken: UTC; 'packhand import --zone' "
                         "decides it.")
    assert [doubt["must_ask"] for doubt in doubts] == [True, False]


def test_drive_prints_one_json_document(capsys: pytest.CaptureFixture[str]) -> None:
    """With --json nothing but the document."""
    assert main(["drive", A13, "--json"]) == 0

    document = json.loads(capsys.readouterr().out)
    assert document["sign"]["convention"] == "negative_is_discharge"
    assert document["log"] == "drive_A13.csv.gz"


def test_explain_takes_typed_figures(capsys: pytest.CaptureFixture[str]) -> None:
    """Amps, percent, hours as 3:10: what they imply."""
    assert main(["explain", "--amps", "-23", "--percent", "91", "--hours", "3:10"]) == 0

    out = capsys.readouterr().out
    assert "most likely out of the pack" in out
    assert "about 80 Ah" in out


def test_explain_takes_a_log(capsys: pytest.CaptureFixture[str]) -> None:
    """The sign with its proof, then the last figures in words."""
    assert main(["explain", A13, "--json"]) == 0

    document = json.loads(capsys.readouterr().out)
    assert document["schema"] == "packhand.explain/1"
    assert document["sentences"][0].startswith("Minus means out of the pack. Proof: ")
    assert document["agreement"] is None


def turned_drive(path: Path) -> Path:
    """A table whose amps are told the other way round from its middle on, at 08:30."""
    drive = pedal_drive(1800)
    path.write_text("time,current_a,voltage_v\n" + "".join(
        f"{drive.at(s).isoformat()},{amps if s < 900 else -amps:.1f},{volts:.2f}\n"
        for s, amps, volts in zip(drive.elapsed_s, drive["current_a"], drive["voltage_v"],
                                  strict=True)))
    return path


def test_explain_and_import_tell_when_the_sign_turns(
        capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """Neither reads the whole file one way; nobody is asked to say one sign for all of it."""
    path = str(turned_drive(tmp_path / "turned.csv"))

    assert main(["explain", path]) == 0
    explained = capsys.readouterr().out
    assert main(["import", path, "--logbook", str(tmp_path / "book")]) == 0
    brought = capsys.readouterr().out

    for told in (explained, brought):
        assert re.search(r"the sign turns within the log, about 08:(29|30)\.", told)
        assert "bring in a table as two files" in told
    assert " out" not in explained.splitlines()[-1]
    assert "--minus" not in brought


@pytest.mark.parametrize(("kind", "said"), [
    ("wheels", "press the pedal once, hard"), ("boat", "push the throttle once, hard"),
    ("house", "switch a big load on once, hard")])
def test_who_must_load_the_pack_is_told_how(kind: str, said: str, tmp_path: Path,
                                            capsys: pytest.CaptureFixture[str]) -> None:
    """What the vehicle is stands in logbook.toml; nobody asks a boat for its pedal."""
    (tmp_path / "logs").mkdir()
    (tmp_path / "logbook.toml").write_text(f'[[vehicle]]\nname = "mine"\nkind = "{kind}"\n')
    log = tmp_path / "logs" / "2026-05-04T08-00-00Z.parquet"
    steady = pa.table({"time": pa.array([1000 * s for s in range(60)]), "monotonic_s": [
        float(s) for s in range(60)], "current_a": [20.0] * 60, "voltage_v": [53.0] * 60,
        "event": pa.nulls(60, pa.string())}).cast(log_schema(("current_a", "voltage_v")))
    write_log(log, LogMeta(vehicle="mine"), steady)

    assert main(["explain", str(log)]) == 0

    assert said in capsys.readouterr().out


@pytest.mark.parametrize(("words", "code", "said"), [
    (["drive", "nowhere.parquet"], 1, "nowhere.parquet: no such file"),
    (["explain"], 1, "for example: packhand explain --amps"),
    (["drive", str(DATA)], 1, "a folder — name one of the logs in it"),
    (["parked"], 1, "parked: nothing to reckon with: neither a logbook nor a drain was given"),
])
def test_what_cannot_be_done_is_one_line(words: list[str], code: int, said: str,
                                         capsys: pytest.CaptureFixture[str]) -> None:
    """Where, what was found, what to do; on stderr."""
    assert main(words) == code

    captured = capsys.readouterr()
    assert captured.out == ""
    assert captured.err.count("\n") == 1
    assert said in captured.err


@pytest.mark.parametrize(("text", "hours"), [("3:10", 3 + 10 / 60), ("3.5", 3.5), ("3,5", 3.5),
                                             ("3h10", 3 + 10 / 60), ("0:25", 25 / 60)])
def test_hours_as_people_write_them(text: str, hours: float) -> None:
    """Clock form or decimals, point or comma."""
    from analysis.commands.explain import hours as read

    assert read(text) == pytest.approx(hours)


@pytest.mark.parametrize("text", ["soon", "-1", "3:x"])
def test_hours_that_are_none_are_misuse(text: str) -> None:
    """Exit 2, as for any wrong argument."""
    with pytest.raises(SystemExit) as left:
        main(["explain", f"--hours={text}"])

    assert left.value.code == 2


@pytest.mark.parametrize(("words", "said"), [
    (["drive", A13, "--capacity", "-5"], "--capacity: '-5' is not a number above 0"),
    (["explain", "--percent", "191"], "--percent: '191' is not a percent from 0 to 100"),
    (["explain", "--hours", "3:70"], "--hours: '3:70' is not a time; write 3:10 or 3.2"),
    (["parked", "--percent", "155"], "--percent: '155' is not a percent from 0 to 100"),
    (["parked", "--milliamps", "-18"], "--milliamps: '-18' is not a number above 0"),
    (["range", ".", "--reserve", "150"], "--reserve: '150' is not a percent from 0 to 100"),
    (["cells", ".", "--bleed", "nan"], "--bleed: 'nan' is not a number above 0"),
    (["correct", "amps", "--gain", "0"], "--gain: '0' is not a number above 0"),
    (["demo", "--days", "-3"], "--days: '-3' is not a whole number from 1"),
])
def test_a_figure_that_cannot_be_meant_is_misuse(words: list[str], said: str,
                                                 capsys: pytest.CaptureFixture[str]) -> None:
    """What was typed and what is taken, before any file is opened."""
    with pytest.raises(SystemExit) as ended:
        main(words)

    assert ended.value.code == 2
    assert capsys.readouterr().err.rstrip().endswith(said)


def test_drive_tells_moments_by_the_clock_on_the_wall(capsys: pytest.CaptureFixture[str],
                                                      tmp_path: Path) -> None:
    """The peak's moment as people write it, in the zone the log was recorded in; metres as km."""
    path = tmp_path / "ride.csv"
    path.write_text("time,current_a,voltage_v,speed_m_s\n" + "".join(
        f"2026-05-02T08:00:{s:02d}Z,{-40 if s == 30 else -10},52.5,3.0\n" for s in range(60)))
    assert main(["drive", str(path)]) == 0

    out = capsys.readouterr().out
    assert "peak                −40 A, 2 May 2026, 08:00:30" in out
    assert "distance            0.18 ± 0.01 km" in out
