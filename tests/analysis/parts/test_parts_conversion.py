"""Lead acid against lithium, for one vehicle."""

from __future__ import annotations

from dataclasses import replace

import pytest

from analysis.parts.conversion import Comparison, Span, Vehicle, compare, consumption_of
from analysis.parts.lead_acid import LeadBank
from analysis.parts.peukert import RatedCapacity
from tests.analysis.made_parts import SEEN, flatbed_pack

BANK = LeadBank(24, rated_ah=170.0, rated_h=20.0, mass_kg=180.0, charge_a=20.0)
CART = Vehicle(mass_kg=520.0, consumption_wh_per_km=120.0)


def compared(bank: LeadBank = BANK, vehicle: Vehicle = CART) -> Comparison:
    found = compare(bank, flatbed_pack(), vehicle)
    assert isinstance(found, Comparison)
    return found


def test_the_flatbeds_banks() -> None:
    """170 Ah of flooded lead, half of it usable, hold less than 105 Ah of iron phosphate."""
    both = compared()

    # 22 A x 51.2 V / 46.8 V = 24.07 A; 20 h x (170 / (24.07 x 20))^1.25 x 24.07 A = 131.1 Ah
    assert both.lead.usable_wh.value == pytest.approx(131.06 * 46.8 * 0.5, rel=1e-3)
    assert both.lithium.usable_wh.value == pytest.approx(105 * 51.2 * 0.85)
    assert both.lead.usable_wh.high < both.lithium.usable_wh.low


def test_weight_costs_range() -> None:
    """132 kg more on 520 kg: up to a quarter more a kilometre, and so much less range."""
    both = compared()
    light = compared(replace(BANK, mass_kg=48.0))

    assert both.lead.range_km is not None
    assert light.lead.range_km is not None
    assert light.lead.range_km.value / both.lead.range_km.value == pytest.approx(652 / 520)


def test_an_unknown_weight_is_left_out_and_said() -> None:
    """The range is then the energy over the consumption, no more."""
    both = compared(replace(BANK, mass_kg=None))

    assert both.lead.range_km is not None
    assert both.lead.range_km.value == pytest.approx(both.lead.usable_wh.value / 120.0)
    assert any("weights are not all typed" in line for line in both.arithmetic)


def test_cold_takes_more_from_lead() -> None:
    """At 0 degC: 1 / 1.405 of lead (IEEE 485), nine tenths of lithium; said, not worked in."""
    (line,) = [line for line in compared().arithmetic if "cold" in line]

    assert "0 °C lead about 71 %" in line
    assert "lithium about 90 %" in line


def test_the_spread_of_exponents_is_carried_on() -> None:
    """Published exponents disagree; two stated capacities of the same bank end that."""
    stated = compared(replace(BANK, second_ah=130.0, second_h=5.0)).lead.usable_wh

    assert compared().lead.usable_wh.low < compared().lead.usable_wh.value
    assert stated.low == stated.value == stated.high


def test_the_one_amp_convention_is_used_as_such() -> None:
    """The same bank told in the other convention gives the same energy."""
    one_amp = RatedCapacity(170.0, 20.0, 1.2).as_one_amp().one_amp_ah
    told = compared(LeadBank(24, one_amp_ah=one_amp, exponent=1.2)).lead.usable_wh

    assert told.value == pytest.approx(compared(replace(BANK, exponent=1.2)).lead.usable_wh.value)


@pytest.mark.parametrize("missing", ["capacity_ah", "mean_a"])
def test_what_is_missing_is_named(missing: str) -> None:
    """A sentence instead of a comparison."""
    found = compare(BANK, flatbed_pack(**{missing: None}), CART)

    assert isinstance(found, str)
    assert missing in found


def test_no_consumption_no_range() -> None:
    """Energy and weight stand without it."""
    both = compared(vehicle=Vehicle(mass_kg=520.0))

    assert both.lead.range_km is None
    assert both.lithium.usable_wh.value > 0


def test_a_first_consumption_comes_from_the_road_load() -> None:
    """500 kg, 0.015, 1.2 m2, 12 mph, 100 %: 42.3 Wh a mile, as in the road load's own test."""
    vehicle = Vehicle(500.0, None, 12 * 1.609344, 0.015, 1.2, 100.0)
    found = consumption_of(vehicle, flatbed_pack())

    assert found is not None
    assert found.badge == "worked out"
    assert found.value * 1.609344 == pytest.approx(42.3, abs=0.1)


def test_a_measured_consumption_outweighs_a_typed_one() -> None:
    """The person's own drives, not the brochure."""
    found = consumption_of(Vehicle(consumption_wh_per_km=50.0), flatbed_pack(SEEN))

    assert found is not None
    assert (found.value, found.badge) == (120.0, "measured")


def test_more_volts_turn_a_plain_motor_faster() -> None:
    """54.4 V against 50.6 V of lead: 8 % more, said beside the caution about brakes."""
    both = compared()

    assert any("turns +8 % faster" in line for line in both.arithmetic)
    assert any("brakes" in caution for caution in both.cautions)


def test_the_volts_of_both_sides() -> None:
    """1.75 to 2.45 V a lead cell (common practice); the pack's own lowest and highest."""
    both = compared()

    assert both.lead.volts == pytest.approx((42.0, 58.8))
    assert both.lithium.volts == pytest.approx((46.0, 58.4))


def test_the_gas_of_charging_is_told_with_its_air() -> None:
    """20 A into 24 cells: 0.22 m3/h of hydrogen, a hundred times that of air; not told, no line."""
    assert any("0.22 m³/h" in line and "22 m³/h" in line for line in compared().arithmetic)
    assert not any("hydrogen" in line for line in compared(replace(BANK, charge_a=None)).arithmetic)


@pytest.mark.parametrize(("span", "text"), [
    (Span(3067.0, 2130.0, 3585.0, "Wh"), "3.1 (2.1 to 3.6) kWh"),
    (Span(25.0, 17.3, 29.2, "km"), "25 (17 to 29) km"),
    (Span(640.0, 640.0, 640.0, "Wh"), "640 Wh"),
    (Span(4.25, 4.0, 4.5, "km"), "4.2 (4.0 to 4.5) km")])
def test_a_span_is_told_with_few_digits(span: Span, text: str) -> None:
    """A figure that may be off by a third has two of them."""
    assert span.text == text


def test_the_comparison_is_one_sentence_first() -> None:
    """Both sides with their spans."""
    assert compared().words.startswith("At this draw lead acid gives about 3.1 (2.1 to 3.6) kWh")
