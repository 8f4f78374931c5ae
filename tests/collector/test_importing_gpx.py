"""Tracks in GPX: both versions, damaged ones, and ones that are a trap."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from collector.errors import ForeignFileError
from collector.importing import Foreign, ImportOptions, read_foreign

#: The shape of a document as in the schema GPX 1.1 (Topografix, 2004), from memory.
HEAD = ('<?xml version="1.0" encoding="UTF-8"?>\n'
        '<gpx version="1.1" creator="test" xmlns="http://www.topografix.com/GPX/1/1">')


def point(second: int, latitude: float, inside: str = "") -> str:
    return (f'<trkpt lat="{latitude}" lon="-10.5"><ele>31.5</ele>'
            f"<time>2026-04-02T08:15:{second:02d}Z</time>{inside}</trkpt>")


def read(tmp_path: Path, text: str) -> Foreign:
    path = tmp_path / "track.gpx"
    path.write_text(text, encoding="utf-8")
    return read_foreign(path, ImportOptions())


def test_points_of_all_segments_are_read(tmp_path: Path) -> None:
    """Place, height and time; way points are none, and points without a time are counted."""
    foreign = read(tmp_path, HEAD + '<wpt lat="1" lon="2"><ele>3</ele></wpt><trk><name>up</name>'
                   f"<trkseg>{point(0, 59.1)}{point(5, 59.2)}</trkseg><trkseg>{point(9, 59.3)}"
                   '<trkpt lat="59.4" lon="-10.5"/></trkseg></trk></gpx>')
    table = foreign.table

    assert table["latitude_deg"].to_pylist() == [59.1, 59.2, 59.3]
    assert table["longitude_deg"].to_pylist() == [-10.5] * 3
    assert table["elevation_m"].to_pylist() == [31.5] * 3
    assert table["time"][1].as_py() == datetime(2026, 4, 2, 8, 15, 5, tzinfo=UTC)
    assert sum(foreign.dropped.rows.values()) == 1
    assert not foreign.doubts


def test_speed_of_both_versions(tmp_path: Path) -> None:
    """As an element of a point (1.0, no namespace), or among its extensions (1.1)."""
    extension = '<extensions><x:speed xmlns:x="urn:x"> 3.5 </x:speed></extensions>'
    newer = read(tmp_path, f"{HEAD}<trk><trkseg>{point(0, 59.1, extension)}{point(1, 59.2)}"
                 "</trkseg></trk></gpx>")
    older = read(tmp_path, f'<gpx version="1.0"><trk><trkseg>{point(0, 1, "<speed>4</speed>")}'
                 "</trkseg></trk></gpx>")

    assert newer.table["speed_m_s"].to_pylist() == [3.5, None]
    assert older.table["speed_m_s"].to_pylist() == [4.0]


def test_a_figure_that_is_none_is_missing(tmp_path: Path) -> None:
    """A height in words, or one that is not finite, costs itself."""
    text = HEAD + "<trk><trkseg>" + point(0, 59.1).replace("31.5", "high") + point(
        1, 59.2).replace("31.5", "1e999") + point(2, 59.3) + "</trkseg></trk></gpx>"

    assert read(tmp_path, text).table["elevation_m"].to_pylist() == [None, None, 31.5]


@pytest.mark.parametrize(("text", "words"), [
    (f"{HEAD}<trk><trkseg>{point(0, 59.1)}</trkseg>", "line 2: not GPX: no element found"),
    (f"{HEAD}<trk></gpx>", "not GPX: mismatched tag"),
    (f'{HEAD}<wpt lat="1" lon="2"/></gpx>', "without track points"),
    ('<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY a "x">'
     f'<!ENTITY b "&a;&a;">]>{HEAD.partition(chr(10))[2]}&b;</gpx>', "declares entities"),
    ('<?xml version="1.0"?><!DOCTYPE gpx SYSTEM "file:///etc/hostname">'
     f"{HEAD.partition(chr(10))[2]}</gpx>", "declares entities"),
])
def test_damage_and_traps_get_one_line(tmp_path: Path, text: str, words: str) -> None:
    """Cut off, not closed, without a track, with entities or a file to fetch."""
    with pytest.raises(ForeignFileError, match=words):
        read(tmp_path, text)
