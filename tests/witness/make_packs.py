"""Packs simulated by an independent physics library, with what is true of them.

Not part of the tests: they read the files that this script left in ``tests/data/witness``. Made
with pybamm 26.10.1, single-particle model with electrolyte, parameter sets Prada2013 (iron
phosphate) and Chen2020 (nickel manganese cobalt); everything random comes from ``SEED``.

``pip install --group witness`` into an environment of its own, then, a quarter of an hour:
``python -m tests.witness.make_packs``
"""

from __future__ import annotations

import json
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pybamm
from numpy.typing import NDArray

Floats = NDArray[np.float64]

SEED: Final = 20_26
OUT: Final = Path(__file__).resolve().parents[1] / "data" / "witness"
#: Cells in series; one standard deviation between healthy ones.
CELLS: Final = 16
CAPACITY_SHARE, RESISTANCE_MOHM, AHEAD_AH = 0.007, 0.03, 0.15
CONTACT_MOHM: Final = 0.10
#: What sets in between the weeks, number of the cell and size: charge ahead [Ah], capacity lost
#: [parts], more at its busbar [mohm].
AHEAD: Final = (5, 1.2)
SMALL: Final = (9, 0.035)
RESISTIVE: Final = (13, 0.10)
#: Amps are known on this grid and run straight between. [s]
GRID_S: Final = 0.5
PULSE_A: Final = -60.0
PEDAL_A: Final = (0.0, -20.0, -40.0, -80.0, -120.0, 25.0)
DRIVES_MAX, DRIVE_S = 15, 1800.0
CHARGE_A, TAPER_A = 40.0, 4.0
CHARGED_V: Final = 3.45
DAY_S: Final = 86_400.0


@dataclass
class Cell:
    """One simulated cell and the state that it is in."""

    parameter_set: str
    #: Capacity of all its layers; and contact and busbar, besides the model's own. [Ah], [mohm]
    capacity_ah: float
    contact_mohm: float
    soc: float
    #: The model as the last stretch left it.
    state: Any = None

    def advance(self, amps: Floats, step_s: float = GRID_S) -> Floats:
        """Its volts at each point of a stretch of amps, positive into the cell; moves on."""
        time_s = step_s * np.arange(len(amps))
        solution = self._solve(time_s, amps)
        self.state = _model().set_initial_conditions_from(solution, inplace=False)
        return np.asarray(solution["Terminal voltage [V]"](t=time_s))

    def pulse_mohm(self, level_a: float = PULSE_A) -> Floats:
        """Milliohms at 1 s and 10 s after a step from rest; the cell stays where it is."""
        time_s = np.array([0.0, 1.0, 1.001, 2.001, 11.001])
        amps = np.where(time_s > 1.0, level_a, 0.0)
        volts = np.asarray(self._solve(time_s, amps)["Terminal voltage [V]"](t=time_s))
        return np.asarray((volts[3:] - volts[1]) / level_a * 1000)

    def _solve(self, time_s: Floats, amps: Floats) -> Any:
        values = pybamm.ParameterValues(self.parameter_set)
        layers = self.capacity_ah / own_capacity_ah(self.parameter_set)
        values["Number of electrodes connected in parallel to make a cell"] = layers
        values["Contact resistance [Ohm]"] = self.contact_mohm / 1000
        # The library counts amps out of the cell positive.
        values["Current function [A]"] = pybamm.Interpolant(time_s, -amps, pybamm.t,
                                                            interpolator="linear")
        values["Lower voltage cut-off [V]"], values["Upper voltage cut-off [V]"] = 1.5, 4.5
        if self.state is None:
            values.set_initial_state(self.soc)
        model = self.state or _model()
        # No step longer than the grid's, or a press of the pedal could fall between two.
        solver = pybamm.IDAKLUSolver(rtol=1e-5, atol=1e-7,
                                     options={"dt_max": float(np.diff(time_s).max())})
        simulation = pybamm.Simulation(model, parameter_values=values, solver=solver)
        return simulation.solve(t_eval=[0.0, time_s[-1]], t_interp=time_s)


def _model() -> Any:
    return pybamm.lithium_ion.SPMe({"contact resistance": "true"})


_OWN_AH: dict[str, float] = {}


