"""The standard battery characteristics of Bluetooth LE, from bytes to figures.

Layouts are those of the Bluetooth SIG's Assigned Numbers and GATT Specification Supplement [1]_.
All integers are little-endian. A figure that the peripheral marks as unknown is absent. Charge
Rate is the only signed one among them: positive is charging. *Electric Current is unsigned*; its
direction comes from elsewhere, see ``signed_current_a``.

.. [1] Bluetooth SIG, GATT Specification Supplement, 2026, https://www.bluetooth.com/specifications
.. [2] ISO/IEEE 11073-20601:2014, 16-bit SFLOAT, which the SIG calls medfloat16.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

#: Figures and words of one characteristic by name, units in the names; unknown ones are absent.
Facts = dict[str, "float | str"]

BATTERY_LEVEL: Final = 0x2A19
TEMPERATURE: Final = 0x2A6E
ELECTRIC_CURRENT: Final = 0x2AEE
VOLTAGE: Final = 0x2B18
CRITICAL_STATUS: Final = 0x2BE9
HEALTH_STATUS: Final = 0x2BEA
HEALTH_INFORMATION: Final = 0x2BEB
INFORMATION: Final = 0x2BEC
LEVEL_STATUS: Final = 0x2BED
TIME_STATUS: Final = 0x2BEE
ENERGY_STATUS: Final = 0x2BF0

#: SFLOAT codes that are no number; 0x0800 is "not at this resolution". [2]_
_SFLOAT_SPECIAL: Final[Mapping[int, float]] = {
    0x07FF: math.nan, 0x0800: math.nan, 0x0801: math.nan, 0x07FE: math.inf, 0x0802: -math.inf}

#: What a 16-bit UUID has behind it in its 128-bit form. Bluetooth Core Specification, 3 B 2.5.1.
_UUID_TAIL: Final = "-0000-1000-8000-00805f9b34fb"

_POWERED: Final = ("no", "yes", "", "")
_CHARGE_STATES: Final = ("", "charging", "discharging", "idle")
_LEVELS: Final = ("", "good", "low", "critical")
_CHARGING_TYPES: Final = (
    "", "constant current", "constant voltage", "trickle", "float", "", "", "")
_FAULTS: Final = {12: "battery fault", 13: "external power fault", 14: "other fault"}
_CHEMISTRIES: Final[Mapping[int, str]] = {
    1: "alkaline", 2: "lead acid", 3: "lithium iron disulfide", 4: "lithium manganese dioxide",
    5: "lithium ion", 6: "lithium polymer", 7: "nickel oxyhydroxide", 8: "nickel cadmium",
    9: "nickel metal hydride", 10: "silver zinc", 11: "zinc chloride", 12: "zinc air",
    13: "zinc carbon", 255: "other"}


def full_uuid(uuid: str) -> str:
    """A UUID in its 128-bit form, in lower case; a 16-bit one has four digits."""
    return f"0000{uuid.lower()}{_UUID_TAIL}" if len(uuid) == 4 else uuid.lower()


def sfloat(raw: int) -> float:
    """A 16-bit medical float, from its bits. [2]_

    Bits 15 to 12 are the exponent of ten, bits 11 to 0 the mantissa, both in two's complement.
    NaN where the bits say "no number".
    """
    if raw in _SFLOAT_SPECIAL:
        return _SFLOAT_SPECIAL[raw]
    mantissa = (raw & 0x7FF) - (raw & 0x800)
    exponent = (raw >> 12 & 0x7) - (raw >> 12 & 0x8)
    # Dividing by a whole power of ten gives the double nearest to the decimal meant.
    return mantissa * 10.0**exponent if exponent >= 0 else mantissa / 10**-exponent


class _Octets:
    """Takes values off the front of a characteristic's bytes."""

    def __init__(self, data: bytes) -> None:
        self._data = data
        self._at = 0

    def unsigned(self, length: int) -> int:
        stop = self._at + length
        if stop > len(self._data):
            raise ValueError(f"{len(self._data)} bytes, at least {stop} are needed")
        raw = int.from_bytes(self._data[self._at:stop], "little")
        self._at = stop
        return raw

    def signed(self, length: int) -> int:
        raw, top = self.unsigned(length), 1 << (8 * length - 1)
        return raw - ((raw & top) << 1)

    def sfloat(self) -> float:
        return sfloat(self.unsigned(2))


