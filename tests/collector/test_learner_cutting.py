"""Frames found in streams that nobody described."""

import numpy as np
import pytest
from cobs import cobs
from sliplib import encode as slip_encode

from collector.learner.cutting import binary_cuts
from collector.learner.stream import Stream
from collector.rawfile import Chunk


def packets(count: int = 200, zeros: bool = True) -> list[bytes]:
    """Packets of 21 bytes: a start byte, slow figures, noise, a sum."""
    rng = np.random.default_rng(11)
    out = []
    for n in range(count):
        slow = [0x02, n // 40, 0, 219, 192, 51] if zeros else [7, n // 40 + 1, 9, 8, 7, 6]
        data = bytes([0x9E, *slow, *range(60, 66), *rng.integers(1, 255, 7).tolist()])
        out.append(data + bytes([sum(data) & 0xFF]))
    return out


def stream(pieces: list[bytes], size: int = 0) -> Stream:
    """The pieces as chunks a second apart, or cut into chunks of one size."""
    data = b"".join(pieces)
    cut = [data[at:at + size] for at in range(0, len(data), size)] if size else pieces
    return Stream.of([Chunk(1000 * n, float(n), piece) for n, piece in enumerate(cut)])


@pytest.mark.parametrize("size", [0, 7, 20, 64])
def test_frames_of_one_length_however_they_arrive(size: int) -> None:
    """Length, phase and check come out whether chunks are frames or not."""
    best = binary_cuts(stream(packets(), size))[0]

    assert (best.framing.kind, best.framing.length) == ("fixed", 21)
    assert best.check is not None
    assert packets()[5] in [row.tobytes() for row in best.frames]


def test_junk_and_torn_frames_cost_only_themselves() -> None:
    """Behind damage the next whole frame is found."""
    pieces = packets()
    pieces[30] = b"\x13\x77\x01" + pieces[30]
    pieces[90] = pieces[90][:8]
    pieces[150] = b"\xFF" * 40 + pieces[150]
    frames = {row.tobytes() for row in binary_cuts(stream(pieces, 16))[0].frames}

    whole = {packet for n, packet in enumerate(packets()) if n != 90}
    assert len(whole - frames) <= 8
    assert not frames - whole


def test_cobs_packets_vs_the_cobs_library() -> None:
    """Packets coded by the ``cobs`` library (MIT) are found and decoded."""
    best = binary_cuts(stream([cobs.encode(packet) + b"\0" for packet in packets()]))[0]

    assert best.framing.kind == "cobs"
    assert packets() == [row.tobytes() for row in best.frames]


def test_slip_packets_vs_sliplib() -> None:
    """Packets coded by ``sliplib`` (MIT, RFC 1055) are found and decoded."""
    best = binary_cuts(stream([slip_encode(packet) + b"\xC0" for packet in packets()]))[0]

    assert best.framing.kind == "slip"
    assert packets() == [row.tobytes() for row in best.frames]


def test_noise_is_not_cut() -> None:
    """A stream without frames has no cut with a check."""
    noise = np.random.default_rng(5).integers(0, 256, 6000, dtype=np.uint8).tobytes()

    assert not [cut for cut in binary_cuts(stream([noise], 50)) if cut.check]


@pytest.mark.parametrize("mark", [b"\x5a\xc0", b"\x5a\x00", b"\x5a\xa5"])
def test_a_frame_ends_where_the_silence_begins(mark: bytes) -> None:
    """A start mark that holds a delimiter of SLIP or COBS, or that looks like the tail of the frame
    before, does not make every figure a frame late."""
    generator = np.random.default_rng(7)
    bodies = generator.integers(1, 0xBF, (200, 8)).astype(np.uint8)
    frames = [mark + body.tobytes() + bytes([int(body.sum()) & 0xFF]) for body in bodies]
    heard = stream([frame for frame in frames if 0xC0 not in frame[2:]])

    best = binary_cuts(heard)[0]

    assert best.framing.kind == "fixed"
    assert best.frames[0].tobytes() == heard.data[:len(frames[0])]
    assert best.times_s[0] == heard.times_s[0]