def own_capacity_ah(parameter_set: str) -> float:
    """What one layer holds between the parameter set's own limits."""
    if parameter_set not in _OWN_AH:
        values = pybamm.ParameterValues(parameter_set)
        solver = pybamm.lithium_ion.ElectrodeSOHSolver(values)
        electrodes = pybamm.LithiumIonParameters()
        lithium = values.evaluate(electrodes.Q_Li_particles_init)
        found = solver.solve({"Q_n": values.evaluate(electrodes.n.Q_init),
                              "Q_p": values.evaluate(electrodes.p.Q_init), "Q_Li": lithium})
        _OWN_AH[parameter_set] = float(found["Q"])
    return _OWN_AH[parameter_set]


@dataclass
class Week:
    """Logs of one string of cells, one after the other, and what is true of each."""

    cells: list[Cell]
    begin_s: float
    now_s: float = 0.0
    rows: list[dict[str, Floats]] = field(default_factory=list)
    truth: list[dict[str, Any]] = field(default_factory=list)
    truth_of: dict[str, Any] = field(default_factory=dict)
    #: Strings of one cell stand for so many like ones.
    alike: int = 1
    #: The board cuts off below and above. [V]
    limits_v: tuple[float, float] = (2.6, 3.65)

    def rest(self, hours: float) -> None:
        """Nothing flows and nothing is logged."""
        for cell in self.cells:
            cell.advance(np.zeros(round(60 * hours) + 1), 60.0)
        self.now_s += 3600 * hours

    def log(self, kind: str, amps: Floats) -> bool:
        """One log; True if a cell came to its limit and the board cut the amps off."""
        pulses = np.array([cell.pulse_mohm() for cell in self.cells
                           if kind == "drive"]).reshape(-1, 2)
        before = [cell.state for cell in self.cells]
        volts = np.stack([cell.advance(amps) for cell in self.cells], axis=1)
        low_v, high_v = self.limits_v
        over = (volts.max(axis=1) > high_v) | (volts.min(axis=1) < low_v)
        if over.any():
            cut = int(np.argmax(over))
            amps = np.concatenate([amps[:cut], np.zeros(round(900 / GRID_S))])
            for cell, state in zip(self.cells, before, strict=True):
                cell.state = state
            volts = np.stack([cell.advance(amps) for cell in self.cells], axis=1)
        self._keep(kind, amps, volts, pulses)
        return bool(over.any())

    def _keep(self, kind: str, amps: Floats, volts: Floats, pulses: Floats) -> None:
        number = len(self.truth) + 1
        shown = slice(None, None, round(1 / GRID_S))
        count = len(amps[shown])
        moved = (amps[1:] + amps[:-1]) / 2 * GRID_S / 3600
        self.truth.append({
            "log": number, "kind": kind, "start_s": self.begin_s + self.now_s,
            "into_ah": float(np.maximum(moved, 0).sum()), "out_ah": float(-np.minimum(
                moved, 0).sum()), "pulse_1_s_mohm": (
                self.alike * pulses[:, 0]).round(4).tolist(),
            "pulse_10_s_mohm": (self.alike * pulses[:, 1]).round(4).tolist()})
        figures = {"log": np.full(count, number), "current_tenth_a": np.round(10 * amps[shown]),
                   "voltage_hundredth_v": np.round(100 * self.alike * volts[shown].sum(axis=1))}
        figures |= {f"cell_{k + 1:02d}_mv": np.round(1000 * volts[shown, k])
                    for k in range(len(self.cells))}
        self.rows.append(figures)
        self.now_s += (len(amps) - 1) * GRID_S

    def write(self, path: Path) -> None:
        """All rows in one file, whole numbers: tenths of an amp, hundredths of a volt, mV."""
        columns = {name: pa.array(np.concatenate([part[name] for part in self.rows]),
                                  pa.int16()) for name in self.rows[0]}
        pq.write_table(pa.table(columns), path, compression="zstd", compression_level=19,
                       use_dictionary=False, column_encoding=dict.fromkeys(
                           columns, "DELTA_BINARY_PACKED"))


def drive(rng: np.random.Generator, seconds: float = DRIVE_S) -> Floats:
    """Pedal and road of one drive between two rests."""
    rest = np.zeros(round(120 / GRID_S))
    pieces: list[Floats] = []
    while sum(map(len, pieces)) < (seconds - 600) / GRID_S:
        pieces.append(np.full(int(rng.integers(8, 50)), rng.choice(PEDAL_A)))
    pedal = np.concatenate(pieces)
    road, level = np.empty(len(pedal)), 0.0
    for k, push in enumerate(rng.normal(0, 2.0, len(pedal))):
        level = 0.8 * level + push
        road[k] = level
    return np.concatenate([rest, pedal + np.where(pedal == 0, 0.0, road),
                           np.zeros(round(480 / GRID_S))])