def _battery_level(octets: _Octets) -> Facts:
    return {"battery_level_pct": _percent(octets.unsigned(1))}


def _percent(raw: int) -> float:
    if raw > 100:
        raise ValueError(f"{raw} % is reserved")
    return float(raw)


def _level_status(octets: _Octets) -> Facts:
    flags, power = octets.unsigned(1), octets.unsigned(2)
    faults = [word for bit, word in _FAULTS.items() if power >> bit & 1]
    facts: Facts = {
        "battery_present": "yes" if power & 1 else "no",
        "wired_power": _POWERED[power >> 1 & 3],
        "wireless_power": _POWERED[power >> 3 & 3],
        "charge_state": _CHARGE_STATES[power >> 5 & 3],
        "charge_level": _LEVELS[power >> 7 & 3],
        "charging_type": _CHARGING_TYPES[power >> 9 & 7],
    }
    if flags & 1:
        facts["identifier"] = float(octets.unsigned(2))
    if flags & 2:
        facts["battery_level_pct"] = _percent(octets.unsigned(1))
    if flags & 4:
        status = octets.unsigned(1)
        facts["service_required"] = ("no", "yes", "", "")[status & 3]
        if status & 4 and "battery fault" not in faults:
            faults.insert(0, "battery fault")
    facts["faults"] = "; ".join(faults) or "none"
    return facts


def _time_status(octets: _Octets) -> Facts:
    flags = octets.unsigned(1)
    names = ["until_discharged_min"]
    names += ["until_discharged_standby_min"] if flags & 1 else []
    names += ["until_recharged_min"] if flags & 2 else []
    # 0xFFFFFF is unknown, 0xFFFFFE is longer than can be told: neither is a time.
    return {name: float(minutes) if (minutes := octets.unsigned(3)) < 0xFFFFFE else math.nan
            for name in names}


def _energy_status(octets: _Octets) -> Facts:
    names = ("external_power_w", "voltage_v", "available_energy_kwh", "available_capacity_kwh",
             "charge_rate_w", "energy_at_last_charge_kwh")
    flags = octets.unsigned(1)
    return {name: octets.sfloat() for bit, name in enumerate(names) if flags >> bit & 1}


def _health_status(octets: _Octets) -> Facts:
    flags = octets.unsigned(1)
    facts: Facts = {}
    if flags & 1:
        facts["health_pct"] = _percent(octets.unsigned(1))
    if flags & 2:
        facts["cycles"] = float(octets.unsigned(2))
    if flags & 4:
        facts["temperature_c"] = _whole_celsius(octets.signed(1))
    if flags & 8:
        facts["deep_discharges"] = float(octets.unsigned(2))
    return facts


def _whole_celsius(raw: int) -> float:
    """127 means "above 126" and -128 "below -127": no temperature that can be logged."""
    return float(raw) if -128 < raw < 127 else math.nan


def _health_information(octets: _Octets) -> Facts:
    flags = octets.unsigned(1)
    facts: Facts = {}
    if flags & 1:
        facts["designed_cycles"] = float(octets.unsigned(2))
    if flags & 2:
        facts["operating_min_c"] = _whole_celsius(octets.signed(1))
        facts["operating_max_c"] = _whole_celsius(octets.signed(1))
    return facts


def _information(octets: _Octets) -> Facts:
    flags, features = octets.unsigned(2), octets.unsigned(1)
    facts: Facts = {"replaceable": "yes" if features & 1 else "no",
                    "rechargeable": "yes" if features & 2 else "no"}
    for bit, name in enumerate(("made_days", "expires_days")):
        if flags >> bit & 1:
            facts[name] = float(octets.unsigned(3))
    for bit, name in enumerate(("designed_capacity_kwh", "low_energy_kwh",
                                "critical_energy_kwh"), start=2):
        if flags >> bit & 1:
            facts[name] = octets.sfloat()
    if flags & 1 << 5:
        facts["chemistry"] = _CHEMISTRIES.get(octets.unsigned(1), "")
    if flags & 1 << 6:
        facts["nominal_voltage_v"] = octets.sfloat()
    if flags & 1 << 7:
        facts["aggregation_group"] = float(octets.unsigned(1))
    return facts


