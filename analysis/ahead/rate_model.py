"""What the next stretch will take: a level that wanders, cold, load, wind, and scatter.

The log of each run's rate is

    ln r_i = level_i + c max(0, 20 degC - T_i) + m dM_i + w W_i + e_i,  e_i ~ N(0, s^2 n_i)

with ``T`` the air, ``dM`` the load above the usual and ``W`` the wind where they are noted. The
scatter of a run of extent ``L`` has a part that goes with the drive and one that averages out
along the way, ``n = a + (1 - a) L0 / L`` with ``L0`` the usual extent; a stretch of several runs
averages both. The level walks by ``s^2 L / (k L0)`` per extent ``L``. How fast, nobody knows
beforehand: several memories ``k`` run side by side and are weighed by how well each foretold the
runs so far. ``s`` is unknown with a normal-inverse-gamma prior, and every memory is updated in
closed form (M. West, J. Harrison, *Bayesian Forecasting and Dynamic Models*, 1997, ch. 4 and 12;
from memory). A prediction is Student's t with the spread of all memories.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Self

import numpy as np

from ..telemetry import Floats
from .consumption import Conditions, Run

#: Below this the cold costs. [degC]
WARM_C: Final = 20.0
#: What a kelvin of cold adds before own drives tell: thicker air and stiffer tyres make about
#: half a percent, a heated cabin twice that or more (common practice, no source). [1/K]
COLD_PER_K, COLD_PER_K_SD = 0.01, 0.01
#: The part of the consumption that goes with the mass (rolling and climbing, not air and
#: standing); and the mass where nobody told it. Chosen here for slow vehicles. [parts, kg]
MASS_SHARE, MASS_SHARE_SD = 0.8, 0.25
UNKNOWN_MASS_KG: Final = 1000.0
#: What a metre per second of wind adds, its direction unknown. Chosen here. [s/m]
WIND_PER_M_S, WIND_PER_M_S_SD = 0.01, 0.015
#: Runs of one vehicle scatter by about this before own drives tell, worth so many runs: 10 to 16 %
#: on 60 recorded drives of a car. [parts]
SCATTER, SCATTER_RUNS = 0.15, 4.0
#: The scatter is of so many runs at most: older ones fade.
SCATTER_MEMORY: Final = 60.0
#: The part of a run's scatter that a longer drive does not average out (driver, load, weather).
#: Chosen by how well it foretold drives of two cars, a quadricycle and scooters.
DRIVE_SHARE: Final = 0.3
#: Memories of the level in usual runs, and what each is worth before own drives tell: until they
#: do, the forecast follows the last runs.
MEMORIES: Final = (2.0, 8.0, 32.0, 128.0)
MEMORY_WORTH: Final = (0.5, 0.25, 0.15, 0.1)
#: What is usual in extent comes from so many first runs.
LEARNING_RUNS: Final = 8


@dataclass(frozen=True)
class RateModel:
    """What is believed of the rate after some runs: one row for each memory."""

    #: Level (log of the rate), cost of cold, load and wind, shape (memories, 4); covariance in
    #: units of ``scatter**2``, shape (memories, 4, 4).
    mean: Floats
    spread: Floats
    scatter: Floats
    #: What each memory is worth; their sum is 1.
    worth: Floats
    freedom: float
    usual_extent: float

    @classmethod
    def begin(cls, run: Run, usual_extent: float, mass_kg: float | None = None) -> Self:
        """After the first run, before which nothing was known of the level."""
        mass = mass_kg or UNKNOWN_MASS_KG
        costs = np.array([COLD_PER_K, MASS_SHARE / mass, WIND_PER_M_S])
        sd = np.array([COLD_PER_K_SD, (MASS_SHARE_SD if mass_kg else MASS_SHARE) / mass,
                       WIND_PER_M_S_SD])
        met, own = _row(run.met)[1:], np.diag(np.square(sd / SCATTER))
        spread = np.empty((4, 4))
        spread[1:, 1:] = own
        spread[0, 1:] = spread[1:, 0] = -own @ met
        spread[0, 0] = met @ own @ met + run_noise(run.extent, usual_extent)
        mean = np.concatenate(([math.log(run.rate) - met @ costs], costs))
        model = cls(np.tile(mean, (len(MEMORIES), 1)), np.tile(spread, (len(MEMORIES), 1, 1)),
                    np.full(len(MEMORIES), SCATTER), np.array(MEMORY_WORTH), SCATTER_RUNS,
                    usual_extent)
        return model._walked(run.extent)

    @classmethod
    def learnt(cls, runs: Sequence[Run], mass_kg: float | None = None) -> Self:
        """After these runs, oldest first; at least one."""
        usual = float(np.median([run.extent for run in runs[:LEARNING_RUNS]]))
        model = cls.begin(runs[0], usual, mass_kg)
        for run in runs[1:]:
            model = model.after(run)
        return model

    def after(self, run: Run) -> Self:
        """With one more run."""
        x = _row(run.met)
        lean = self.spread @ x
        total = lean @ x + run_noise(run.extent, self.usual_extent)
        miss = math.log(run.rate) - self.mean @ x
        likely = _log_t(miss, self.scatter * np.sqrt(total), self.freedom)
        worth = self.worth * np.exp(likely - likely.max())
        freedom = min(self.freedom + 1, SCATTER_MEMORY)
        squares = np.square(self.scatter) * (freedom - 1) + np.square(miss) / total
        gain = lean / total[:, None]
        learnt = replace(self, mean=self.mean + gain * miss[:, None],
                         spread=self.spread - gain[:, :, None] * lean[:, None, :],
                         scatter=np.sqrt(squares / freedom), worth=worth / worth.sum(),
                         freedom=freedom)
        return learnt._walked(run.extent)

    def _walked(self, extent: float) -> Self:
        """With the level less sure by what it may have walked along the way."""
        spread = self.spread.copy()
        spread[:, 0, 0] += extent / (np.array(MEMORIES) * self.usual_extent)
        return replace(self, spread=spread)

    @property
    def costs(self) -> Floats:
        """What a kelvin of cold, a kilogram and a metre per second of wind add. [parts]"""
        return np.asarray(self.worth @ self.mean[:, 1:])

    def ahead(self, extent: float, met: Conditions, *,
              is_one_run: bool = False) -> tuple[float, float]:
        """Log of the rate over the next ``extent``, and its scale for Student's t.

        A stretch longer than usual is of several runs, unless ``is_one_run``.
        """
        usual, x = self.usual_extent, _row(met)
        noise = usual / extent if extent > usual and not is_one_run else run_noise(extent, usual)
        # The mean of a walk over a stretch varies by a third of its end.
        walk = extent / (np.array(MEMORIES) * usual) / 3
        variances = np.square(self.scatter) * (self.spread @ x @ x + noise + walk)
        levels = self.mean @ x
        level = float(self.worth @ levels)
        return level, math.sqrt(float(self.worth @ (variances + np.square(levels - level))))


def run_noise(extent: float, usual_extent: float) -> float:
    """The variance of one run in units of that of a usual one."""
    return DRIVE_SHARE + (1 - DRIVE_SHARE) * usual_extent / extent


def _row(met: Conditions) -> Floats:
    """What is not known counts as the usual."""
    figures = (max(0.0, WARM_C - met.temp_c), met.extra_load_kg, met.wind_m_s)
    return np.array([1.0, *(f if math.isfinite(f) else 0.0 for f in figures)])


def _log_t(miss: Floats, scale: Floats, freedom: float) -> Floats:
    """Log density of Student's t, but for a constant that all memories share."""
    density = -np.log(scale) - (freedom + 1) / 2 * np.log1p(np.square(miss / scale) / freedom)
    return np.asarray(density)
