"""Dated corrections laid over a log's figures: a zero error, a gain. The log stays as it is."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from ..telemetry import Floats, Telemetry


def corrected(telemetry: Telemetry, layers: Iterable[Mapping[str, Any]]) -> Telemetry:
    """The log with its figures corrected.

    Parameters
    ----------
    layers
        As a log's metadata holds them: ``{kind, column, value, from, until, reason}``. ``zero``
        is added to the raw figure, then ``gain`` multiplied; both in the monitor's own sign.
        Each holds from its moment on; of several of one kind the later in the list counts. A
        kind or column that is not known here changes nothing. A ``zero`` of the column ``time``
        moves a log that begins while it holds, by the computer's clock of then [s]; the dates of
        all others are true ones.

    Notes
    -----
    ``corrected = gain x (raw + zero)``. NaN stays NaN.
    """
    layers = list(layers)
    telemetry = _begun_when_it_did(telemetry, layers)
    by_column: dict[str, list[Mapping[str, Any]]] = {}
    for layer in layers:
        column, value = layer.get("column", ""), layer.get("value")
        if column in telemetry.columns and isinstance(value, int | float):
            by_column.setdefault(column, []).append(layer)
    return telemetry.having(**{
        column: _times(telemetry, own, "gain", 1.0)
        * (telemetry[column] + _times(telemetry, own, "zero", 0.0))
        for column, own in by_column.items()}) if by_column else telemetry


def _begun_when_it_did(telemetry: Telemetry, layers: Iterable[Mapping[str, Any]]) -> Telemetry:
    start = telemetry.start
    for layer in layers:
        if layer.get("column") == "time" and layer.get("kind") == "zero" and (
                _is_within(telemetry.start, layer)):
            start = telemetry.start + timedelta(seconds=float(layer["value"]))
    return telemetry if start == telemetry.start else replace(telemetry, start=start)


def _is_within(moment: datetime, layer: Mapping[str, Any]) -> bool:
    first, until = layer.get("from"), layer.get("until")
    return (not first or datetime.fromisoformat(first) <= moment) and (
        not until or moment < datetime.fromisoformat(until))


def _times(telemetry: Telemetry, layers: Iterable[Mapping[str, Any]], kind: str,
           neutral: float) -> Floats:
    """What one kind of layer says at each row."""
    values = np.full(len(telemetry), neutral)
    for layer in layers:
        if layer.get("kind") == kind:
            first = _row(telemetry, layer.get("from"), 0)
            last = _row(telemetry, layer.get("until"), len(telemetry))
            values[first:last] = layer["value"]
    return values


def _row(telemetry: Telemetry, moment: str | None, otherwise: int) -> int:
    """The first row at or after a moment."""
    if not moment:
        return otherwise
    elapsed_s = (datetime.fromisoformat(moment) - telemetry.start).total_seconds()
    return int(np.searchsorted(telemetry.elapsed_s, elapsed_s))
