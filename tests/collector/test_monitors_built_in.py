"""What every built-in description has to keep."""

from __future__ import annotations

import json
import math

import crccheck.crc
import pytest

from collector.frames.decoder import Decoder
from collector.frames.encoder import encode
from collector.frames.stream import open_decoder
from collector.monitors import _FOLDER, BUILT_IN, description_from_tables, load_description
from collector.record import in_log_order, quantity_of

EVERY = pytest.mark.parametrize("name", BUILT_IN)
#: Those whose frames the description lays out itself, and not the standard that it names.
FRAMED = pytest.mark.parametrize(
    "name", [name for name in BUILT_IN if not name.startswith("nmea")
             and load_description(name).transport.kind in ("serial", "ble")])


def test_every_file_is_offered() -> None:
    """A description in the folder is built in, and the other way round."""
    assert sorted(path.stem for path in _FOLDER.glob("*.toml")) == sorted(BUILT_IN)


@EVERY
def test_captured_frames_say_what_the_description_claims(name: str) -> None:
    """There is an example, and each decodes to its values."""
    monitor = load_description(name)
    assert monitor.examples
    for example in monitor.examples:
        assert open_decoder(monitor).feed(example.data) == [dict(example.values)]


@FRAMED
def test_an_example_shows_every_column(name: str) -> None:
    """It has every column, and its values encode to its bytes."""
    monitor = load_description(name)
    for example in monitor.examples:
        assert set(example.values) == set(monitor.columns)
        assert encode(monitor, example.values) == example.data


@EVERY
def test_the_tables_make_the_same_monitor_again(name: str) -> None:
    """A log that carries the tables as JSON can be decoded anew years later."""
    monitor = load_description(name)
    again = description_from_tables(json.loads(json.dumps(monitor.as_tables())), "log")

    assert again == monitor
    assert monitor.name == name


@EVERY
def test_columns_are_quantities_in_log_order(name: str) -> None:
    """The columns are of the one vocabulary, in the order a log has them."""
    columns = load_description(name).columns

    assert list(columns) == in_log_order(set(columns))
    assert all(quantity_of(column) for column in columns)


@FRAMED
def test_every_figure_can_be_missing(name: str) -> None:
    """A sample that lacks everything but its number is sent, and read back without figures."""
    monitor = load_description(name)
    nothing = {c: math.nan for c in monitor.columns if not quantity_of(c).is_text}
    rows = Decoder(monitor).feed(encode(monitor, nothing | {"sequence": 1.0}))

    assert rows == [{"sequence": 1.0}] * ("sequence" in monitor.columns)


def test_demo_binary_read_by_hand() -> None:
    """The example frame of the binary demo monitor, byte by byte as its drawing says."""
    frame = load_description("demo-binary").examples[0].data

    assert frame[:3] == bytes([0xC3, 0x1E, len(frame)])
    assert int.from_bytes(frame[9:11], "little") - 0x8000 == -231
    assert 1700 + int.from_bytes(frame[14:16], "little") == 3321
    assert frame[46] - 40 == 18
    crc = crccheck.crc.Crc(16, 0x1021, 0x1B0D).calc(frame[:-2])
    assert crc.to_bytes(2, "little") == frame[-2:]


def test_demo_text_read_by_hand() -> None:
    """The example line of the text demo monitor, with the check of an independent library."""
    line = load_description("demo-text").examples[0].data.decode()
    body, _, check = line.removeprefix("!").strip().partition("|")

    assert "amps=-23.1" in body
    assert f"{crccheck.crc.Crc16Ibm3740.calc(body.encode()):04X}" == check
