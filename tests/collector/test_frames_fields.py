"""Fields of a binary frame: missing figures, groups, bases, directions, words."""

from __future__ import annotations

import math

import pytest

from collector.frames.fields import Direction, Number, Row, Word
from collector.frames.place import Place
from collector.frames.scaling import Scaling

AMPS = Number(("current_a",), Place(0, 2), coding="signed", scaling=Scaling.of(0.1, 0))
STATE = Word("state", Place(0), {0: "discharging", 1: "charging"}, is_flags=True, none="idle")


def read(field: Number | Word, octets: str) -> Row:
    row: Row = {}
    field.read_into(row, bytes.fromhex(octets))
    return row


def written(field: Number | Word, size: int = 4, **values: float | str) -> str:
    frame = bytearray(size)
    field.write_into(frame, values)
    return frame.hex(" ")


@pytest.mark.parametrize("sentinel", [0xFFFF, 0x8000, 0x7FFF])
def test_a_sentinel_is_missing_before_it_is_scaled(sentinel: int) -> None:
    """Bits that mean "no figure" leave the column out, whatever number they would be."""
    amps = Number(("current_a",), Place(0, 2), coding="signed", scaling=Scaling.of(0.1, 5),
                  missing=(sentinel,))

    assert read(amps, f"{sentinel:04x}") == {}
    assert read(amps, "000a") == {"current_a": 6.0}
    assert written(amps, size=2, current_a=math.nan) == written(amps, size=2)
    assert written(amps, size=2) == f"{sentinel:04x}"[:2] + " " + f"{sentinel:04x}"[2:]


def test_a_figure_out_of_its_plausible_range_stays() -> None:
    """What the monitor said is kept, however unlikely."""
    assert read(Number(("soc_pct",), Place(0)), "fe") == {"soc_pct": 254.0}


def test_a_figure_beyond_all_numbers_is_missing() -> None:
    """Infinity is no figure, whether it was sent or came of scaling."""
    field = Number(("current_a",), Place(0, 8), coding="float", scaling=Scaling.of(1000, 0))

    assert read(field, "7FF0000000000000") == read(field, "7FEFFFFFFFFFFFFF") == {}
    assert read(field, "4037000000000000") == {"current_a": 23000.0}


def test_measurements_are_never_unwrapped() -> None:
    """A 16-bit figure that ran over reads small: mending it is not the decoder's to do."""
    amps = Number(("current_a",), Place(0, 2), scaling=Scaling.of(0.01, 0))

    assert [read(amps, octets)["current_a"] for octets in ("ffff", "0000")] == [655.35, 0.0]


def test_cells_stand_at_equal_steps() -> None:
    """A stride skips what stands between one cell and the next; one missing stays out."""
    cells = Number(("cell_01_v", "cell_02_v", "cell_03_v"), Place(1, 2), 3,
                   scaling=Scaling.of(0.001, 0), missing=(0,))

    assert cells.reach == 9
    assert read(cells, "00 0CF9 AA 0000 BB 0CFA") == {"cell_01_v": 3.321, "cell_03_v": 3.322}


def test_cells_as_differences_from_a_base() -> None:
    """Each cell is the common base plus its own difference, and encodes so."""
    base = Number(("base",), Place(0, 2), scaling=Scaling.of(0.01, 0), missing=(0xFFFF,))
    cells = Number(("cell_01_v", "cell_02_v"), Place(2), 1, scaling=Scaling.of(0.001, 0),
                   base=base)
    values = {"cell_01_v": 3.321, "cell_02_v": 3.319}

    assert read(cells, "014B 0B 09") == values
    assert read(cells, "FFFF 0B 09") == {}
    assert written(cells, **values) == "01 4b 0b 09"
    # 3.01 + 0.001 is 3.0109999999999997 in doubles; the log says what the monitor meant.
    assert read(cells, "012D 01 00") == {"cell_01_v": 3.011, "cell_02_v": 3.01}


