"""The chosen columns as figures in the log's units, amps joined, no-readings taken out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from ..record import cell_columns, quantity_of
from .columns import Assignment, Choice
from .dates import Ints
from .direction import apply_direction, direction_factors, join_in_and_out, settled_sign
from .figures import to_figures
from .foreign import Doubt, Mapped
from .headings import ROLES, unit_of
from .missing import (
    without_absent_cells,
    without_counter_zeros,
    without_no_readings,
    without_null_island,
)
from .source_table import SourceTable, unit_in_figures
from .unit_by_content import Floats, UnitFinding, speed_unit_by_place, unit_by_size
from .units import dimension_of, find_unit, to_log_unit

_IN_AND_OUT: Final = ("charge_current_a", "discharge_current_a")
_PLACE: Final = ("latitude_deg", "longitude_deg")
_DIRECTIONS: Final = {"direction": 0, "is_charging": 1, "is_discharging": -1, "state": 0}


@dataclass(slots=True)
class Figures:
    """What the columns of a file came to."""

    #: Log column -> figures in the log's unit, or words; missing is null.
    columns: dict[str, pa.Array] = field(default_factory=dict)
    mapping: dict[str, Mapped] = field(default_factory=dict)
    sign: Mapping[str, Any] = field(default_factory=dict)
    doubts: list[Doubt] = field(default_factory=list)
    #: Log column -> figures made missing.
    missing: dict[str, int] = field(default_factory=dict)


def read_figures(source: SourceTable, assignment: Assignment, at_us: Ints) -> Figures:
    """Turn every chosen column into a log column."""
    out = Figures()
    for name, choice in assignment.chosen.items():
        if name in ROLES and name not in _IN_AND_OUT:
            continue
        if name not in ROLES and quantity_of(name).is_text:
            out.columns[name] = text_values(source.columns[choice.number])
            out.mapping[name] = Mapped(source.headings[choice.number].text, words=choice.words)
        elif name != "speed_m_s":
            _read_one(source, name, choice, out)
    if "speed_m_s" in assignment.chosen:
        _read_speed(source, assignment.chosen["speed_m_s"], at_us, out)
    _join_amps(source, assignment, out)
    _amps_from_watts(out)
    _drop_zeros_for_nothing(out)
    _leave_out_silent(assignment, out)
    return out


def _read_one(source: SourceTable, name: str, choice: Choice, out: Figures,
              guess: UnitFinding | None = None) -> None:
    """One numeric column: figures, unit, no-readings."""
    column = source.columns[choice.number]
    raw, unreadable = to_figures(column, source.decimal)
    unit, symbol, words = choice.unit, choice.symbol, choice.words
    log_name = "current_a" if name in _IN_AND_OUT else name
    if unit is None and pa.types.is_string(column.type):
        symbol = unit_in_figures(column.drop_null()[:100].to_pylist())
        behind = find_unit(symbol)
        if behind is not None and behind.dimension == dimension_of(unit_of(_quantity(name))):
            unit = behind
    if unit is None and quantity_of(log_name).unit:
        finding = guess or unit_by_size(log_name, as_floats(raw))
        unit, symbol = finding.unit, finding.symbol
        words = "; ".join(filter(None, (words, finding.words)))
        out.doubts += [finding.doubt] if finding.doubt else []
    factor, offset = to_log_unit(unit, quantity_of(log_name).unit) if unit else (1.0, 0.0)
    value = _scaled(raw, factor)
    value = pc.add(value, offset) if offset else value
    kept = without_no_readings(log_name, raw, value)
    if lost := kept.null_count - value.null_count + unreadable:
        out.missing[log_name] = out.missing.get(log_name, 0) + lost
    out.columns[name] = kept
    out.mapping[name] = Mapped(source.headings[choice.number].text, symbol, factor, offset, words)


def _scaled(raw: pa.Array, factor: float) -> pa.Array:
    """Times the factor; small factors divide, so that 3312 mV are 3.312 V to the last digit."""
    if factor == 1:
        return raw
    return pc.divide(raw, round(1 / factor, 9)) if factor < 1 else pc.multiply(raw, factor)


def _quantity(name: str) -> str:
    return name if name in ROLES else quantity_of(name).name


def as_floats(column: pa.Array) -> Floats:
    """A numeric column as NumPy floats; missing is NaN."""
    values: Floats = column.to_numpy(zero_copy_only=False).astype(np.float64)
    return values


def _read_speed(source: SourceTable, choice: Choice, at_us: Ints, out: Figures) -> None:
    """Speed last, so that the place can tell the unit of one without."""
    guess = None
    place = [out.columns.get(name) for name in _PLACE]
    if choice.unit is None and place[0] is not None and place[1] is not None:
        raw = to_figures(source.columns[choice.number], source.decimal)[0]
        guess = speed_unit_by_place(as_floats(raw), at_us / 1e6, as_floats(place[0]),
                                    as_floats(place[1]))
    _read_one(source, "speed_m_s", choice, out, guess)


def _join_amps(source: SourceTable, assignment: Assignment, out: Figures) -> None:
    """Amps in two columns, or unsigned beside a direction, become signed amps."""
    pair = [out.columns.pop(name, None) for name in _IN_AND_OUT]
    sources = [out.mapping.pop(name, None) for name in _IN_AND_OUT]
    if pair[0] is not None and pair[1] is not None and "current_a" not in out.columns:
        out.columns["current_a"] = join_in_and_out(pair[0], pair[1])
        joined = [mapped for mapped in sources if mapped is not None]
        out.mapping["current_a"] = Mapped(" + ".join(m.source for m in joined), joined[0].unit,
                                          joined[0].factor, words="in minus out")
        out.sign = settled_sign("The file has a column of amps for each direction.")
    else:
        _keep_single_direction(assignment, pair, sources, out)
    _apply_direction(source, assignment, out)


def _keep_single_direction(assignment: Assignment, pair: list[pa.Array | None],
                           sources: list[Mapped | None], out: Figures) -> None:
    """One direction's column alone, or beside signed amps."""
    for name, way, column, mapped in zip(_IN_AND_OUT, (1, -1), pair, sources, strict=True):
        if column is None or mapped is None:
            continue
        if "current_a" in out.columns:
            number = assignment.chosen[name].number
            assignment.unused[number] = (
                f"current_a is taken from {out.mapping['current_a'].source!r}")
        else:
            out.columns["current_a"] = pc.multiply(pc.abs(column), float(way))
            out.mapping["current_a"] = mapped
            out.sign = settled_sign(f"The heading {mapped.source!r} tells the direction.")


