"""A logbook's digests are worked out once, kept, and never trusted when something changed."""

from __future__ import annotations

import json
import math
import os
from pathlib import Path

import numpy as np
import pyarrow as pa
import pytest

from analysis import load_logbook
from analysis.digest import PARTS, digest_log
from analysis.load import load_telemetry
from analysis.load_logbook import of_pack, read_digests
from analysis.one_log.use import LogUse
from analysis.season.resistance_trend import LogResistance
from collector.corrections import Correction, accept
from collector.errors import LogbookError
from collector.logfile import read_log, write_log
from collector.meta import LogMeta
from tests.analysis.made_logs import pedal_drive

NAMES = ("use", "zero")


def write_drive(root: Path, day: int, *, sign: float = 1.0, pack: str = "main",
                seed: int = 1, seconds: int = 600, turned_s: float = math.inf) -> Path:
    """A drive, its amps as a monitor of either sign would tell them, or of one that turns."""
    drive = pedal_drive(seconds, seed=seed)
    amps = sign * np.where(drive.elapsed_s < turned_s, 1, -1) * drive["current_a"]
    start_ms = int(drive.start.timestamp() * 1000) + day * 86_400_000
    table = pa.table({
        "time": pa.array(start_ms + np.round(drive.elapsed_s * 1000).astype(np.int64),
                         pa.timestamp("ms", "UTC")),
        "monotonic_s": drive.elapsed_s, "current_a": amps,
        "voltage_v": drive["voltage_v"], "event": pa.nulls(len(drive), pa.string())})
    (root / "logs").mkdir(parents=True, exist_ok=True)
    path = root / "logs" / f"2026-04-{day + 2:02d}T08-15-00Z.parquet"
    return write_log(path, LogMeta(pack=pack, invented=True), table)