@pytest.mark.parametrize(("flag", "amps"), [("00", 23.1), ("01", -23.1), ("02", 23.1)])
def test_a_flag_gives_unsigned_amps_their_direction(flag: str, amps: float) -> None:
    """Out of the pack is negative, any other state of the flag positive."""
    field = Number(("current_a",), Place(1, 2), scaling=Scaling.of(0.1, 0),
                   direction=Direction(Place(0), out=1))

    assert read(field, f"{flag} 00E7") == {"current_a": amps}
    assert repr(read(field, f"{flag} 0000")["current_a"]) == "0.0"


def test_a_direction_flag_is_written_beside_the_size() -> None:
    """The encoder sets the flag and sends the size; an inverted flag works alike."""
    place = Place(0, mask=0x80)
    for out, discharging, charging in ((1, "80", "00"), (0, "00", "80")):
        field = Number(("current_a",), Place(1, 2), scaling=Scaling.of(0.1, 0),
                       direction=Direction(place, out))
        assert written(field, size=3, current_a=-23.1) == f"{discharging} 00 e7"
        assert written(field, size=3, current_a=23.1) == f"{charging} 00 e7"


@pytest.mark.parametrize(("octet", "words"), [
    ("00", "idle"), ("01", "discharging"), ("03", "discharging; charging"),
    ("42", "charging; bit 6"),
])
def test_flags_are_told_in_words(octet: str, words: str) -> None:
    """Each bit that is set is named, also one the description does not know; and back."""
    assert read(STATE, octet) == {"state": words}
    assert written(STATE, size=1, state=words) == octet


@pytest.mark.parametrize(("octet", "words"), [("02", "charging"), ("09", "code 9")])
def test_codes_are_told_in_words(octet: str, words: str) -> None:
    """A code is its word, or itself where it has none; and back."""
    mode = Word("state", Place(0), {2: "charging"}, missing=(0xFF,))

    assert read(mode, octet) == {"state": words}
    assert written(mode, size=1, state=words) == octet
    assert read(mode, "ff") == {}
    assert written(mode, size=1) == "ff"


def test_no_flag_set_and_no_word_for_it_is_missing() -> None:
    """Without a word for "none" a clear byte says nothing."""
    fault = Word("fault", Place(0), {0: "too warm"}, is_flags=True)

    assert read(fault, "00") == {}
    assert written(fault, size=1) == "00"


@pytest.mark.parametrize(("values", "words"), [
    ({"current_a": 3276.8}, "32768 is not within"),
    ({"current_a": "none"}, "'none' is not a number"),
    ({}, "no value that means missing"),
])
def test_what_cannot_be_sent_is_refused(values: Row, words: str) -> None:
    """A figure that does not fit is an error of the caller, never a wrong figure."""
    with pytest.raises(ValueError, match=words):
        AMPS.write_into(bytearray(2), values)


def test_a_figure_that_would_read_as_missing_is_refused() -> None:
    """The encoder does not send a real figure as the sentinel."""
    percent = Number(("soc_pct",), Place(0), missing=(100,))

    with pytest.raises(ValueError, match="would read as missing"):
        percent.write_into(bytearray(1), {"soc_pct": 100.0})


def test_a_word_without_a_code_is_refused() -> None:
    """An unknown word names the known ones."""
    with pytest.raises(ValueError, match="known: discharging, charging"):
        STATE.write_into(bytearray(1), {"state": "asleep"})


def test_more_figures_than_are_remembered_still_read_right() -> None:
    """The memory of figures has an end, the figures have none."""
    counter = Number(("sequence",), Place(0, 4))
    last = 0
    for last in range(0, 70_000 * 7, 7):
        row: Row = {}
        counter.read_into(row, last.to_bytes(4))

    assert row == {"sequence": float(last)}
    assert len(counter._memo) == 1 << 16