def _apply_direction(source: SourceTable, assignment: Assignment, out: Figures) -> None:
    for role, true_means in _DIRECTIONS.items():
        choice = assignment.chosen.get(role)
        if choice is None:
            continue
        heading = source.headings[choice.number].text
        joined = None
        if "current_a" in out.columns and not out.sign:
            factors = direction_factors(source.columns[choice.number], true_means=true_means)
            joined = apply_direction(out.columns["current_a"], factors) if factors else None
        if joined is not None:
            old = out.mapping["current_a"]
            out.columns["current_a"] = joined
            out.mapping["current_a"] = Mapped(f"{old.source} + {heading}", old.unit, old.factor,
                                              words=f"direction from {heading!r}")
            out.sign = settled_sign(f"The words in {heading!r} tell the direction.")
        elif role != "state":
            assignment.unused[choice.number] = "no direction to join with unsigned amps"


#: Volts below this are no pack's; a quotient by them would be noise. [V]
_VOLTS_MIN: Final = 1.0


def _amps_from_watts(out: Figures) -> None:
    """Amps worked out from watts and volts where the file has no amps; both stay beside them."""
    watts, volts = out.columns.get("power_w"), out.columns.get("voltage_v")
    if "current_a" in out.columns or watts is None or volts is None:
        return
    divisor = pc.if_else(pc.greater_equal(volts, _VOLTS_MIN), volts, pa.scalar(None, pa.float64()))
    out.columns["current_a"] = pc.divide(watts, divisor)
    sources = f"{out.mapping['power_w'].source} / {out.mapping['voltage_v'].source}"
    out.mapping["current_a"] = Mapped(sources, "A", words="worked out from watts and volts")


def _drop_zeros_for_nothing(out: Figures) -> None:
    """Zeros that say "not read": cells of a row sent in part, places without a fix, counters."""
    cleaned: dict[str, pa.Array] = {}
    cells = {name: out.columns[name] for name in cell_columns(list(out.columns))}
    if cells and "voltage_v" in out.columns:
        cleaned |= without_absent_cells(cells, out.columns["voltage_v"])
    if out.columns.keys() >= set(_PLACE):
        cleaned |= zip(_PLACE, without_null_island(*(out.columns[n] for n in _PLACE)), strict=True)
    if "distance_m" in out.columns:
        cleaned["distance_m"] = without_counter_zeros(out.columns["distance_m"])
    for name, column in cleaned.items():
        if lost := column.null_count - out.columns[name].null_count:
            out.missing[name] = out.missing.get(name, 0) + lost
    out.columns |= cleaned


def _leave_out_silent(assignment: Assignment, out: Figures) -> None:
    """Columns of which nothing is left."""
    for name in [n for n, column in out.columns.items() if column.null_count == len(column)]:
        del out.columns[name], out.mapping[name]
        out.missing.pop(name, None)
        if name in assignment.chosen:
            number = assignment.chosen.pop(name).number
            assignment.unused[number] = "every figure stands for no reading"


def text_values(column: pa.Array) -> pa.Array:
    """A column of words; whole figures without their point."""
    text = pc.utf8_trim_whitespace(column.cast(pa.string()))
    return pc.if_else(pc.equal(text, ""), pa.scalar(None, pa.string()), text)
