"""Bluetooth SIG battery characteristics against bytes worked by hand from the standard."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from collector.frames.gatt import (
    CHARACTERISTICS,
    full_uuid,
    read_characteristic,
    sfloat,
    signed_current_a,
)

# Layouts and special values: Bluetooth SIG, GATT Specification Supplement, files
# gss/org.bluetooth.characteristic.*.yaml, 2026. The bytes are worked by hand from them; the
# integer ones agree with the general decoding library bluetooth-sig 0.6.0.
WORKED = [
    (0x2A19, "64", {"battery_level_pct": 100}),
    (0x2BED, "02 A1 00 64", {
        "battery_present": "yes", "wired_power": "no", "wireless_power": "no",
        "charge_state": "charging", "charge_level": "good", "battery_level_pct": 100,
        "faults": "none"}),
    (0x2BED, "02 C1 00 55", {
        "battery_present": "yes", "wired_power": "no", "wireless_power": "no",
        "charge_state": "discharging", "charge_level": "good", "battery_level_pct": 85,
        "faults": "none"}),
    (0x2BED, "00 A3 02", {
        "battery_present": "yes", "wired_power": "yes", "wireless_power": "no",
        "charge_state": "charging", "charge_level": "good",
        "charging_type": "constant current", "faults": "none"}),
    (0x2BED, "07 C1 00 01 00 4B 05", {
        "battery_present": "yes", "wired_power": "no", "wireless_power": "no",
        "charge_state": "discharging", "charge_level": "good", "identifier": 1,
        "battery_level_pct": 75, "service_required": "yes", "faults": "battery fault"}),
    (0x2B18, "00 0D", {"voltage_v": 52.0}),
    (0x2B18, "40 0D", {"voltage_v": 53.0}),
    (0x2B18, "FF FF", {}),
    (0x2AEE, "C4 09", {"current_size_a": 25.0}),
    (0x2AEE, "FE FF", {"current_size_a": 655.34}),
    (0x2AEE, "FF FF", {}),
    (0x2A6E, "C4 09", {"temperature_c": 25.0}),
    (0x2A6E, "18 FC", {"temperature_c": -10.0}),
    (0x2A6E, "00 80", {}),
    (0x2BEE, "00 5A 00 00", {"until_discharged_min": 90}),
    (0x2BEE, "00 FF FF FF", {}),
    (0x2BEE, "00 FE FF FF", {}),
    (0x2BEE, "02 5A 00 00 F0 00 00", {"until_discharged_min": 90, "until_recharged_min": 240}),
    (0x2BEA, "0F 5F 2C 01 19 03 00", {
        "health_pct": 95, "cycles": 300, "temperature_c": 25, "deep_discharges": 3}),
    (0x2BEA, "04 7F", {}),
    (0x2BEA, "04 80", {}),
    (0x2BEB, "03 D0 07 EC 3C", {
        "designed_cycles": 2000, "operating_min_c": -20, "operating_max_c": 60}),
    (0x2BEC, "64 00 02 48 E2 05 00 F2", {
        "replaceable": "no", "rechargeable": "yes", "designed_capacity_kwh": 5.84,
        "chemistry": "lithium ion", "nominal_voltage_v": 51.2}),
    (0x2BE9, "02", {"critical_power": "no", "immediate_service": "yes"}),
    (0x2BF0, "12 00 F2 4A 1F", {"voltage_v": 51.2, "charge_rate_w": -1820}),
    (0x2BF0, "12 FF 07 00 08", {}),
]


@pytest.mark.parametrize(("uuid", "octets", "facts"), WORKED,
                         ids=[f"{uuid:04X} {octets}" for uuid, octets, _ in WORKED])
def test_characteristic_vs_gatt_specification_supplement(
        uuid: int, octets: str, facts: dict[str, float | str]) -> None:
    """Each characteristic says what the standard's layout says; unknown figures are absent."""
    assert read_characteristic(uuid, bytes.fromhex(octets)) == facts


# Codes and two's complement exponent: ISO/IEEE 11073-20601:2014 as three independent
# implementations give them. A widely used library reads the exponent as excess-8, which turns
# 51.2 V into 5.12e9 V.
@pytest.mark.parametrize(("octets", "value"), [
    ("00 F2", 51.2), ("4A 1F", -1820.0), ("E4 08", -1820.0), ("80 E1", 3.84), ("6C F1", 36.4),
    ("FD 77", 2045e7), ("02 78", -2046e7), ("FE 07", math.inf), ("02 08", -math.inf)])
def test_sfloat_vs_ieee_11073(octets: str, value: float) -> None:
    """Exponent and mantissa are both in two's complement."""
    assert sfloat(int.from_bytes(bytes.fromhex(octets), "little")) == value


@pytest.mark.parametrize("raw", [0x07FF, 0x0800, 0x0801])
def test_sfloat_codes_that_are_no_number(raw: int) -> None:
    """Not-a-number, not-at-this-resolution and the reserved code are all missing."""
    assert math.isnan(sfloat(raw))


@pytest.mark.parametrize(("uuid", "octets"), [
    (0x2A19, "65"), (0x2A19, ""), (0x2BED, "02 A1 00"), (0x2BED, "02 A1 00 65"), (0x2B18, "00"),
    (0x2BF0, "02 00"), (0x2BEE, "00 5A 00")])
def test_reserved_and_short_values_are_refused(uuid: int, octets: str) -> None:
    """Reserved percentages and cut values are no figures."""
    with pytest.raises(ValueError, match=r"reserved|bytes"):
        read_characteristic(uuid, bytes.fromhex(octets))


@settings(derandomize=True)
@given(st.sampled_from(sorted(CHARACTERISTICS)), st.binary(max_size=24))
def test_any_bytes_are_read_or_refused(uuid: int, data: bytes) -> None:
    """Whatever a peripheral sends, there are finite facts or a ValueError, nothing else."""
    try:
        facts = read_characteristic(uuid, data)
    except ValueError:
        return
    assert all(fact if isinstance(fact, str) else math.isfinite(fact) for fact in facts.values())


@pytest.mark.parametrize(("state", "rate_w", "amps"), [
    ("discharging", 0.0, -25.0), ("charging", 0.0, 25.0), ("", -1820.0, -25.0),
    ("", 700.0, 25.0), ("idle", -3.0, -25.0), ("charging", 700.0, 25.0),
    ("", 0.0, None), ("charging", -700.0, None)])
def test_current_gets_its_direction_from_state_or_rate(
        state: str, rate_w: float, amps: float | None) -> None:
    """Electric Current is unsigned: no direction, or two, gives no amps."""
    assert signed_current_a(25.0, state, rate_w) == amps


def test_no_current_needs_no_direction() -> None:
    """Nothing flows either way."""
    assert signed_current_a(0.0, "") == 0.0


def test_uuids_in_full_vs_assigned_numbers() -> None:
    """16-bit UUIDs stand for 128-bit ones of the Bluetooth base (Assigned Numbers, 2026)."""
    assert full_uuid("180F") == "0000180f-0000-1000-8000-00805f9b34fb"
    assert full_uuid("3C9A1F60-58D2-4B07-9D1E-6B2F70C4A911").startswith("3c9a1f60-")
