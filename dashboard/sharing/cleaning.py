"""One log made fit for strangers: what is kept is listed, whatever is not stays behind.

Columns are kept by name and metadata by key, so that a column or key of a later version stays
behind until somebody decides that it may leave.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from collector.clock import from_iso_utc, iso_utc
from collector.logfile import Log
from collector.meta import LogMeta
from collector.record import EVENTS, quantity_of

from .places import Floats, Rule

#: Quantities that may leave as they are.
KEPT: Final = frozenset({
    "current_a", "voltage_v", "power_w", "soc_pct", "charge_left_ah", "time_left_h", "soh_pct",
    "cycles", "cell_{n}_v", "cell_min_v", "cell_max_v", "temp_{n}_c", "ambient_c", "speed_m_s",
    "distance_m"})
PLACE: Final = ("latitude_deg", "longitude_deg")
#: Words of the monitor; a monitor may tell its serial number in them.
MONITOR_WORDS: Final = ("state", "fault")
#: Where a shifted clock begins.
NEW_START_MS: Final = from_iso_utc("2000-01-01T00:00:00Z")
#: A way is counted from here, so that no counter's reading leaves.
_REBASED: Final = ("monotonic_s", "distance_m")


PlaceChoice = Literal["cut", "area", "shape", "trim"]


@dataclass(frozen=True, slots=True)
class Choice:
    """What a person chose about a shared copy; the default keeps least."""

    #: ``cut``: no positions at all. ``area``: one, rounded, in the text. ``shape``: the track moved
    #: and turned. ``trim``: true ones, but none near places where logs begin, end or stay.
    place: PlaceChoice = "cut"
    #: [m]
    radius_m: float = 500.0
    #: The first log begins on 1 January 2000.
    is_clock_shifted: bool = False
    #: The monitor's words for state and fault leave too.
    has_monitor_words: bool = False


def cleaned(log: Log, layers: Sequence[Mapping[str, Any]], choice: Choice,
            rule: Rule | None, shift_ms: int) -> tuple[LogMeta, pa.Table]:
    """Metadata and table of the copy.

    Parameters
    ----------
    layers
        The logbook's corrections of this pack, which do not travel otherwise.
    rule
        How positions leave; without, none does.
    shift_ms
        Added to every time.
    """
    has_place = rule is not None and all(name in log.table.column_names for name in PLACE)
    table = log.table.select([name for name in log.table.column_names
                              if _is_kept(name, choice, has_place=has_place)])
    if rule and has_place:
        table = _placed(table, rule)
    table = _set(table, "time", pc.cast(pc.add(pc.cast(table["time"], pa.int64()), shift_ms),
                                        table.schema.field("time").type))
    for name in _REBASED:
        if name in table.column_names:
            table = _rebased(table, name)
    if "event" in table.column_names:
        table = _set(table, "event", _bare_events(table["event"]))
    return _cleaned_meta(log.meta, layers, shift_ms), table.replace_schema_metadata(None)


def _is_kept(column: str, choice: Choice, *, has_place: bool) -> bool:
    if column in ("time", "monotonic_s", "event"):
        return True
    if column in PLACE:
        return has_place
    if column in MONITOR_WORDS:
        return choice.has_monitor_words
    return quantity_of(column).name in KEPT


def _set(table: pa.Table, name: str, values: Any) -> pa.Table:
    place = table.column_names.index(name)
    return table.set_column(place, table.schema.field(name), values)


def _placed(table: pa.Table, rule: Rule) -> pa.Table:
    """Positions as the rule lets them leave, to a tenth of a metre; NaN leaves as missing."""
    for name, values in zip(PLACE, rule(*(floats(table[name]) for name in PLACE)), strict=True):
        table = _set(table, name, pa.array(np.round(values, 6), table.schema.field(name).type,
                                           from_pandas=True))
    return table


def _rebased(table: pa.Table, name: str) -> pa.Table:
    lowest = pc.min(table[name])
    if not lowest.is_valid:
        return table
    return _set(table, name, pc.cast(pc.subtract(table[name], lowest),
                                     table.schema.field(name).type))


def _bare_events(events: pa.ChunkedArray) -> Any:
    """The kinds of the events without their words; a kind nobody knows becomes a mark."""
    kinds = pc.replace_substring_regex(events, pattern=r"(?s):.*", replacement="")
    known = pc.is_in(kinds, pa.array(list(EVENTS)))
    return pc.if_else(pc.or_(known, pc.is_null(kinds)), kinds, pa.scalar("mark", kinds.type))


def _cleaned_meta(meta: LogMeta, layers: Sequence[Mapping[str, Any]], shift_ms: int) -> LogMeta:
    sign = {key: meta.sign[key] for key in ("convention", "decided_by") if key in meta.sign}
    kind = meta.kind if meta.kind in ("drive", "charge", "rest") else ""
    return LogMeta(pack="pack 1" if meta.pack else "", vehicle="vehicle 1" if meta.vehicle else "",
                   kind=kind, sign=sign, software="packhand", invented=meta.invented,
                   corrections=tuple(_cleaned_layer(layer, shift_ms) for layer in layers))


def _cleaned_layer(layer: Mapping[str, Any], shift_ms: int) -> dict[str, Any]:
    """A correction without the words why."""
    kept = {key: layer[key] for key in ("kind", "column", "value") if key in layer}
    for key in ("from", "until"):
        if layer.get(key):
            kept[key] = iso_utc(from_iso_utc(str(layer[key])) + shift_ms)
    return kept


def floats(column: pa.ChunkedArray) -> Floats:
    """A column as floats, missing as NaN."""
    return np.asarray(pc.cast(column, pa.float64()).to_numpy(), dtype=np.float64)


def seconds(table: pa.Table) -> Floats:
    """Times in Unix seconds."""
    return floats(pc.cast(table["time"], pa.int64())) / 1000