def _critical_status(octets: _Octets) -> Facts:
    raw = octets.unsigned(1)
    return {"critical_power": "yes" if raw & 1 else "no",
            "immediate_service": "yes" if raw & 2 else "no"}


def _voltage(octets: _Octets) -> Facts:
    raw = octets.unsigned(2)
    return {"voltage_v": math.nan if raw == 0xFFFF else raw / 64}


def _electric_current(octets: _Octets) -> Facts:
    raw = octets.unsigned(2)
    return {"current_size_a": math.nan if raw == 0xFFFF else raw / 100}


def _temperature(octets: _Octets) -> Facts:
    raw = octets.signed(2)
    return {"temperature_c": math.nan if raw == -0x8000 else raw / 100}


@dataclass(frozen=True, slots=True)
class Characteristic:
    """One standard characteristic: its name, its reading, and where its facts are logged."""

    title: str
    read: Callable[[_Octets], Facts]
    #: Facts that a log holds, by the quantity column.
    columns: Mapping[str, str]


#: The characteristics packhand reads, by their 16-bit UUID.
CHARACTERISTICS: Final[Mapping[int, Characteristic]] = {
    BATTERY_LEVEL: Characteristic("Battery Level", _battery_level,
                                  {"soc_pct": "battery_level_pct"}),
    LEVEL_STATUS: Characteristic("Battery Level Status", _level_status, {
        "soc_pct": "battery_level_pct", "state": "charge_state", "fault": "faults"}),
    TIME_STATUS: Characteristic("Battery Time Status", _time_status,
                                {"time_left_h": "until_discharged_min"}),
    ENERGY_STATUS: Characteristic("Battery Energy Status", _energy_status, {
        "voltage_v": "voltage_v", "power_w": "charge_rate_w"}),
    HEALTH_STATUS: Characteristic("Battery Health Status", _health_status, {
        "soh_pct": "health_pct", "cycles": "cycles", "temp_1_c": "temperature_c"}),
    HEALTH_INFORMATION: Characteristic("Battery Health Information", _health_information, {}),
    INFORMATION: Characteristic("Battery Information", _information, {}),
    CRITICAL_STATUS: Characteristic("Battery Critical Status", _critical_status, {}),
    VOLTAGE: Characteristic("Voltage", _voltage, {"voltage_v": "voltage_v"}),
    ELECTRIC_CURRENT: Characteristic("Electric Current", _electric_current,
                                     {"current_a": "current_size_a"}),
    TEMPERATURE: Characteristic("Temperature", _temperature, {"temp_1_c": "temperature_c"}),
}


def read_characteristic(uuid: int, data: bytes) -> Facts:
    """What a characteristic says; bytes behind the known ones belong to a newer standard.

    Raises
    ------
    KeyError
        If the characteristic is not one of ``CHARACTERISTICS``.
    ValueError
        If the bytes are too few or reserved.
    """
    facts = CHARACTERISTICS[uuid].read(_Octets(data))
    return {name: fact for name, fact in facts.items()
            if (fact if isinstance(fact, str) else math.isfinite(fact))}


def signed_current_a(size_a: float, charge_state: str, charge_rate_w: float = 0.0) -> float | None:
    """Electric Current with its direction: positive into the pack. [A]

    The direction is that of the power state; where that does not know, that of the charge rate.
    ``None`` where neither knows, or where they contradict each other, as they may for a moment
    while the direction changes.
    """
    ways = {{"charging": 1, "discharging": -1}.get(charge_state, 0),
            (charge_rate_w > 0) - (charge_rate_w < 0)} - {0}
    if size_a == 0:
        return 0.0
    return size_a * ways.pop() if len(ways) == 1 else None
