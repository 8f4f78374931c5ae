"""Distance that a person tells: a known way, and odometer notes around a log."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

import pytest

from analysis.commands.told_distance import read_length_m
from analysis.estimate import Estimate, NoEstimate
from analysis.one_log.distance import odometer_way_m, route_way_m
from collector.logbook import Logbook
from packhand import main

START = "2026-04-02T08:15:00Z"


@pytest.mark.parametrize(("text", "metres"), [
    ("950m", 950.0), ("4.6", 4600.0), ("4.6 km", 4600.0), ("2.9mi", 4667.0976), (".5km", 500.0),
])
def test_a_length_is_read_with_its_unit(text: str, metres: float) -> None:
    """Kilometres where none is named; the mile of 1609.344 m (NIST SP 811, from memory)."""
    assert read_length_m(text) == pytest.approx(metres)


@pytest.mark.parametrize("text", ["", "far", "4,6 km", "-3km", "0", "5 kg", "3 Wh"])
def test_what_is_no_length_is_refused(text: str) -> None:
    """With an example of one that is."""
    with pytest.raises(argparse.ArgumentTypeError, match="not a length such as 950m"):
        read_length_m(text)


def test_odometer_readings_are_cut_to_their_step() -> None:
    """12.3 and 16.9 km are 4.6 km, off by up to a step; none or less than before is no way."""
    way = odometer_way_m(12.3, 16.9, 0.1)

    assert isinstance(way, Estimate)
    assert way.value == pytest.approx(4600)
    assert way.half_width == pytest.approx((100 ** 2 + 138 ** 2) ** 0.5)
    assert isinstance(odometer_way_m(12.0, 12.0, 1.0), NoEstimate)
    assert isinstance(odometer_way_m(16.9, 12.3, 0.1), NoEstimate)
    assert route_way_m(950.0).half_width == pytest.approx(9.5)


def drive(path: Path, seconds: int, hole: bool = False) -> Path:
    """A drive at 30 to 50 A and 52 V, without speed, odometer or place."""
    path.write_text("time,amps,volts\n" + "".join(
        f"2026-04-02T08:{15 + s // 60}:{s % 60:02d}Z,{-30 - 20 * (s // 10 % 2)},"
        f"{52 - 0.5 * (s // 10 % 2)}\n"
        for s in range(seconds) if not (hole and 60 < s < 120)))
    return path


def distance_of(capsys: pytest.CaptureFixture[str], log: Path, *words: str) -> tuple[
        float | None, float | None, str]:
    """Distance, consumption, and why there is none."""
    assert main(["drive", str(log), "--json", *words]) == 0
    document = json.loads(capsys.readouterr().out)
    consumption = document["consumption_wh_per_km"]
    return document["distance_m"]["value"], consumption["value"], consumption.get("reason", "")


def test_a_told_way_gives_a_consumption(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """40 A at 51.75 V for 10 minutes are 343 Wh; over 4 km they are 86 Wh/km."""
    metres, consumption, _ = distance_of(
        capsys, drive(tmp_path / "a.csv", 600), "--distance", "4km")

    assert metres == 4000
    assert consumption == pytest.approx(40 * 51.7 / 6 / 4, rel=0.02)


def test_a_told_way_with_a_hole_in_the_log_gives_none(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Energy of a part cannot be divided by the whole way."""
    metres, consumption, reason = distance_of(
        capsys, drive(tmp_path / "a.csv", 600, hole=True), "--distance", "4km")

    assert (metres, consumption) == (4000, None)
    assert "were not seen" in reason


def noted(book: Path, *readings: tuple[str, str]) -> None:
    for at, value in readings:
        assert main(["note", "odometer", value, "--at", at, "--logbook", str(book)]) == 0


def test_odometer_notes_around_a_log_tell_its_way(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The nearest before and after; a note beyond another log tells nothing."""
    book = tmp_path / "book"
    main(["import", str(drive(tmp_path / "a.csv", 600)), "--logbook", str(book)])
    [entry] = Logbook.open(book).logs()
    noted(book, ("2026-04-01T08:00:00Z", "7.0km"), ("2026-04-02T08:15:30Z", "12.3km"))
    capsys.readouterr()
    alone = distance_of(capsys, entry.path)[0]
    noted(book, ("2026-04-02T08:40:00Z", "16.9km"), ("2026-04-03T08:40:00Z", "30km"))
    capsys.readouterr()
    told = distance_of(capsys, entry.path)[0]
    later = tmp_path / "later.csv"
    later.write_text((tmp_path / "a.csv").read_text().replace("T08:", "T09:"))
    main(["import", str(later), "--logbook", str(book)])
    capsys.readouterr()
    second = distance_of(capsys, Logbook.open(book).logs()[1].path)[0]

    assert alone is None
    assert told == pytest.approx(4600)
    assert second == pytest.approx(13_100)
