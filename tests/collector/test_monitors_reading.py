"""Descriptions as people write them: what is taken, and how each mistake is told."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from collector.errors import DescriptionError
from collector.frames.decoder import Decoder
from collector.frames.encoder import encode
from collector.monitors import description_from_tables, load_description

WRITTEN = """
name = "shed pack"
title = "Pack in the shed"

[ask]
send_hex = "01 03 00 00"
every_s = 2

[framing]
kind = "fixed"
start_hex = "5E"
length = 8

[check]
kind = "CRC-16/MODBUS"
order = "little"

[[field]]
name = "current_a"
at = 1
length = 2
scale = 0.1
direction = { at = 5, mask = 0x80 }

[[field]]
name = "cell_{n}_v"
at = 3
count = 2
scale = 0.01
base = { at = 1, length = 2, scale = 0.001 }

[sign]
current_a = "negative_is_discharge"
"""


def tables(**more: Any) -> dict[str, Any]:
    return {"name": "t", "framing": {"kind": "slip"},
            "field": [{"name": "soc_pct", "at": 0}]} | more


def field(**keys: Any) -> dict[str, Any]:
    return tables(field=[{"name": "current_a", "at": 0} | keys])


def test_a_description_is_read_from_a_file(tmp_path: Path) -> None:
    """What a person wrote arrives typed, with defaults where nothing was said."""
    path = tmp_path / "shed.toml"
    path.write_text(WRITTEN, encoding="utf-8")
    monitor = load_description(str(path))

    assert monitor.columns == ("current_a", "cell_01_v", "cell_02_v")
    assert monitor.ask is not None
    assert (monitor.ask.sends, monitor.ask.every_s) == ((bytes.fromhex("01030000"),), 2)
    assert (monitor.transport.baud, monitor.transport.parity) == (9600, "none")
    assert monitor.sign.current_a == "negative_is_discharge"


def test_several_requests_are_a_list() -> None:
    """In hexadecimal or as text; an empty list is none."""
    monitor = description_from_tables(tables(ask={"send_hex": ["01", "0203"], "every_s": 3}), "x")
    assert monitor.ask is not None
    assert (monitor.ask.sends, monitor.ask.step_s) == ((b"\x01", b"\x02\x03"), 1.5)

    with pytest.raises(DescriptionError, match="ask, send_text: an empty list"):
        description_from_tables(tables(ask={"send_text": [], "every_s": 3}), "x")
    with pytest.raises(DescriptionError, match="ask, send_hex: 'zz'"):
        description_from_tables(tables(ask={"send_hex": ["01", "zz"], "every_s": 3}), "x")


@pytest.mark.parametrize(("more", "silence_s"), [
    ({}, 10.0),
    ({"transport": {"period_s": 0.1}}, 0.5),
    ({"ask": {"send_text": "?", "every_s": 4}}, 20.0),
    ({"ask": {"send_text": "?", "every_s": 4}, "transport": {"silence_s": 7}}, 7.0),
])
def test_silence_follows_the_period(more: dict[str, Any], silence_s: float) -> None:
    """A link is silent after five periods, or ten seconds where no period is known."""
    assert description_from_tables(tables(**more), "t").transport.silence_s == silence_s


def test_a_direction_flag_settles_the_sign() -> None:
    """With a flag for the direction minus is out, unless the flag itself is in doubt."""
    flagged = field(direction={"at": 1})

    assert description_from_tables(flagged, "t").sign.current_a == "negative_is_discharge"
    doubted = flagged | {"sign": {"current_a": "undecided"}}
    assert description_from_tables(doubted, "t").sign.current_a == "undecided"
    assert description_from_tables(field(), "t").sign.current_a == "undecided"


def test_a_sentence_name_may_be_part_of_the_start() -> None:
    """Of several kinds of line only those that begin as described are read."""
    monitor = description_from_tables({
        "name": "t", "framing": {"kind": "line", "start_text": "PACK,"},
        "text": {"form": "comma"}, "field": [{"name": "soc_pct", "at": 0}]}, "t")

    assert Decoder(monitor).feed(b"AIR,21\nPACK,91\n") == [{"soc_pct": 91.0}]


TWO_KINDS = tables(
    framing={"kind": "length", "start_hex": "5E", "length_at": 1},
    check={"kind": "sum8"},
    field=[
        {"name": "soc_pct", "at": 3, "only": {"at": 2, "codes": [0x11]}},
        {"name": "cell_{n}_v", "count": 4, "at": 3, "length": 2, "scale": 0.001,
         "only": {"at": 2, "codes": [0x22, 0x23]}},
        {"name": "sequence", "at": 2},
    ])


def test_several_kinds_of_frame_give_each_their_own_columns() -> None:
    """A code in the frame tells which fields it has; the shorter kind is whole too."""
    monitor = description_from_tables(TWO_KINDS, "t")
    cells = {f"cell_0{n}_v": (3300 + n) / 1000 for n in range(1, 5)}
    decoder = Decoder(monitor)

    assert decoder.feed(bytes.fromhex("5E 05 11 5B CF")) == [{"soc_pct": 91.0, "sequence": 17.0}]
    assert decoder.feed(bytes.fromhex("5E 04 33 95")) == [{"sequence": 51.0}]
    # Of the first kind but too short for its field: the check is no figure.
    assert decoder.feed(bytes.fromhex("5E 04 11 73")) == [{"sequence": 17.0}]
    without_number = description_from_tables(TWO_KINDS | {"field": TWO_KINDS["field"][:2]}, "t")
    assert Decoder(without_number).feed(encode(without_number, {"soc_pct": 91} | cells)) == [
        {"soc_pct": 91.0}, cells]


@pytest.mark.parametrize(("sentence", "speed_m_s"), [
    # gpsd, www/NMEA.adoc and its test logs: 0.146 and 0.04 knots; a knot is 1852 m an hour.
    (b"$GNRMC,001031.00,A,4404.13993,N,12118.86023,W,0.146,,100117,,,A*7B\r\n", 0.0751),
    (b"$GPVTG,108.53,T,,M,0.04,N,0.07,K,A*31\r\n", 0.0206),
])
def test_sentences_of_an_open_standard_can_be_described(
    sentence: bytes, speed_m_s: float,
) -> None:
    """NMEA 0183 speed over ground is read from two kinds of sentence into one column."""
    monitor = description_from_tables(tables(
        framing={"kind": "line", "start_text": "$"}, text={"form": "comma"},
        check={"kind": "xor8", "from": 1, "digits": "hex", "mark_text": "*"},
        field=[{"name": "speed_m_s", "at": at, "scale": 0.514444,
                "only": {"at": 0, "codes": codes}}
               for at, codes in ((7, ["GNRMC", "GPRMC"]), (5, ["GPVTG"]))]), "t")

    assert Decoder(monitor).feed(sentence) == [{"speed_m_s": pytest.approx(speed_m_s, abs=5e-5)}]


# Each mistake, and every word its one line has to hold.
MISTAKES: dict[str, tuple[dict[str, Any], list[str]]] = {
    "no name": ({key: value for key, value in tables().items() if key != "name"},
                ["my.toml, name", "is missing"]),
    "no framing": ({"name": "t"}, ["framing, kind", "is missing", "line", "slip"]),
    "no field": (tables(field=[]), ["no field", "[[field]]"]),
    "unknown table": (tables(transprt={}), ["transprt", "unknown", "did you mean transport?"]),
    "unknown key": (field(scal=0.1), ["field current_a, scal", "did you mean scale?", "offset"]),
    "wrong type": (field(scale="0,1"), ["scale", "'0,1'", "a number is needed"]),
    "true for 1": (field(scale=True), ["scale", "True", "a number is needed"]),
    "not finite": (field(scale=float("inf")), ["scale", "inf", "finite"]),
    "scale 0": (field(scale=0), ["scale", "0", "1e-12 to 1e+12"]),
    "scale beyond use": (field(scale=1e300), ["scale", "1e+300", "1e-12 to 1e+12"]),
    "offset beyond use": (field(offset=1e13), ["offset", "1e+13", "up to 1e+12"]),
    "unknown quantity": (field(name="amps"), ["'amps' is no quantity", "current_a"]),
    "group in one": (field(name="cell_{n}_v"), ["count", "is missing"]),
    "too many cells": (field(name="cell_{n}_v", count=100), ["count", "100", "1 to 99"]),
    "unknown coding": (field(type="sinned"), ["type", "did you mean signed?", "bcd"]),
    "wrong length": (field(length=5), ["length", "5", "1, 2, 3, 4"]),
    "float of 2": (field(type="float", length=2), ["length", "4, 8"]),
    "torn mask": (field(mask=0b101), ["mask", "0x5", "neighbours"]),
    "wide mask": (field(mask=0x1FF), ["mask", "0 to 255"]),
    "sentinel too big": (field(missing=[256]), ["missing", "0x100", "0xff"]),
    "bcd sentinel": (field(type="bcd", missing=[100]), ["missing", "100"]),
    "no list": (field(missing=255), ["missing", "255", "a list"]),
    "overlapping group": (
        field(name="cell_{n}_v", count=2, length=2, stride=1), ["stride", "2 or more"]),
    "direction of volts": (
        field(name="voltage_v", direction={"at": 1}), ["voltage_v has no direction"]),
    "word for bit 8": (
        field(name="state", type="flags", words={"8": "x"}), ["words", "'8'", "0 to 7"]),
    "one word twice": (field(name="state", words={"1": "x", "2": "x"}), ["one word twice"]),
    "twice": (tables(field=[{"name": "soc_pct", "at": n} for n in (0, 1)]),
              ["soc_pct is described twice"]),
    "twice in one kind": (
        tables(field=[
            {"name": "soc_pct", "at": n, "only": {"at": 2, "codes": [1, n]}} for n in (0, 1)]),
        ["soc_pct is described twice"]),
    "in one kind and in all": (
        tables(field=[{"name": "soc_pct", "at": 0, "only": {"at": 2, "codes": [1]}},
                      {"name": "soc_pct", "at": 1}]), ["soc_pct is described twice"]),
    "no kind": (field(only={"at": 1}), ["only, codes", "no code"]),
    "unknown check": (tables(check={"kind": "CRC-16/MODBUZ"}), ["did you mean CRC-16/MODBUS?"]),
    "crc without width": (tables(check={"kind": "crc"}), ["width", "8, 16, 24, 32"]),
    "even more crc": (tables(check={"kind": "CRC-16/ARC", "poly": 1}), ["poly", "unknown key"]),
    "bad hex": (tables(constant=[{"at": 0, "data_hex": "5"}]), ["data_hex", "'5'", "hexadecimal"]),
    "both": (tables(constant=[{"at": 0, "data_hex": "5A", "data_text": "Z"}]), ["one of the two"]),
    "transport": (tables(transport={"kind": "serail"}), ["did you mean serial?"]),
    "baud": (tables(transport={"baud": 1}), ["baud", "50 to 4000000"]),
    "period": (tables(transport={"period_s": 0}), ["period_s", "above 0"]),
    "ask never": (tables(ask={"send_text": "?"}), ["ask, every_s", "is missing"]),
    "sign": (tables(sign={"current_a": "minus"}), ["sign, current_a", "negative_is_discharge"]),
    "unsigned with a direction": (
        field(direction={"at": 1}) | {"sign": {"current_a": "unsigned"}},
        ["sign, current_a", "'unsigned'", "negative_is_discharge, undecided"]),
    "field behind the frame": (
        tables(framing={"kind": "fixed", "start_hex": "00", "length": 2},
               check={"kind": "sum16"}), ["2 bytes", "need 3"]),
    "nothing to find": (tables(framing={"kind": "fixed", "length": 2}), ["neither start"]),
    "delimited": (tables(framing={"kind": "delimited", "end_hex": "00"}), ["start_hex"]),
    "binary line": (tables(framing={"kind": "line"}), ["add a table [text]"]),
    "comma by key": (tables(text={"form": "comma"}, field=[{"name": "soc_pct", "key": "q"}]),
                     ["field soc_pct, at", "is missing"]),
    "group by one key": (
        tables(text={"form": "json"}, field=[{"name": "temp_{n}_c", "key": "t", "count": 2}]),
        ["key", "{n}"]),
    "no separator": (tables(text={"form": "comma", "separator": ""}), ["separator"]),
    "example": (tables(example=[{"heard_hex": "00", "values": {"soc_pct": [1]}}]),
                ["values, soc_pct", "a number or words"]),
}


@pytest.mark.parametrize("mistake", MISTAKES)
def test_a_mistake_is_told_in_one_line(mistake: str) -> None:
    """File, key, what was found and what is allowed stand in one line."""
    wrong, words = MISTAKES[mistake]
    with pytest.raises(DescriptionError) as caught:
        description_from_tables(wrong, "my.toml")

    line = str(caught.value)
    assert line.startswith("my.toml")
    assert "\n" not in line
    assert [word for word in words if word not in line] == []


def no_file(folder: Path) -> str:
    return str(folder / "none.toml")


def no_toml(folder: Path) -> str:
    (folder / "bad.toml").write_text("name = \n", encoding="utf-8")
    return str(folder / "bad.toml")


def no_text(folder: Path) -> str:
    (folder / "bytes.toml").write_bytes(b"\xff\xfe")
    return str(folder / "bytes.toml")


@pytest.mark.parametrize(("make", "words"), [
    (no_file, "no such monitor description — built in: "),
    (no_toml, "not TOML: "), (no_text, "not TOML: "), (str, "cannot be read"),
    (lambda _folder: "demo-txt", "did you mean demo-text?"),
])
def test_a_file_that_cannot_be_read_is_told(
    tmp_path: Path, make: Callable[[Path], str], words: str,
) -> None:
    """No file, no TOML, a folder, a misspelt name: each says what to do."""
    with pytest.raises(DescriptionError) as caught:
        load_description(make(tmp_path))

    assert words in str(caught.value)
