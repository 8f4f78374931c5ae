"""What Hypothesis draws for frames: one small monitor for every kind of framing, its readings."""

from __future__ import annotations

from typing import Any, Final

from hypothesis import strategies as st

from collector.monitors import Description, description_from_tables

#: Framings that a damaged byte costs one frame at most, each with how its frames are told apart.
FRAMINGS: Final[dict[str, dict[str, Any]]] = {
    "line": {"kind": "line", "start_text": "!"},
    "delimited": {"kind": "delimited", "start_hex": "3C", "end_hex": "3E 0A"},
    "fixed": {"kind": "fixed", "start_hex": "C3 1E", "length": 18},
    "length": {"kind": "length", "start_hex": "C3", "length_at": 1, "max_length": 24},
    "cobs": {"kind": "cobs"},
    "slip": {"kind": "slip"},
}

_CRC: Final = {"kind": "CRC-32/ISO-HDLC", "order": "little"}
_TEXT_FIELDS: Final = [
    {"name": "voltage_v", "key": "v", "decimals": 2},
    {"name": "current_a", "key": "a", "decimals": 1},
    {"name": "sequence", "key": "n", "decimals": 0},
]
_BINARY_FIELDS: Final = [
    {"name": "voltage_v", "at": 4, "length": 2, "scale": 0.01},
    {"name": "current_a", "at": 6, "length": 3, "scale": 0.1, "type": "offset-binary"},
    {"name": "sequence", "at": 10, "length": 4},
]


def small_monitor(kind: str) -> Description:
    """A monitor with volts, amps and a running number, framed as ``FRAMINGS[kind]``."""
    is_text = kind == "line"
    return description_from_tables({
        "name": f"small-{kind}",
        "framing": FRAMINGS[kind],
        "check": _CRC | ({"digits": "hex", "mark_text": "*"} if is_text else {}),
        "field": _TEXT_FIELDS if is_text else _BINARY_FIELDS,
    } | ({"text": {"form": "key=value", "separator": " "}} if is_text else {}), f"small-{kind}")


@st.composite
def readings(draw: st.DrawFn) -> dict[str, float | str]:
    """What a small monitor says once, on its own grid of steps."""
    return {
        "voltage_v": draw(st.integers(0, 65535)) / 100,
        "current_a": draw(st.integers(-(1 << 23), (1 << 23) - 1)) / 10,
        "sequence": float(draw(st.integers(0, (1 << 32) - 1))),
    }


def runs(least: int = 1) -> st.SearchStrategy[list[dict[str, float | str]]]:
    """A few readings one after the other, no two alike."""
    return st.lists(readings(), min_size=least, max_size=6, unique_by=lambda r: r["sequence"])


@st.composite
def pieces_of(draw: st.DrawFn, stream: bytes) -> list[bytes]:
    """The stream cut anywhere, empty pieces included."""
    cuts = draw(st.lists(st.integers(0, len(stream)), max_size=12).map(sorted))
    ends = [*cuts, len(stream)]
    return [stream[a:b] for a, b in zip([0, *cuts], ends, strict=True)]
