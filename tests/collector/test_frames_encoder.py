"""Frames as they go on the wire."""

from __future__ import annotations

import json
from typing import Any

import pytest

from collector.frames.decoder import Decoder
from collector.frames.encoder import encode
from collector.monitors import description_from_tables


def monitor(**tables: Any) -> Any:
    return description_from_tables({"name": "t", **tables}, "t")


def test_a_frame_is_laid_out_as_described() -> None:
    """Start, length, constants, fields and check each stand in their place."""
    described = monitor(
        byte_order="little",
        framing={"kind": "length", "start_hex": "C3 1E", "length_at": 2, "length_adds": 3},
        check={"kind": "sum8", "from": 2},
        constant=[{"at": 3, "data_hex": "5B"}, {"at": 7, "data_hex": "00"}],
        field=[{"name": "voltage_v", "at": 4, "length": 2, "scale": 0.01},
               {"name": "soc_pct", "at": 6}])

    assert encode(described, {"voltage_v": 53.12, "soc_pct": 91}).hex(" ") == (
        "c3 1e 06 5b c0 14 5b 00 90")


def test_a_fixed_frame_has_its_length_and_its_check_at_its_place() -> None:
    """Bytes that nothing describes are zero; the check need not be last."""
    described = monitor(
        framing={"kind": "fixed", "start_hex": "7B", "length": 6},
        check={"kind": "xor8", "at": 2, "from": 3},
        field=[{"name": "soc_pct", "at": 3}])
    frame = encode(described, {"soc_pct": 91})

    assert frame.hex(" ") == "7b 00 5b 5b 00 00"
    assert Decoder(described).feed(frame) == [{"soc_pct": 91.0}]


@pytest.mark.parametrize("framing", [
    {"kind": "delimited", "start_text": "<", "end_text": ">"},
    {"kind": "line", "start_text": "<"},
    {"kind": "slip"},
    {"kind": "cobs"},
])
@pytest.mark.parametrize("check", [
    {}, {"check": {"kind": "sum8-twos", "digits": "hex", "mark_text": "*"}},
])
@pytest.mark.parametrize("form", ["comma", "key=value", "json"])
def test_text_survives_in_every_framing(
    framing: dict[str, str], check: dict[str, Any], form: str,
) -> None:
    """Any form of text goes through any framing that takes text, with a check and without."""
    place = {"at": 1} if form == "comma" else {"key": "a"}
    described = monitor(framing=framing, text={"form": form}, **check,
                        field=[{"name": "current_a", "decimals": 1, **place}])
    frame = encode(described, {"current_a": -23.1})

    assert Decoder(described).feed(frame + frame) == [{"current_a": -23.1}] * 2


def test_json_groups_are_lists() -> None:
    """Cells counted from 0 go out as a JSON list."""
    described = monitor(
        framing={"kind": "line"}, text={"form": "json"},
        field=[{"name": "cell_{n}_v", "key": "pack.cells.{n}", "key_first": 0, "count": 2}])
    line = encode(described, {"cell_01_v": 3.321, "cell_02_v": 3.319})

    assert json.loads(line) == {"pack": {"cells": [3.321, 3.319]}}
    assert Decoder(described).feed(line) == [{"cell_01_v": 3.321, "cell_02_v": 3.319}]
