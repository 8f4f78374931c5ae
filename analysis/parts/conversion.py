"""Lead acid against lithium for this vehicle: energy at the real draw, weight, volts, range."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from ..season.spans import PER_KELVIN, REFERENCE_C
from .cautions import LEAD_GAS, WHEELS
from .lead_acid import LeadBank, hydrogen_m3_per_h, lead_cold_share, lead_rest_cell_v
from .pack import Figure, PackFigures
from .road_load import road_load_n, wh_per_km

#: Mean volts of a cell over a drive; common practice, no source. [V]
LEAD_MEAN_CELL_V: Final = 1.95
#: Under load, empty; and at the end of a charge; common practice, no source. [V]
LEAD_EMPTY_CELL_V, LEAD_CHARGE_END_CELL_V = 1.75, 2.45
#: Lowest, usual and highest of the capacity that is used; common practice, no source. [%]
LITHIUM_USABLE_PCT: Final = (80.0, 85.0, 90.0)
#: Keeps hydrogen at 1 %, a quarter of what burns.
AIR_FOR_HYDROGEN: Final = 100.0


@dataclass(frozen=True, slots=True)
class Vehicle:
    """The table ``[vehicle]``: a typed consumption, or what a first figure is worked out from."""

    #: With driver and the lithium pack. [kg]
    mass_kg: float | None = None
    consumption_wh_per_km: float | None = None
    speed_km_h: float | None = None
    rolling_coefficient: float | None = None
    drag_area_m2: float = 1.2
    drive_efficiency_pct: float = 70.0


@dataclass(frozen=True, slots=True)
class Span:
    """A figure between the ends that published ranges give it: no statistical interval."""

    value: float
    low: float
    high: float
    unit: str

    def times(self, factor: float, unit: str) -> Span:
        return Span(self.value * factor, self.low * factor, self.high * factor, unit)

    @property
    def text(self) -> str:
        """With no more digits than such a span deserves: ``3.1 (2.1 to 3.6) kWh``."""
        if self.unit == "Wh" and self.value >= 1000:
            return self.times(0.001, "kWh").text
        digits = 0 if self.value >= 10 else 1
        middle, low, high = (f"{x:.{digits}f}" for x in (self.value, self.low, self.high))
        spread = "" if low == high else f" ({low} to {high})"
        return f"{middle}{spread} {self.unit}"

    def as_json(self) -> dict[str, Any]:
        return {"value": self.value, "low": self.low, "high": self.high, "unit": self.unit}


@dataclass(frozen=True, slots=True)
class Side:
    """One of the two banks."""

    usable_wh: Span
    #: Empty under load, and at the end of a charge. [V]
    volts: tuple[float, float]
    mass_kg: float | None
    range_km: Span | None

    def as_json(self) -> dict[str, Any]:
        return {"usable_wh": self.usable_wh.as_json(), "volts": list(self.volts),
                "mass_kg": self.mass_kg,
                "range_km": self.range_km.as_json() if self.range_km else None}


@dataclass(frozen=True, slots=True)
class Comparison:
    """Both sides, and how they came about."""

    lead: Side
    lithium: Side
    arithmetic: tuple[str, ...]
    cautions: tuple[str, ...] = (LEAD_GAS, WHEELS)

    @property
    def words(self) -> str:
        """Both sides in one sentence."""
        lead, lithium = (f"{side.usable_wh.text}" + (
            f" and {side.range_km.text}" if side.range_km else "")
            for side in (self.lead, self.lithium))
        return f"At this draw lead acid gives about {lead}, lithium about {lithium}."

    def as_json(self) -> dict[str, Any]:
        return {"words": self.words, "lead": self.lead.as_json(), "lithium": self.lithium.as_json(),
                "arithmetic": list(self.arithmetic), "cautions": list(self.cautions)}


def compare(bank: LeadBank, pack: PackFigures, vehicle: Vehicle) -> Comparison | str:
    """Both sides at the pack's mean draw; a sentence says what is missing if they cannot be."""
    if pack.capacity_ah is None or pack.mean_a is None:
        missing = "capacity_ah" if pack.capacity_ah is None else "mean_a"
        return f"lead and lithium cannot be compared yet: type {missing}, or log drives"
    consumption = consumption_of(vehicle, pack)
    lead_wh, lead_lines = _lead_energy(bank, pack.mean_a, pack.nominal_v)
    lithium_wh, lithium_line = _lithium_energy(pack.capacity_ah, pack.nominal_v)
    heavier, mass_line = _heavier(bank, pack, vehicle)
    lines = [*lead_lines, lithium_line]
    if consumption is not None:
        lines += [f"consumption {consumption.text}", *mass_line]
    return Comparison(
        Side(lead_wh, (bank.cells * LEAD_EMPTY_CELL_V, bank.cells * LEAD_CHARGE_END_CELL_V),
             bank.mass_kg, _range(lead_wh, consumption, heavier)),
        Side(lithium_wh, (pack.lowest_v.value if pack.lowest_v else _low_v(pack),
                          pack.highest_v.value),
             pack.mass_kg.value if pack.mass_kg else None, _range(lithium_wh, consumption, 1.0)),
        (*lines, _cold(), *_window(bank, pack), *_air(bank)))


