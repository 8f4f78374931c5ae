"""The glossary: every quantity named, numbers as people read them."""

from __future__ import annotations

import math

import pytest

from collector.record import QUANTITIES
from dashboard.quantities import (
    NBSP,
    NO_RECORD,
    SHOWN,
    Units,
    consumption,
    number,
    scale,
    shown,
    unbroken,
)
from dashboard.theme import LIGHT


def test_every_quantity_is_in_the_glossary() -> None:
    """A quantity without a label would show its column name to a person."""
    assert set(SHOWN) == set(QUANTITIES)
    assert all(entry.label and entry.help.endswith(".") for entry in SHOWN.values())
    assert {entry.role for entry in SHOWN.values()} <= set(LIGHT)


@pytest.mark.parametrize(("value", "digits", "text"), [
    (-23.04, 1, "\u221223.0"), (0.04, 1, "0.0"), (-0.04, 1, "0.0"), (52.314, 2, "52.31"),
    (-0.5, 0, "0"), (-1.5, 0, "\u22122"),
])
def test_numbers_have_a_true_minus(value: float, digits: int, text: str) -> None:
    """The minus is a minus sign, and what rounds to zero has none."""
    assert number(value, digits) == text


def test_missing_is_said() -> None:
    """A missing figure reads "no record", never 0."""
    assert shown("voltage_v").text(math.nan) == NO_RECORD
    assert shown("cell_03_v").text(3.3) == f"3.300{NBSP}V"


@pytest.mark.parametrize(("column", "units", "value", "text"), [
    ("speed_m_s", Units(), 10.0, f"36.0{NBSP}km/h"),
    ("speed_m_s", Units("mi"), 0.44704, f"1.0{NBSP}mph"),
    ("distance_m", Units("mi"), 1609.344, f"1.00{NBSP}mi"),
    ("temp_1_c", Units("km", "F"), 100.0, f"212.0{NBSP}°F"),
    ("ambient_c", Units("km", "F"), 0.0, f"32.0{NBSP}°F"),
])
def test_units_vs_nist(column: str, units: Units, value: float, text: str) -> None:
    """NIST SP 811 (2008), appendix B.8: 1 mile = 1609.344 m, 1 mph = 0.44704 m/s,
    t/°F = 1.8 t/°C + 32."""
    assert shown(column, units).text(value) == text


@pytest.mark.parametrize(("unit", "units", "kept", "unit_told", "told"), [
    ("kg", Units(mass="lb"), 0.45359237, "lb", 1.0),
    ("m", Units("mi"), 0.3048, "ft", 1.0),
    ("Nm", Units(torque="lbf-ft"), 1.355818, "lbf·ft", 1.0),
    ("Nm", Units(torque="lbf-in"), 0.1129848, "lbf·in", 1.0),
    ("K", Units(temperature="F"), 5.0, "°F", 9.0),
    ("Wh/km", Units("mi"), 100.0, "Wh/mi", 160.9344),
    ("kg", Units("mi", "F"), 7.0, "kg", 7.0),
])
def test_each_unit_follows_its_own_choice(unit: str, units: Units, kept: float, unit_told: str,
                                          told: float) -> None:
    """NIST SP 811 (2008), appendix B.8: 1 lb, 1 ft, 1 lbf ft and 1 lbf in as kept; and back."""
    way = scale(unit, units)

    assert way.unit == unit_told
    assert way.told(kept) == pytest.approx(told, rel=1e-6)
    assert way.kept(way.told(kept)) == pytest.approx(kept)


def test_consumption_follows_the_distance_unit() -> None:
    """100 Wh/km is 161 Wh/mi (from 1 mi = 1.609344 km)."""
    assert consumption(100.0, Units()) == f"100{NBSP}Wh/km"
    assert consumption(100.0, Units("mi")) == f"161{NBSP}Wh/mi"


def test_unknown_units_stay_metric() -> None:
    """A word in logbook.toml that means nothing changes nothing."""
    assert Units.of({"units": {"distance": "furlong"}}) == Units()
    assert Units.of({"units": {"distance": "mi", "temperature": "F"}}) == Units("mi", "F")
    assert Units.of({}) == Units.of({"units": "km"}) == Units()


def test_no_line_ends_between_number_and_unit() -> None:
    """Numbers stay with their units; other spaces may break."""
    assert unbroken("23 A out, 3 h 10 left, 91 %, cell 6, 2.6 ± 2.3 Ah") == (
        f"23{NBSP}A out, 3{NBSP}h{NBSP}10 left, 91{NBSP}%, cell 6, 2.6{NBSP}±{NBSP}2.3{NBSP}Ah")


def test_units_have_their_sign() -> None:
    """Documents spell milliohms in plain letters, the screens do not."""
    assert unbroken("0.12 mohm more") == f"0.12{NBSP}mΩ more"