def charge(middle: Cell) -> Floats:
    """Amps of a charger that holds its volts, worked out on a usual cell in the same state."""
    twin = Cell(middle.parameter_set, middle.capacity_ah, middle.contact_mohm, middle.soc,
                middle.state)
    quarter = np.full(round(900 / GRID_S) + 1, CHARGE_A)
    pieces = [np.zeros(round(120 / GRID_S))]
    while True:
        held = twin.state
        volts = twin.advance(quarter)
        if (volts > CHARGED_V).any():
            twin.state = held
            pieces.append(quarter[: int(np.argmax(volts > CHARGED_V))])
            twin.advance(pieces[-1])
            break
        pieces.append(quarter[1:])
    amps = CHARGE_A
    while amps > TAPER_A:  # steps of a minute, as amps fall to keep the volts
        held, step = twin.state, np.full(round(60 / GRID_S) + 1, amps)
        while twin.advance(step)[-1] > CHARGED_V and amps > TAPER_A:
            amps *= 0.97
            twin.state, step = held, np.full(len(step), amps)
        pieces.append(step[1:])
    return np.concatenate([*pieces, np.zeros(round(900 / GRID_S))])


def drive_over_pulse(parameter_set: str, share: float) -> list[float]:
    """Resistance over the pedal's amps against that of one pulse, at 1 s and 10 s.

    Kinetics make a cell's resistance fall with the amps, by a fifth from 10 A to 120 A of 100 Ah:
    one pulse does not speak for a drive, the slope of the volts over its amps does.
    """
    cell = Cell(parameter_set, 100.0 * share, CONTACT_MOHM, 0.65)
    levels = share * np.array(PEDAL_A)
    volts = np.array([cell.pulse_mohm(a) * a if a else np.zeros(2) for a in levels])
    return (np.polyfit(levels, volts, 1)[0] / cell.pulse_mohm()).round(4).tolist()


def week(number: int) -> Week:
    """A full charge, drives until a cell is empty, a full charge; an hour or more between."""
    rng = np.random.default_rng(SEED)
    capacity = 100 * (1 + rng.normal(0, CAPACITY_SHARE, CELLS))
    contact = CONTACT_MOHM + rng.normal(0, RESISTANCE_MOHM, CELLS)
    ahead = rng.normal(0, AHEAD_AH, CELLS)
    rng = np.random.default_rng([SEED, number])
    if number == 2:
        ahead[AHEAD[0] - 1] += AHEAD[1]
        capacity[SMALL[0] - 1] *= 1 - SMALL[1]
        contact[RESISTIVE[0] - 1] += RESISTIVE[1]
    cells = [Cell("Prada2013", float(c), float(r), float(1 - (40.0 - a) / c))
             for c, r, a in zip(capacity, contact, ahead, strict=True)]
    made = Week(cells, 21 * DAY_S * (number - 1))
    made.log("charge", charge(cells[0]))
    for _ in range(DRIVES_MAX):
        made.rest(1.0)
        if made.log("drive", drive(rng)):
            break
    made.rest(1.0)
    made.log("charge", charge(cells[0]))
    made.write(OUT / f"iron_phosphate_week_{number}.parquet")
    made.truth_of = {"capacity_ah": capacity.round(4).tolist(), "ahead_ah": ahead.round(4).tolist(),
                     "contact_mohm": contact.round(5).tolist(),
                     "drive_over_pulse": drive_over_pulse("Prada2013", 1.0)}
    return made


def sloping_drive() -> Week:
    """One drive of fourteen like cells of the other chemistry, from half full."""
    share = 0.6
    made = Week([Cell("Chen2020", 100.0 * share, CONTACT_MOHM, 0.6)], 0.0, alike=14,
                limits_v=(2.5, 4.2))
    made.log("drive", share * drive(np.random.default_rng([SEED, 3])))
    made.write(OUT / "manganese_drive.parquet")
    made.truth_of = {"drive_over_pulse": drive_over_pulse("Chen2020", share)}
    return made


def main() -> None:
    pybamm.set_logging_level("ERROR")
    OUT.mkdir(parents=True, exist_ok=True)
    names = ("iron_phosphate_week_1", "iron_phosphate_week_2", "manganese_drive")
    with ProcessPoolExecutor(2) as pool:
        made = [pool.submit(week, 1), pool.submit(week, 2), pool.submit(sloping_drive)]
        weeks = [each.result() for each in made]
    truth = {name: {**each.truth_of, "logs": each.truth}
             for name, each in zip(names, weeks, strict=True)}
    (OUT / "truth.json").write_text(json.dumps(truth, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
