"""What the played Modbus units have in their registers, from what the monitor shows.

Two units share the line, as on a real one: the invented one of ``demo-modbus``, and a SunSpec
device with a common model and battery model 802. The SunSpec unit tells amps with the other sign,
plus for out of the pack: its standard leaves that open.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from ..frames.fields import Values
from ..frames.polling import END_MODEL, MARKER
from ..frames.registers import RegisterMap
from ..monitors import Description, load_description

Image = dict[int, int]

_SUNSPEC_BASE: Final = 40000
_COMMON: Final = (1, 66)
_BATTERY: Final = (802, 62)
#: Powers of ten of model 802, by their register in the model: volts, cells, amps and so on.
_POWERS: Final[Mapping[int, int]] = {
    52: 0, 53: 0, 54: 0, 56: 0, 58: 0, 59: -2, 60: -3, 61: -1, 62: -1, 63: 0}


def registers_of(description: Description) -> RegisterMap:
    """The register map of a Modbus monitor; raises ``ValueError`` for another one."""
    registers = description.transport.registers
    if registers is None:
        raise ValueError(f"{description.name} has no register map")
    return registers


def mapped_image(registers: RegisterMap, values: Values) -> Image:
    """Registers of a map with fixed places.

    Raises
    ------
    ValueError
        If a figure does not fit its registers.
    """
    frame = bytearray(2 * sum(block.count for block in registers.blocks))
    for _, field in registers.fields:
        field.write_into(frame, values)
    # Turning words round is its own opposite.
    words = registers.frame_of(_words(frame))
    addresses = [block.address + n for block in registers.blocks for n in range(block.count)]
    return dict(zip(addresses, _words(words), strict=True))


def sunspec_image(registers: RegisterMap, values: Values) -> Image:
    """Registers of a SunSpec device whose battery shows these values; raises as above."""
    number, length = _BATTERY
    frame = bytearray(b"\xff" * (2 * (2 + length)))
    for at, power in {0: number, 1: length, **_POWERS}.items():
        frame[2 * at:2 * at + 2] = (power & 0xFFFF).to_bytes(2, "big")
    shown = _sunspec_values(values)
    for model, field in registers.fields:
        if model == number:
            field.write_into(frame, shown)
    common, common_length = _COMMON
    chain = (*MARKER, common, common_length, *[0] * common_length, *_words(frame), END_MODEL, 0)
    return dict(enumerate(chain, start=_SUNSPEC_BASE))


def _sunspec_values(values: Values) -> Values:
    amps, volts = values.get("current_a"), values.get("voltage_v")
    state = str(values.get("state", ""))
    charging = next((word for word in ("discharging", "charging") if word in state), "holding")
    cells = [float(value) for column, value in values.items() if column.startswith("cell_")]
    shown: dict[str, float | str] = {"state": charging, "fault": "none", "soh_pct": 100.0}
    shown |= {name: values[name] for name in ("voltage_v", "soc_pct") if name in values}
    if cells:
        shown |= {"cell_min_v": min(cells), "cell_max_v": max(cells)}
    if isinstance(amps, float | int):
        shown["current_a"] = -amps
        if isinstance(volts, float | int):
            shown["power_w"] = -amps * volts
    return shown


def _words(frame: bytes | bytearray) -> tuple[int, ...]:
    return tuple(int.from_bytes(frame[at:at + 2], "big") for at in range(0, len(frame), 2))


class Units:
    """The units of the line, by number, showing one row at a time."""

    def __init__(self, description: Description | None = None,
                 values: Values | None = None) -> None:
        """The demo's two units; or the one of another description with fixed places.

        Raises
        ------
        ValueError
            If a figure does not fit its registers, or is missing and cannot be told so.
        """
        names = ("demo-modbus", "sunspec-battery")
        is_demo = description is None or description.name in names
        described = map(load_description, names) if is_demo or description is None else [
            description]
        self._maps = [registers_of(one) for one in described]
        self._sequence = -1
        self.images: dict[int, Image] = {}
        self.show(values or {})

    def show(self, values: Values) -> None:
        """Put new figures into all registers at once; raises ``ValueError`` as above."""
        self._sequence = (self._sequence + 1) % 0x10000
        shown = {**values, "sequence": float(self._sequence)}
        self.images = {
            one.device_id: mapped_image(one, shown) if one.blocks else sunspec_image(one, values)
            for one in self._maps}
