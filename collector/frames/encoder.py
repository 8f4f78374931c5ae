"""Figures to the bytes a monitor would send, as a description says. For the simulator."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, TypeVar

from .fields import Field, Only, Values
from .stuffing import COBS_END, SLIP_END, cobs_encoded, slip_encoded
from .text import Form, TextField, TextOnly

if TYPE_CHECKING:
    from ..monitors.schema import Description

Part = TypeVar("Part", Field, TextField)


def encode(description: Description, values: Values) -> bytes:
    """One frame as it goes on the wire, delimiters included; one of each kind if it has several.

    Amps are in the monitor's own sign. A column that is absent or NaN is sent as missing.

    Raises
    ------
    ValueError
        If a figure does not fit its field, or is missing and the field cannot say so.
    """
    if form := description.form:
        frames = [frame for parts in _by_kind(description.text_fields)
                  for frame in _text_frames(description, form, parts, values)]
    else:
        frames = [_binary_frame(description, parts, values)
                  for parts in _by_kind(description.fields)]
    return b"".join(_finished(description, frame) for frame in frames)


def _by_kind(parts: Sequence[Part]) -> list[list[Part]]:
    """The fields of each kind of frame, those that every kind has among them."""
    kinds = {part.codes for part in parts if isinstance(part, Only | TextOnly)}
    return [[part for part in parts if getattr(part, "codes", kind) == kind]
            for kind in sorted(kinds) or [()]]


def _finished(description: Description, frame: bytearray) -> bytes:
    end = description.framing.end if description.framing.kind == "delimited" else b""
    frame[len(frame) - len(end):] = end
    if description.check:
        description.check.put(frame)
    return _wrapped(description, bytes(frame))


def _text_frames(description: Description, form: Form, parts: Sequence[TextField],
                 values: Values) -> list[bytearray]:
    tokens: dict[str, str] = {}
    for part in parts:
        part.write_into(tokens, values)
    start, tail = description.framing.start, bytes(description.tail)
    return [bytearray(start + line.encode() + tail) for line in form.lines(tokens)]


def _binary_frame(description: Description, parts: Sequence[Field],
                  values: Values) -> bytearray:
    framing = description.framing
    frame = bytearray(framing.length or _body_length(description, parts) + description.tail)
    frame[:len(framing.start)] = framing.start
    for constant in description.constants:
        frame[constant.at:constant.at + len(constant.data)] = constant.data
    if framing.kind == "length":
        framing.length_place.write(frame, len(frame) - framing.length_adds)
    for part in parts:
        part.write_into(frame, values)
    return frame


def _body_length(description: Description, parts: Sequence[Field]) -> int:
    """Bytes before the tail."""
    ends = [part.reach for part in parts]
    ends += [constant.at + len(constant.data) for constant in description.constants]
    return max([len(description.framing.start), description.ahead, *ends])


def _wrapped(description: Description, frame: bytes) -> bytes:
    """The frame between its delimiters; COBS and SLIP send one in front too, to end junk."""
    framing = description.framing
    if framing.kind == "cobs":
        return COBS_END + cobs_encoded(frame) + COBS_END
    if framing.kind == "slip":
        return SLIP_END + slip_encoded(frame) + SLIP_END
    return frame + (framing.end if framing.kind == "line" else b"")