def consumption_of(vehicle: Vehicle, pack: PackFigures) -> Figure | None:
    """Measured where a logbook knows it, else typed, else worked out from a road load."""
    if pack.consumption_wh_per_km is not None:
        return pack.consumption_wh_per_km
    if vehicle.consumption_wh_per_km is not None:
        return Figure(vehicle.consumption_wh_per_km, "Wh/km", "typed", "parts list")
    mass_kg, speed, rolling = vehicle.mass_kg, vehicle.speed_km_h, vehicle.rolling_coefficient
    if mass_kg is None or speed is None or rolling is None:
        return None
    force = road_load_n(mass_kg, speed / 3.6, rolling, vehicle.drag_area_m2)
    return Figure(wh_per_km(force, vehicle.drive_efficiency_pct / 100), "Wh/km", "worked out",
                  f"{force:.0f} N on the level at {speed:g} km/h, "
                  f"{vehicle.drive_efficiency_pct:g} % to the wheel")


def _lead_energy(bank: LeadBank, mean_a: Figure, nominal_v: Figure) -> tuple[Span, list[str]]:
    """The same watts from a bank of other volts, by Peukert's law."""
    bank_v = bank.cells * LEAD_MEAN_CELL_V
    amps = mean_a.value * nominal_v.value / bank_v
    exponents, origin = bank.exponents()
    gives = sorted(bank.law(k).capacity_at_ah(amps) for k in exponents)
    usable = Span(bank.law(exponents[1]).capacity_at_ah(amps), gives[0], gives[-1], "Ah")
    share = bank.usable_pct / 100
    told = (f"{bank.rated_ah:g} Ah over {bank.rated_h:g} h" if bank.rated_ah
            else f"{bank.one_amp_ah:g} Ah at one amp")
    law = "t = H (C / I H)^k" if bank.rated_ah else "t = C_p / I^k"
    power = share * bank_v
    return usable.times(power, "Wh"), [
        f"draw {mean_a.text} x {nominal_v.value:.1f} V / {bank_v:.1f} V = {amps:.0f} A from lead",
        f"lead, {told}, {law}, k = {_exponent_text(exponents)} ({origin}): {usable.text}",
        f"x {bank_v:.1f} V x {bank.usable_pct:g} % usable (lead's common practice: 50 %) = "
        f"{usable.times(power, 'Wh').text}",
        "Peukert's law is for one constant rate: stops move it"]


def _exponent_text(exponents: tuple[float, float, float]) -> str:
    low, usual, high = exponents
    return f"{usual:.2f}" if low == high else f"{usual:.2f} ({low:.2f} to {high:.2f})"


def _lithium_energy(capacity_ah: Figure, nominal_v: Figure) -> tuple[Span, str]:
    low, usual, high = (pct / 100 * capacity_ah.value * nominal_v.value
                        for pct in LITHIUM_USABLE_PCT)
    found = Span(usual, low, high, "Wh")
    share = f"{LITHIUM_USABLE_PCT[0]:.0f} to {LITHIUM_USABLE_PCT[2]:.0f} % (common practice)"
    return found, (f"lithium: {capacity_ah.text} x {nominal_v.value:.1f} V x {share} = "
                   f"{found.text}")


def _heavier(bank: LeadBank, pack: PackFigures, vehicle: Vehicle) -> tuple[float, list[str]]:
    """How many times the consumption the lead bank's weight makes of it, at most."""
    if bank.mass_kg is None or pack.mass_kg is None or vehicle.mass_kg is None:
        return 1.0, ["the weights are not all typed: left out of the range"]
    more = bank.mass_kg - pack.mass_kg.value
    factor = 1 + more / vehicle.mass_kg
    return factor, [f"lead weighs {more:+.0f} kg on {vehicle.mass_kg:g} kg: rolling and climbing "
                    f"take up to {factor:.2f} times as much"]


def _range(energy: Span, consumption: Figure | None, factor: float) -> Span | None:
    return None if consumption is None else energy.times(1 / consumption.value / factor, "km")


def _low_v(pack: PackFigures) -> float:
    return pack.cells * (pack.low_cell_v.value if pack.low_cell_v else 2.5)


def _window(bank: LeadBank, pack: PackFigures) -> list[str]:
    full_v = bank.cells * lead_rest_cell_v(100)
    return [f"full and resting: lead {full_v:.1f} V, lithium {pack.full_rest_v.value:.1f} V: a "
            f"motor without electronics turns {100 * (pack.full_rest_v.value / full_v - 1):+.0f} %"
            " faster without load"]


def _cold() -> str:
    lead, lithium = lead_cold_share(0.0), 1 - PER_KELVIN * REFERENCE_C
    return (f"both give less in the cold: at 0 °C lead about {100 * lead:.0f} % (IEEE 485's "
            f"factor), lithium about {100 * lithium:.0f} % (common practice)")


def _air(bank: LeadBank) -> list[str]:
    if bank.charge_a is None:
        return []
    gas = hydrogen_m3_per_h(bank.charge_a, bank.cells)
    return [f"lead at {bank.charge_a:g} A gives off up to {gas:.2f} m³/h of hydrogen: "
            f"{AIR_FOR_HYDROGEN * gas:.0f} m³/h of air keep it at 1 %"]
