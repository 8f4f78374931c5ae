"""Finding frames in a stream that is cut, dirty and damaged, for every kind of framing."""

from __future__ import annotations

import tracemalloc

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from collector.frames.checks import CATALOGUE, Check, Sum
from collector.frames.decoder import Decoder
from collector.frames.encoder import encode
from collector.frames.fields import Row
from collector.frames.framing import Framing, open_framer
from collector.frames.place import Place
from tests.strategies import FRAMINGS, pieces_of, runs, small_monitor

EVERY_KIND = pytest.mark.parametrize("kind", FRAMINGS)
STEADY = settings(derandomize=True, max_examples=60, deadline=None)


def anything(_frame: bytes) -> bool:
    return True


@EVERY_KIND
@STEADY
@given(data=st.data(), sent=runs(), junk=st.lists(st.binary(max_size=30), min_size=7))
def test_any_cut_of_the_stream_gives_the_same(
    kind: str, data: st.DataObject, sent: list[Row], junk: list[bytes],
) -> None:
    """Rows and counts depend on the bytes, never on how they arrived."""
    monitor = small_monitor(kind)
    frames = (encode(monitor, reading) for reading in sent)
    stream = b"".join(part for pair in zip(junk, frames, strict=False) for part in pair)
    whole, cut = Decoder(monitor), Decoder(monitor)
    rows = [row for piece in data.draw(pieces_of(stream)) for row in cut.feed(piece)]

    assert whole.feed(stream) == rows
    assert whole.counts == cut.counts


@EVERY_KIND
@STEADY
@given(sent=runs(), junk=st.lists(st.binary(max_size=30), min_size=7))
def test_junk_between_frames_loses_none(kind: str, sent: list[Row], junk: list[bytes]) -> None:
    """Whatever stands between frames, each of them is found and nothing else is."""
    monitor = small_monitor(kind)
    decoder = Decoder(monitor)
    # Junk that promises a long frame is given up when that many bytes have come.
    stream = b"".join(junk[n] + encode(monitor, reading) for n, reading in enumerate(sent))
    rows = decoder.feed(stream) + decoder.feed(bytes(64))

    assert sent == rows


@EVERY_KIND
@STEADY
@given(data=st.data(), sent=runs(least=3))
def test_one_damaged_byte_costs_one_frame(kind: str, data: st.DataObject, sent: list[Row]) -> None:
    """A damaged byte loses the frame it lies in, no other, and invents none."""
    monitor = small_monitor(kind)
    frames = [encode(monitor, reading) for reading in sent]
    stream = bytearray(b"".join(frames))
    place = data.draw(st.integers(0, len(stream) - 1))
    stream[place] ^= data.draw(st.integers(1, 255))
    hit = next(n for n in range(len(frames)) if place < sum(map(len, frames[:n + 1])))
    decoder = Decoder(monitor)
    rows = decoder.feed(bytes(stream)) + decoder.feed(bytes(64))

    assert rows in (sent, sent[:hit] + sent[hit + 1:])


@EVERY_KIND
@STEADY
@given(data=st.data(), sent=runs(least=3))
def test_a_torn_frame_costs_itself(kind: str, data: st.DataObject, sent: list[Row]) -> None:
    """A frame whose end never came loses nothing of the one that follows it."""
    monitor = small_monitor(kind)
    frames = [encode(monitor, reading) for reading in sent]
    frames[1] = frames[1][:data.draw(st.integers(1, len(frames[1]) - 3))]
    decoder = Decoder(monitor)
    rows = decoder.feed(b"".join(frames)) + decoder.feed(bytes(64))

    assert rows == [sent[0], *sent[2:]]


@EVERY_KIND
def test_memory_is_bounded(kind: str) -> None:
    """Hours of noise, such as of a wrong baud rate, are passed over and not kept."""
    decoder = Decoder(small_monitor(kind))
    noise = bytes((n * n >> 3) % 251 + 5 & 0xFD for n in range(4096))
    decoder.feed(noise)
    tracemalloc.start()
    for _ in range(50):
        decoder.feed(noise)
    kept, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()

    assert kept < 10_000
    assert peak < 200_000
    assert decoder.counts.junk_bytes > 50 * 4096 - 600


def test_a_start_inside_junk_does_not_swallow_the_frame_behind_it() -> None:
    """Junk that begins like a frame and promises more is given up a byte at a time."""
    framing = Framing("length", start=b"\xc3", length_place=Place(1), max_length=16)
    check = Check(CATALOGUE["CRC-16/MODBUS"], at=-2, stop=-2)
    good = bytearray(b"\xc3\x08\x01\x02\xc3\x08\0\0")
    check.put(good)
    framer = open_framer(framing, check.is_good)

    assert framer.feed(b"\xc3\x0c\xc3" + good) == []
    assert framer.feed(b"\0") == [bytes(good)]
    assert framer.skipped.junk_bytes == 4
    assert framer.skipped.failed_checks >= 1


def test_delimiters_may_stand_inside_a_delimited_frame() -> None:
    """A check tells an end byte inside the frame from the end of the frame."""
    framing = Framing("delimited", start=b"<", end=b">")
    check = Check(CATALOGUE["CRC-16/MODBUS"], at=-3, stop=-3)
    frame = bytearray(b"<1><2>\0\0>")
    check.put(frame)

    assert open_framer(framing, check.is_good).feed(bytes(frame)) == [bytes(frame)]


def test_an_end_may_begin_inside_what_looks_like_an_end() -> None:
    """A check value that equals the end byte does not hide the end behind it."""
    framing = Framing("delimited", start=b"<", end=b">>")
    check = Check(Sum(8), at=-3, stop=-3)

    assert check.is_good(b"<\x02>>>")
    assert open_framer(framing, check.is_good).feed(b"<\x02>>>") == [b"<\x02>>>"]


def test_a_delimited_frame_has_its_longest_length() -> None:
    """Start and end too far apart belong to two frames, both torn."""
    framer = open_framer(Framing("delimited", start=b"<", end=b">", max_length=6), anything)

    assert framer.feed(b"<12345><1234>") == [b"<1234>"]
    assert framer.skipped.junk_bytes == 7


def test_without_a_check_a_length_out_of_range_is_no_frame() -> None:
    """A length field beyond the longest or below the shortest frame is passed over."""
    framing = Framing("length", start=b"S", length_place=Place(1), length_adds=2, max_length=6)
    framer = open_framer(framing, anything, min_length=4)

    assert framer.feed(b"S\xffS\x01S\x02ab") == [b"S\x02ab"]
    assert framer.skipped.junk_bytes == 4


@pytest.mark.parametrize("ends", [b"\n", b"\r", b"\r\n", b"\n\r\n"])
def test_lines_end_with_either_mark(ends: bytes) -> None:
    """LF, CR and both together end a line, and empty lines are none."""
    framer = open_framer(Framing("line"), anything)

    assert framer.feed(b"one" + ends + b"two" + ends + b"three") == [b"one", b"two"]


def test_a_line_too_long_is_passed_over_whole() -> None:
    """The tail of an overlong line is not taken for a line."""
    framer = open_framer(Framing("line", max_length=5), anything)

    assert [framer.feed(piece) for piece in (b"123", b"456", b"789\nok\n")] == [[], [], [b"ok"]]
    assert [framer.feed(piece) for piece in (b"123456", b"\n12345\n")] == [[], [b"12345"]]
    assert framer.skipped.junk_bytes == 15
