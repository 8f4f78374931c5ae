"""The demo's Bluetooth peripherals: what the monitor shows, as characteristics and as frames."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

from ..frames import gatt
from ..frames.encoder import encode
from ..frames.fields import Values
from ..monitors import Description
from ..monitors.schema import Peripheral
from .bluez_peer import BluezPeer
from .played_peripheral import PlayedCharacteristic, PlayedPeripheral

_ADDRESS: Final = "D0:5E:7A:11:22:33"


def sfloat_octets(value: float) -> bytes:
    """A 16-bit medical float with the smallest step that holds the value; NaN where there is none.

    Rounded to its 12-bit mantissa: above 20.45 the step is 0.1.
    """
    for exponent in range(-8, 8):
        mantissa = round(value * 10.0**-exponent) if math.isfinite(value) else 4096
        if abs(mantissa) <= 2045:
            return ((exponent & 0xF) << 12 | mantissa & 0xFFF).to_bytes(2, "little")
    return b"\xff\x07"


def _unsigned(value: float, length: int, step: float, unknown: int) -> bytes:
    raw = round(value / step) if math.isfinite(value) else unknown
    return max(0, min(raw, (1 << 8 * length) - 1)).to_bytes(length, "little")


def _whole_celsius(value: float) -> bytes:
    """-128 reads as "below -127" and so as no temperature."""
    return (round(value) if math.isfinite(value) else -128).to_bytes(1, "little", signed=True)


def gatt_values(values: Values) -> dict[int, bytes]:
    """The standard characteristics that say these values; unknown ones are sent as unknown."""
    def figure(column: str) -> float:
        value = values.get(column)
        return float(value) if isinstance(value, int | float) else math.nan

    amps, volts, percent = figure("current_a"), figure("voltage_v"), figure("soc_pct")
    level = _unsigned(percent, 1, 1.0, 0)
    hours = figure("time_left_h")
    temp_c = figure("temp_1_c")
    told: Mapping[int, bytes] = {
        gatt.BATTERY_LEVEL: level,
        gatt.LEVEL_STATUS: b"\x02" + _power_state(amps).to_bytes(2, "little") + level,
        gatt.ENERGY_STATUS: b"\x12" + sfloat_octets(volts) + sfloat_octets(volts * amps),
        gatt.TIME_STATUS: b"\x00" + _unsigned(hours * 60, 3, 1.0, 0xFFFFFF),
        gatt.HEALTH_STATUS: b"\x04" + _whole_celsius(temp_c),
        gatt.VOLTAGE: _unsigned(volts, 2, 1 / 64, 0xFFFF),
        gatt.ELECTRIC_CURRENT: _unsigned(abs(amps), 2, 0.01, 0xFFFF),
        gatt.TEMPERATURE: (round(temp_c * 100) if math.isfinite(temp_c) else -0x8000).to_bytes(
            2, "little", signed=True),
    }
    return dict(told)


def _power_state(amps: float) -> int:
    """Battery present, level good, and charging, discharging or neither."""
    charge_state = 1 if amps > 0 else 2 if amps < 0 else 3
    return 1 | charge_state << 5 | 1 << 7


class BleVoice:
    """A described peripheral, played by a Bluetooth stand-in on the bus at ``bus_address``.

    It shows ``values`` from the start; begin and end it with ``peer``.
    """

    def __init__(self, description: Description, bus_address: str, values: Values) -> None:
        peripheral = description.transport.peripheral
        if peripheral is None:
            raise ValueError(f"{description.name} is not heard over Bluetooth")
        self._description = description
        self._peripheral: Peripheral = peripheral
        self._values = values
        self._sequence = -1
        self._is_mute = False
        self._copies = 1
        self.peer = BluezPeer(bus_address, PlayedPeripheral(
            peripheral.name or "packhand demo", _ADDRESS, peripheral.service,
            self._characteristics()))
        self.peer.on_write = self._answer

    def _characteristics(self) -> list[PlayedCharacteristic]:
        peripheral = self._peripheral
        if not peripheral.notify:
            told = gatt_values(self._values)
            return [PlayedCharacteristic(f"{uuid:04x}", told[uuid])
                    for uuid in peripheral.characteristics]
        return [PlayedCharacteristic(peripheral.notify, flags=("notify",)),
                PlayedCharacteristic(peripheral.write, flags=("write", "write-without-response"))]

    def show(self, values: Values) -> None:
        """Tell a new row: by notification, or when next asked."""
        self._values = values
        if self._is_mute:
            return
        if not self._peripheral.notify:
            told = gatt_values(values)
            copies, self._copies = self._copies, 1
            for uuid in self._peripheral.characteristics * copies:
                self.peer.put(f"{uuid:04x}", told[uuid])
        elif self._description.ask is None:
            self.peer.stream(self._peripheral.notify, self._frame())

    def begin(self, fault: str) -> None:
        """Let something go wrong, by its name in ``stage.kinds_for``."""
        match fault:
            case "unplug":
                self.peer.troubles.is_away = True
                self.peer.drop()
            case "off":
                self.peer.switch(is_on=False)
            case "pause":
                self._is_mute = True
            case "twice":
                self._copies = 2
            case "garbage" | "torn" | "wrong-check":
                self._spoil()

    def end(self, fault: str) -> None:
        """Mend what lasted."""
        match fault:
            case "unplug":
                self.peer.troubles.is_away = False
            case "off":
                self.peer.switch(is_on=True)
            case "pause":
                self._is_mute = False

    def _spoil(self) -> None:
        """Say something that is no figure: a reserved percentage, or half a frame."""
        if self._peripheral.notify:
            self.peer.stream(self._peripheral.notify, self._frame()[:20])
        else:
            self.peer.put(f"{gatt.BATTERY_LEVEL:04x}", b"\x65")

    def _frame(self) -> bytes:
        self._sequence = (self._sequence + 1) % 0x10000
        columns = self._description.columns
        shown = {name: value for name, value in self._values.items() if name in columns}
        return encode(self._description, {**shown, "sequence": float(self._sequence)})

    def _answer(self, _uuid: str, request: bytes) -> None:
        """Runs in the stand-in's thread, behind the reply to the writing."""
        ask = self._description.ask
        if ask is not None and request in ask.sends and not self._is_mute:
            copies, self._copies = self._copies, 1
            self.peer.stream_soon(self._peripheral.notify, self._frame() * copies)
