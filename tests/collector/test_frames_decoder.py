"""The decoder as a whole: rows, counts, and what it says of junk."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from collector.frames.decoder import Decoder
from collector.frames.encoder import encode
from collector.frames.fields import Row
from collector.frames.place import CODINGS
from collector.monitors import description_from_tables
from tests.strategies import FRAMINGS, readings, small_monitor

LINES = {
    "name": "plain lines", "framing": {"kind": "line"}, "text": {"form": "comma"},
    "field": [{"name": "voltage_v", "at": 0}, {"name": "current_a", "at": 1}],
}


@pytest.mark.parametrize("kind", FRAMINGS)
@settings(derandomize=True, deadline=None)
@given(reading=readings())
def test_decode_undoes_encode(kind: str, reading: Row) -> None:
    """What a monitor says is what is read, to the last digit."""
    monitor = small_monitor(kind)

    assert Decoder(monitor).feed(encode(monitor, reading)) == [reading]


COLUMNS = ("current_a", "voltage_v", "power_w", "soc_pct", "soh_pct", "cycles", "distance_m")
CODED = [{"name": name, "at": n, "type": coding, "length": 4, "missing": [7], "scale": 1e12}
         for n, (name, coding) in enumerate(zip(COLUMNS, CODINGS, strict=True))]
WORDS = [{"name": "state", "at": 0, "type": "flags"}, {"name": "fault", "at": 1}]
UNCHECKED: dict[str, dict[str, object]] = {
    "length": {"framing": {"kind": "length", "start_hex": "00", "length_at": 1},
               "field": CODED + WORDS},
    "slip": {"framing": {"kind": "slip"}, "field": CODED + WORDS},
    "comma": LINES,
    "json": {"framing": {"kind": "line"}, "text": {"form": "json"}, "field": [
        {"name": "current_a", "key": "a"}, {"name": "state", "key": "s"}]},
    "pairs": {"framing": {"kind": "delimited", "start_text": "a", "end_text": "\n"},
              "text": {"form": "key=value", "separator": " "}, "field": [
                  {"name": "current_a", "key": ""}, {"name": "state", "key": "s"}]},
}
NOISE = st.one_of(st.binary(max_size=200), st.text("a=s01. -\n{}[]\":,e\\ud8", max_size=200).map(
    str.encode))


@pytest.mark.parametrize("kind", UNCHECKED)
@settings(derandomize=True, deadline=None)
@given(noise=NOISE)
def test_no_bytes_bring_a_decoder_down(kind: str, noise: bytes) -> None:
    """Whatever is heard, without any check, gives rows that a log can hold, or none."""
    monitor = description_from_tables({"name": kind} | UNCHECKED[kind], kind)
    for row in Decoder(monitor).feed(noise):
        assert set(row) <= set(monitor.columns)
        assert all(value.encode() if isinstance(value, str) else math.isfinite(value)
                   for value in row.values())


def test_rows_come_in_the_order_they_were_heard() -> None:
    """Two lines in one chunk are two rows; the third waits for its end."""
    decoder = Decoder(description_from_tables(LINES, "test"))

    assert decoder.feed(b"53.1,-23.1\n53.2,") == [{"voltage_v": 53.1, "current_a": -23.1}]
    assert decoder.feed(b"-22.9\r\n") == [{"voltage_v": 53.2, "current_a": -22.9}]


def test_everything_heard_is_counted() -> None:
    """Good frames, failed checks, junk and frames without a figure have their own counts."""
    monitor = small_monitor("line")
    good = encode(monitor, {"voltage_v": 53.1, "current_a": -23.1, "sequence": 1})
    silent = encode(monitor, {})
    decoder = Decoder(monitor)
    rows = decoder.feed(b"noise" + good + good.replace(b"53", b"54") + silent)

    assert len(rows) == 1
    assert decoder.counts.as_json() == {
        "heard_bytes": 5 + 2 * len(good) + len(silent), "frames": 1, "failed_checks": 1,
        "junk_bytes": 5 + len(good) - 2, "undecodable": 1}


def test_a_frame_too_short_for_its_fields_gives_no_row() -> None:
    """A packet that passed its check but ends early is counted, and no figure is made up."""
    monitor = description_from_tables(
        {"name": "t", "framing": {"kind": "slip"}, "check": {"kind": "sum8"},
         "field": [{"name": "soc_pct", "at": 0}, {"name": "cycles", "at": 2}]}, "t")
    decoder = Decoder(monitor)

    assert decoder.feed(b"\xc0\x5b\x5b\xc0") == []
    assert decoder.counts.undecodable == 1
    assert decoder.feed(b"\xc0\x5b\0\x07\x62\xc0") == [{"soc_pct": 91.0, "cycles": 7.0}]


@pytest.mark.parametrize(("heard", "words"), [
    (b"", "nothing was heard"),
    (b"\x00\xff" * 2060, "4 120 bytes, no frame among them; most frequent bytes 0x00 (50 %), "
                         "0xFF (50 %): check the baud rate, then the kind of monitor"),
    (b"!v=1*00000000\n" * 2, "28 bytes, 2 began like a frame, none passed the check; it is text "
                             "such as '!v=1*00000000': check the description's check"),
    (b"hello\n", "6 bytes, no frame among them; it is text such as 'hello': check the kind of "
                 "monitor"),
])
def test_junk_is_described_for_a_person(heard: bytes, words: str) -> None:
    """Where no figure comes, the words say what was heard and what to try."""
    decoder = Decoder(small_monitor("line"))
    decoder.feed(heard)

    assert decoder.describe_junk() == words


def test_frames_without_known_fields_are_described() -> None:
    """A monitor of another kind whose frames pass is told apart from noise."""
    decoder = Decoder(description_from_tables(LINES, "test"))
    decoder.feed(b"hello\nworld\n")

    assert decoder.describe_junk() == (
        "12 bytes, 2 frames, none with a known field; it is text such as 'hello': check the "
        "description's fields")
