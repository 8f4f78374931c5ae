"""Check rules found in frames whose check another library worked out."""

from collections.abc import Callable

import numpy as np
import pytest
from crccheck import crc as reference_crc
from numpy.typing import NDArray

from collector.frames.checks import CATALOGUE, Crc
from collector.learner import check_search
from collector.learner.check_search import find_check

LENGTH, COUNT = 24, 60


def frames(compute: Callable[[bytes], int], size: int, order: str, start: int = 0,
           tail: bytes = b"") -> NDArray[np.uint8]:
    """Frames with a header, a counter, noise and a check value."""
    rng = np.random.default_rng(7)
    rows = []
    for n in range(COUNT):
        data = b"\xA7\x31" + bytes([n]) + rng.integers(0, 256, LENGTH, dtype=np.uint8).tobytes()
        value = compute(data[start:]).to_bytes(size, order)  # type: ignore[arg-type]
        rows.append(data + value + tail)
    return np.frombuffer(b"".join(rows), np.uint8).reshape(COUNT, -1)


def reference(name: str) -> type:
    """The class of ``crccheck`` that goes by this name of the RevEng catalogue."""
    names = {cls.__name__.lower(): cls for cls in reference_crc.ALLCRCCLASSES}
    return names[name.replace("-", "").replace("/", "").lower()]


@pytest.mark.parametrize("order", ["big", "little"])
@pytest.mark.parametrize("name", sorted(CATALOGUE))
def test_every_crc_of_the_catalogue_vs_crccheck(name: str, order: str) -> None:
    """A CRC is found by name, with its range and order; values by crccheck (MIT), 1.3.1."""
    crc = reference(name)
    found = find_check(frames(crc.calc, CATALOGUE[name].width // 8, order))

    assert found is not None
    assert CATALOGUE[name] == found.check.rule
    assert (found.check.start, found.kept) == (0, 1.0)
    if CATALOGUE[name].width > 8:
        assert order == found.check.order


def test_a_crc_with_a_start_value_of_its_own() -> None:
    """Start value and inversion come out of the data, whatever they are."""
    own = Crc(16, 0x1021, 0x1234, False, 0x00FF)
    found = find_check(frames(own.compute, 2, "big"))

    assert found is not None
    assert all(found.check.is_good(row.tobytes()) for row in frames(own.compute, 2, "big"))


@pytest.mark.parametrize(("compute", "size"), [
    (lambda data: sum(data) & 0xFF, 1),
    (lambda data: -sum(data) & 0xFF, 1),
    (lambda data: ~sum(data) & 0xFF, 1),
    (lambda data: (sum(data) + 0x5B) & 0xFF, 1),
    (lambda data: sum(data) & 0xFFFF, 2),
    (lambda data: int(np.bitwise_xor.reduce(np.frombuffer(data, np.uint8))) ^ 0x3C, 1),
])
@pytest.mark.parametrize("start", [0, 2, 3])
@pytest.mark.parametrize("tail", [b"", b"\x0D"])
def test_sums_and_exclusive_or(compute: Callable[[bytes], int], size: int, start: int,
                               tail: bytes) -> None:
    """Plain rules are found over any range, with a start value, before an end byte."""
    rows = frames(compute, size, "big", start, tail)
    found = find_check(rows)

    assert found is not None
    assert -size - len(tail) == found.check.at
    assert all(found.check.is_good(row.tobytes()) for row in rows)


def test_damaged_frames_do_not_hide_the_rule() -> None:
    """One frame in twenty may be damaged."""
    rows = frames(reference("CRC-16/MODBUS").calc, 2, "little").copy()
    rows[::20, 5] ^= 0x40
    found = find_check(rows)

    assert found is not None
    assert CATALOGUE["CRC-16/MODBUS"] == found.check.rule


def test_noise_has_no_check() -> None:
    """Nothing is found where nothing is."""
    noise = np.random.default_rng(3).integers(0, 256, (200, 20), dtype=np.uint8)

    assert find_check(noise) is None


def test_work_is_bounded_without_a_check(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where no rule holds, each polynomial reads the frames once a place, whatever the start."""
    reads = []
    shares = check_search._shares

    def counted(rule: Crc, data: NDArray[np.uint8]) -> NDArray[np.int64]:
        reads.append((rule, data.shape[1]))
        return shares(rule, data)

    monkeypatch.setattr(check_search, "_shares", counted)
    noise = np.random.default_rng(3).integers(0, 256, (300, 200), dtype=np.uint8)
    assert find_check(noise) is None
    assert 0 < len(reads) == len(set(reads))
    # Up to three bytes may stand behind the check.
    polynomials = {(crc.width, crc.poly, crc.is_reflected) for crc in CATALOGUE.values()}
    assert len(reads) == 4 * len(polynomials)


@pytest.mark.parametrize("count", [0, 5])
def test_too_few_frames_have_no_check(count: int) -> None:
    """A handful of frames keeps many rules by chance: none is claimed."""
    assert find_check(np.zeros((count, 12), np.uint8)) is None
