"""The pack's figures that parts are checked at: typed, measured, or worked out from those."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, fields
from typing import Any, Final

from ..estimate import Badge
from ..one_log.use import LogUse
from ..season.resistance_trend import LogResistance

#: An iron-phosphate cell: nominal, full and resting, charge end, as common practice has it.
NOMINAL_CELL_V: Final = 3.2
FULL_REST_CELL_V: Final = 3.40
CHARGE_END_CELL_V: Final = 3.65


@dataclass(frozen=True, slots=True)
class Figure:
    """A number with its unit and where it comes from."""

    value: float
    unit: str
    badge: Badge
    origin: str

    @property
    def text(self) -> str:
        """``58.4 V (typed, charge end)``"""
        return f"{self.value:.{0 if self.value >= 1000 else 1}f} {self.unit} ({self.told})"

    @property
    def told(self) -> str:
        return f"{self.badge}, {self.origin}"

    def as_json(self) -> dict[str, Any]:
        return {"value": self.value, "unit": self.unit, "badge": self.badge,
                "origin": self.origin}


@dataclass(frozen=True, slots=True)
class TypedPack:
    """The table ``[pack]`` of a parts list; ``None`` where nothing was typed."""

    cells: int
    name: str = ""
    charge_end_v: float | None = None
    nominal_v: float | None = None
    full_rest_v: float | None = None
    #: Under the heaviest load, nearly empty. [V]
    lowest_v: float | None = None
    capacity_ah: float | None = None
    resistance_mohm: float | None = None
    #: What the maker states for a short circuit at the posts. [A]
    short_circuit_a: float | None = None
    #: Worst RMS of any 10 s, 1 min, 10 min. [A]
    rms_10_s_a: float | None = None
    rms_1_min_a: float | None = None
    rms_10_min_a: float | None = None
    #: Mean amps out while it drives, stops included. [A]
    mean_a: float | None = None
    #: What the board allows into the pack. [A]
    charge_max_a: float | None = None
    #: Where the board opens the path for one low cell. [V]
    low_cell_v: float | None = None
    mass_kg: float | None = None


@dataclass(frozen=True, slots=True)
class SeenPack:
    """What a logbook saw of the pack; NaN where it saw nothing."""

    logs: int
    highest_v: float
    lowest_v: float
    rms_10_s_a: float
    rms_1_min_a: float
    rms_10_min_a: float
    mean_a: float
    #: Median over drives, 1 s after a change. [ohm]
    resistance_ohm: float
    #: Over the drives with a distance. [Wh/km]
    consumption_wh_per_km: float


@dataclass(frozen=True, slots=True)
class PackFigures:
    """What the checks use; ``None`` where nobody knows."""

    cells: int
    nominal_v: Figure
    full_rest_v: Figure
    charge_end_v: Figure
    #: The charge end, or more if a logbook saw more.
    highest_v: Figure
    lowest_v: Figure | None
    capacity_ah: Figure | None
    resistance_ohm: Figure | None
    short_circuit_a: Figure | None
    rms_10_s_a: Figure | None
    rms_1_min_a: Figure | None
    rms_10_min_a: Figure | None
    mean_a: Figure | None
    charge_max_a: Figure | None
    low_cell_v: Figure | None
    mass_kg: Figure | None
    consumption_wh_per_km: Figure | None

    def as_json(self) -> dict[str, Any]:
        values = ((f.name, getattr(self, f.name)) for f in fields(self))
        return {name: value.as_json() if isinstance(value, Figure) else value
                for name, value in values}


def seen_pack(logs: Iterable[tuple[LogUse, LogResistance]]) -> SeenPack:
    """The extremes over the logs of one pack; a log that lacks a figure is passed over for it."""
    uses, ohms = [], []
    for use, resistance in logs:
        uses.append(use)
        ohms.append(resistance.after_1_s_mohm / 1000)
    drives = [use for use in uses if use.kind == "drive"]
    far = [use for use in drives if use.distance_m > 0 and math.isfinite(use.out_wh)]
    return SeenPack(
        logs=len(uses),
        highest_v=_most(use.voltage_max_v for use in uses),
        lowest_v=-_most(-use.voltage_min_v for use in uses),
        rms_10_s_a=_most(use.rms_a[0] for use in uses),
        rms_1_min_a=_most(use.rms_a[1] for use in uses),
        rms_10_min_a=_most(use.rms_a[2] for use in uses),
        mean_a=_ratio(sum(use.out_ah for use in drives),
                      sum(use.observed_s for use in drives) / 3600),
        resistance_ohm=_median(ohms),
        consumption_wh_per_km=_ratio(sum(use.out_wh - use.into_wh for use in far),
                                     sum(use.distance_m for use in far) / 1000))


def pack_figures(typed: TypedPack, seen: SeenPack | None = None) -> PackFigures:
    """Typed and measured figures brought together.

    Of two figures the harder one counts: the higher volts and amps, the lower of the lowest
    volts, and the smaller resistance, which lets more amps into a short circuit.
    """
    def harder(name: str, unit: str, *, least: bool = False) -> Figure | None:
        return _extreme([_typed(getattr(typed, name), unit), _measured(seen, name, unit)],
                        least=least)

    charge_end = _or_cells(typed.charge_end_v, typed.cells, CHARGE_END_CELL_V, "charge end")
    told_mohm = typed.resistance_mohm
    ohms = [_typed(None if told_mohm is None else told_mohm / 1000, "ohm"),
            _measured(seen, "resistance_ohm", "ohm")]
    return PackFigures(
        cells=typed.cells,
        nominal_v=_or_cells(typed.nominal_v, typed.cells, NOMINAL_CELL_V),
        full_rest_v=_or_cells(typed.full_rest_v, typed.cells, FULL_REST_CELL_V),
        charge_end_v=charge_end,
        highest_v=_extreme([charge_end, _measured(seen, "highest_v", "V")]) or charge_end,
        lowest_v=harder("lowest_v", "V", least=True),
        capacity_ah=_typed(typed.capacity_ah, "Ah"),
        resistance_ohm=_extreme(ohms, least=True),
        short_circuit_a=_typed(typed.short_circuit_a, "A"),
        rms_10_s_a=harder("rms_10_s_a", "A"),
        rms_1_min_a=harder("rms_1_min_a", "A"),
        rms_10_min_a=harder("rms_10_min_a", "A"),
        mean_a=harder("mean_a", "A"),
        charge_max_a=_typed(typed.charge_max_a, "A"),
        low_cell_v=_typed(typed.low_cell_v, "V"),
        mass_kg=_typed(typed.mass_kg, "kg"),
        consumption_wh_per_km=_measured(seen, "consumption_wh_per_km", "Wh/km"))


def _extreme(figures: Iterable[Figure | None], *, least: bool = False) -> Figure | None:
    """The figure with the highest value, or the lowest; the first of equals."""
    choose = min if least else max
    return choose((f for f in figures if f), key=lambda f: f.value, default=None)


def _measured(seen: SeenPack | None, name: str, unit: str) -> Figure | None:
    if seen is None or not math.isfinite(getattr(seen, name)):
        return None
    return Figure(getattr(seen, name), unit, "measured", f"{seen.logs} logs")


def _typed(value: float | None, unit: str, origin: str = "parts list") -> Figure | None:
    return None if value is None else Figure(value, unit, "typed", origin)


def _or_cells(value: float | None, cells: int, cell_v: float,
              origin: str = "parts list") -> Figure:
    return _typed(value, "V", origin) or Figure(cells * cell_v, "V", "worked out",
                                                f"{cells} cells x {cell_v:.2f} V")


def _most(values: Iterable[float]) -> float:
    return max((value for value in values if math.isfinite(value)), default=math.nan)


def _median(values: Iterable[float]) -> float:
    finite = sorted(value for value in values if math.isfinite(value))
    return finite[len(finite) // 2] if finite else math.nan


def _ratio(over: float, under: float) -> float:
    return over / under if under > 0 and math.isfinite(over) else math.nan
