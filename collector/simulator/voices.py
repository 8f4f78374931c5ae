"""Rows as a monitor's bytes, through its description."""

from __future__ import annotations

from collections.abc import Mapping

from ..errors import DescriptionError
from ..frames.encoder import encode
from ..monitors import Description

#: From one frame to the next where a description does not say. [s]
_PERIOD_S = 1.0


def voice(description: Description, row: Mapping[str, float | str]) -> bytes:
    """One frame; columns the monitor does not have are left out, missing ones sent as missing.

    Raises
    ------
    DescriptionError
        If the flatbed cannot speak through this description, such as one with 24 cells.
    """
    values = {name: row[name] for name in description.columns if name in row}
    try:
        return encode(description, values)
    except ValueError as error:
        raise DescriptionError(description.name, f"the flatbed cannot speak so: {error}",
                               "play demo-text or demo-binary") from error


def period_s(description: Description) -> float:
    """From one frame to the next, as the description's transport says. [s]"""
    return float(description.as_tables().get("transport", {}).get("period_s", _PERIOD_S))
