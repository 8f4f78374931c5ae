"""Figures to the bytes a monitor would send, as a description says. For the simulator."""

from __future__ import annotations

from typing import TYPE_CHECKING

from .fields import Values
from .stuffing import COBS_END, SLIP_END, cobs_encoded, slip_encoded

if TYPE_CHECKING:
    from ..monitors.schema import Description
    from .text import Form


def encode(description: Description, values: Values) -> bytes:
    """One frame as it goes on the wire, delimiters included.

    Amps are in the monitor's own sign. A column that is absent or NaN is sent as missing.

    Raises
    ------
    ValueError
        If a figure does not fit its field, or is missing and the field cannot say so.
    """
    form = description.form
    frame = _text_frame(description, form, values) if form else _binary_frame(description, values)
    end = description.framing.end if description.framing.kind == "delimited" else b""
    frame[len(frame) - len(end):] = end
    if description.check:
        description.check.put(frame)
    return _wrapped(description, bytes(frame))


def _text_frame(description: Description, form: Form, values: Values) -> bytearray:
    tokens: dict[str, str] = {}
    for part in description.text_fields:
        part.write_into(tokens, values)
    return bytearray(
        description.framing.start + form.line(tokens).encode() + bytes(description.tail))


def _binary_frame(description: Description, values: Values) -> bytearray:
    framing = description.framing
    frame = bytearray(framing.length or _body_length(description) + description.tail)
    frame[:len(framing.start)] = framing.start
    for constant in description.constants:
        frame[constant.at:constant.at + len(constant.data)] = constant.data
    if framing.kind == "length":
        framing.length_place.write(frame, len(frame) - framing.length_adds)
    for part in description.fields:
        part.write_into(frame, values)
    return frame


def _body_length(description: Description) -> int:
    """Bytes before the tail."""
    constants = [constant.at + len(constant.data) for constant in description.constants]
    return max([description.body, len(description.framing.start), *constants])


def _wrapped(description: Description, frame: bytes) -> bytes:
    """The frame between its delimiters; COBS and SLIP send one in front too, to end junk."""
    framing = description.framing
    if framing.kind == "cobs":
        return COBS_END + cobs_encoded(frame) + COBS_END
    if framing.kind == "slip":
        return SLIP_END + slip_encoded(frame) + SLIP_END
    return frame + (framing.end if framing.kind == "line" else b"")