@pytest.fixture
def opened(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Names of the logs that are opened, in order."""
    names: list[str] = []

    def load(path: Path, columns: object = None) -> object:
        names.append(path.stem)
        return load_telemetry(path, columns)  # type: ignore[arg-type]

    monkeypatch.setattr(load_logbook, "load_telemetry", load)
    return names


def test_digests_are_those_of_the_logs(tmp_path: Path) -> None:
    """What comes from the logbook is what the log itself gives."""
    path = write_drive(tmp_path, 0)

    (digest,) = read_digests(tmp_path, NAMES).digests

    assert repr(digest) == repr(digest_log(load_telemetry(path), path.name, parts=NAMES))
    assert digest.head.pack == "main"


def test_second_call_opens_no_log(tmp_path: Path, opened: list[str]) -> None:
    """Kept digests are equal to fresh ones, and cost no reading."""
    write_drive(tmp_path, 0)
    write_drive(tmp_path, 1)
    fresh = read_digests(tmp_path, NAMES)
    opened.clear()

    assert repr(read_digests(tmp_path, NAMES)) == repr(fresh)
    assert opened == []


def test_a_new_log_costs_only_itself(tmp_path: Path, opened: list[str]) -> None:
    """Of three logs the one that was added is opened."""
    write_drive(tmp_path, 0)
    write_drive(tmp_path, 1)
    read_digests(tmp_path, NAMES)
    opened.clear()
    added = write_drive(tmp_path, 2)

    assert len(read_digests(tmp_path, NAMES).digests) == 3
    assert opened == [added.stem]


def test_a_changed_log_is_read_anew(tmp_path: Path) -> None:
    """Another log under the same name gives its own figures."""
    path = write_drive(tmp_path, 0)
    before = read_digests(tmp_path, NAMES).digests[0].of(LogUse)
    path.unlink()
    write_drive(tmp_path, 0, seed=2)
    os.utime(path, ns=(1, 1))

    assert read_digests(tmp_path, NAMES).digests[0].of(LogUse) != before


def test_a_correction_laid_or_copied_in_counts_at_once(tmp_path: Path) -> None:
    """Whoever writes corrections.csv, the kept figures rest on it from then on."""
    write_drive(tmp_path, 0)
    before = read_digests(tmp_path, NAMES).digests[0].of(LogUse)
    accept(tmp_path / "corrections.csv", Correction(1, 0, "main", "current_a", 10.0, 1.0, 0))
    after = read_digests(tmp_path, NAMES).digests[0].of(LogUse)

    assert after.out_ah > before.out_ah + 1
    (tmp_path / "corrections.csv").unlink()
    assert read_digests(tmp_path, NAMES).digests[0].of(LogUse) == before


def test_a_log_from_a_wrong_clock_takes_its_true_place(tmp_path: Path) -> None:
    """Moved by a correction it stands between its neighbours, oldest first."""
    logs = [write_drive(tmp_path, day) for day in (0, 1, 5)]
    start_s = load_telemetry(logs[2]).start.timestamp()
    accept(tmp_path / "corrections.csv", Correction(
        1, 0, "", "time", 4.5 * 86_400, 1.0, round(1000 * start_s) - 1, round(1000 * start_s) + 1))

    told = read_digests(tmp_path, NAMES).digests

    assert [digest.log for digest in told] == [logs[0].name, logs[2].name, logs[1].name]
    assert told[1].start_s == start_s - 4.5 * 86_400


def test_a_track_laid_later_counts_where_it_is_looked_at(
        tmp_path: Path, opened: list[str]) -> None:
    """The distance comes from it, and goes with it; parts that need no place stay kept."""
    log = write_drive(tmp_path, 0)
    bare = read_digests(tmp_path, (*NAMES, "coasting")).digests[0].of(LogUse)
    track = tmp_path / "places" / log.name
    track.parent.mkdir()
    rows = read_log(log).table.select(["time", "monotonic_s", "event"])
    write_log(track, LogMeta(), rows.append_column("speed_m_s", [np.full(len(rows), 2.0)]).select(
        ["time", "monotonic_s", "speed_m_s", "event"]))
    opened.clear()

    (told,) = read_digests(tmp_path, (*NAMES, "coasting")).digests
    assert told.of(LogUse).distance_m == pytest.approx(2.0 * 599, rel=0.01)
    assert opened == [log.stem]
    opened.clear()
    read_digests(tmp_path, ("zero",))
    track.unlink()
    assert read_digests(tmp_path, NAMES).digests[0].of(LogUse) == bare
    assert opened == [log.stem]


def test_another_part_is_added_beside(tmp_path: Path) -> None:
    """A question that needs another part gets it; the others stay kept."""
    write_drive(tmp_path, 0)
    read_digests(tmp_path, NAMES)

    (digest,) = read_digests(tmp_path, ["resistance"]).digests

    assert digest.of(LogResistance).after_1_s_mohm == pytest.approx(16, rel=0.1)
    with pytest.raises(KeyError):
        digest.of(LogUse)


@pytest.mark.parametrize("damage", ["", "{", "[]", '{"code": 1}', '{"code": 1, "logs": 3}'])
def test_a_damaged_cache_is_passed_over(tmp_path: Path, damage: str) -> None:
    """Whatever lies in the cache, the figures are right."""
    write_drive(tmp_path, 0)
    fresh = read_digests(tmp_path, NAMES)
    (tmp_path / ".cache" / "use.json").write_text(damage, encoding="utf-8")

    assert repr(read_digests(tmp_path, NAMES)) == repr(fresh)


def test_half_an_entry_is_passed_over(tmp_path: Path) -> None:
    """An entry that lacks a figure is worked out again."""
    write_drive(tmp_path, 0)
    fresh = read_digests(tmp_path, NAMES)
    path = tmp_path / ".cache" / "use.json"
    data = json.loads(path.read_text(encoding="utf-8"))
    next(iter(data["logs"].values()))[1].pop("out_ah")
    path.write_text(json.dumps(data), encoding="utf-8")

    assert repr(read_digests(tmp_path, NAMES)) == repr(fresh)


def test_a_logbook_that_cannot_be_written_is_read(tmp_path: Path) -> None:
    """Where no cache can be made the digests come all the same."""
    write_drive(tmp_path, 0)
    (tmp_path / ".cache").write_text("in the way", encoding="utf-8")

    assert len(read_digests(tmp_path, NAMES).digests) == 1


def test_a_broken_log_is_told_and_the_rest_is_read(tmp_path: Path) -> None:
    """One log that is cut off makes one line; the others count."""
    write_drive(tmp_path, 0)
    broken = write_drive(tmp_path, 1)
    broken.write_bytes(broken.read_bytes()[:-100])

    found = read_digests(tmp_path, NAMES)

    assert len(found.digests) == 1
    assert len(found.problems) == 1
    assert broken.name in found.problems[0]


def test_a_shunt_wired_the_other_way_is_read_by_each_logs_own_sign(tmp_path: Path) -> None:
    """Logs of both signs give the same amp-hours out."""
    for day, sign in enumerate([1.0, 1.0, -1.0, -1.0]):
        write_drive(tmp_path, day, sign=sign)

    digests = read_digests(tmp_path, NAMES).digests

    assert [d.convention for d in digests] == [
        "negative_is_discharge", "negative_is_discharge", "positive_is_discharge",
        "positive_is_discharge"]
    assert len({round(d.of(LogUse).out_ah, 6) for d in digests}) == 1


def test_a_sign_that_turns_within_a_log_counts_nothing_there(tmp_path: Path) -> None:
    """Neither its own figures nor its neighbours tell one sign for all of it."""
    for day, turned_s in enumerate([math.inf, 900.0, math.inf]):
        write_drive(tmp_path, day, seconds=1800, turned_s=turned_s)

    before, turning, after = read_digests(tmp_path, NAMES).digests

    assert turning.convention == "undecided"
    assert math.isnan(turning.of(LogUse).out_ah)
    assert before.of(LogUse).out_ah == after.of(LogUse).out_ah > 0
    path = tmp_path / "logs" / turning.log
    assert digest_log(load_telemetry(path)).convention == "undecided"


def test_one_pack_is_taken_at_a_time(tmp_path: Path) -> None:
    """Of two packs the one used last, or the named one; an unknown name lists them."""
    write_drive(tmp_path, 0, pack="old")
    write_drive(tmp_path, 1, pack="new")
    digested = read_digests(tmp_path, NAMES)

    assert [d.head.pack for d in of_pack(digested, None, "book")] == ["new"]
    assert [d.head.pack for d in of_pack(digested, "old", "book")] == ["old"]
    with pytest.raises(LogbookError, match="'new', 'old'"):
        of_pack(digested, "third", "book")


def test_an_empty_logbook_says_what_to_do(tmp_path: Path) -> None:
    """A logbook without logs is refused with the next step."""
    (tmp_path / "logs").mkdir()

    with pytest.raises(LogbookError, match="packhand record"):
        of_pack(read_digests(tmp_path, NAMES), None, "book")


def test_every_part_is_stored_and_read_back(tmp_path: Path) -> None:
    """Each part of the table survives its file."""
    write_drive(tmp_path, 0)
    fresh = read_digests(tmp_path, PARTS)
    kept = read_digests(tmp_path, PARTS)

    assert repr(kept) == repr(fresh)
