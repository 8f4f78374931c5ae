"""What the played Bluetooth peripheral says, read back by the standard's decoders."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from collector.frames.gatt import read_characteristic, sfloat

pytest.importorskip("dbus_fast", reason="Bluetooth is played on Linux only")

from collector.simulator.ble_voice import gatt_values, sfloat_octets


@settings(derandomize=True)
@given(st.floats(-2e10, 2e10))
def test_sfloat_keeps_three_digits(value: float) -> None:
    """A 12-bit mantissa holds a value to one part in 400, or to its smallest step."""
    back = sfloat(int.from_bytes(sfloat_octets(value), "little"))

    assert abs(back - value) <= max(abs(value) / 400, 0.5e-8)


@pytest.mark.parametrize("value", [math.nan, math.inf, 1e12])
def test_sfloat_of_what_does_not_fit_is_missing(value: float) -> None:
    """No number is sent rather than a wrong one."""
    assert math.isnan(sfloat(int.from_bytes(sfloat_octets(value), "little")))


def test_missing_figures_are_sent_as_unknown() -> None:
    """Nothing known, nothing told, but for the percentage, which has no such code."""
    told = {uuid: read_characteristic(uuid, value) for uuid, value in gatt_values({}).items()}

    figures = {name: fact for facts in told.values() for name, fact in facts.items()
               if not isinstance(fact, str)}
    assert figures == {"battery_level_pct": 0.0}
