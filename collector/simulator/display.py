"""What the monitor shows of the truth: dead band, zero error, whole percent, hours left.

The percent counter adds up the amps that it measures, dead band and zero error included, over
a capacity somebody set. It is put right at two moments only: to 100 when a charge ends by
tail or by the board, and to 12 when the lowest cell has been below the knee for half a minute. The
hours left are what is counted as left, over the mean amps of the last five minutes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from .board import LIMITS, Flags, held_samples
from .cell import Floats
from .pack import CELLS, Traces

AMPS_STEP: Final = 0.1
DEAD_BAND_A: Final = 0.2
#: Scatter of the amps and of the cell volts, one standard deviation. Chosen here.
AMPS_NOISE_A: Final = 0.03
CELL_NOISE_V: Final = 0.0004
#: Scatter of a tap that has worked loose.
TAP_NOISE_V: Final = 0.002
KNEE_V: Final = 3.10
KNEE_S: Final = 30.0
KNEE_PCT: Final = 12.0
MEAN_S: Final = 300.0
#: Below these mean amps out no hours are shown; above these hours neither.
LEAST_MEAN_A: Final = 0.5
MOST_HOURS: Final = 99.0

Columns = dict[str, Floats | NDArray[np.object_]]


@dataclass(frozen=True, slots=True)
class Sensing:
    """How the monitor measures on one day."""

    zero_error_a: float = 0.0
    #: Error of each cell's volts, steady over the season. [V]
    cell_error_v: Floats = field(default_factory=lambda: np.zeros(CELLS))
    #: Mirror error of the loose tap between cells 3 and 4. [V]
    tap_v: float = 0.0
    #: What the pack's temperature sensor feels where it hangs in the air; NaN while it is in
    #: its place. [degC]
    sensor_air_c: float = math.nan


@dataclass(frozen=True, slots=True)
class Board:
    """What the board does over a span; every array has shape (n,)."""

    #: No discharging: the board has opened the path, or will not close it.
    is_open: Flags
    is_bleeding: Flags
    is_high_cell: Flags

    @classmethod
    def quiet(cls, samples: int) -> Board:
        """A board that does nothing."""
        no = np.zeros(samples, dtype=bool)
        return cls(no, no, no)

    def cut(self, end: int) -> Board:
        """The first ``end`` samples."""
        return Board(self.is_open[:end], self.is_bleeding[:end], self.is_high_cell[:end])


def measured_a(current_a: Floats | float, zero_error_a: float) -> Floats:
    """Amps as the monitor counts them: zero error added, then the dead band."""
    amps = np.asarray(current_a) + zero_error_a
    return np.asarray(np.where(np.abs(amps) < DEAD_BAND_A, 0.0, amps))


def stand(count_ah: float, current_a: float, seconds: float, sensing: Sensing,
          setting_ah: float) -> float:
    """The counter after hours of standing still. [Ah]"""
    counted = float(measured_a(current_a, sensing.zero_error_a)) * seconds / 3600
    return min(setting_ah, count_ah + counted)


def show(traces: Traces, count_ah: float, sensing: Sensing, board: Board, *,
         setting_ah: Floats, rng: np.random.Generator, step_s: float,
         full_at: int | None = None) -> tuple[Columns, float]:
    """The columns as shown, and the counter at the end.

    Parameters
    ----------
    count_ah
        Charge the counter believes to be left before the first sample. [Ah]
    setting_ah
        Capacity somebody set, shape (n,). [Ah]
    full_at
        Sample at which a charge ends full.
    """
    n = len(traces.current_a)
    amps = measured_a(traces.current_a + rng.normal(0, AMPS_NOISE_A, n), sensing.zero_error_a)
    shown_a = np.round(amps / AMPS_STEP) * AMPS_STEP
    count = _counted(amps, traces.cell_v.min(axis=1), count_ah, setting_ah, step_s, full_at)
    pct = np.round(100 * np.clip(count / setting_ah, 0, 1))
    columns: Columns = {
        "current_a": np.round(shown_a, 1),
        "voltage_v": np.round(traces.voltage_v, 2),
        "soc_pct": pct,
        "time_left_h": hours_left(count, shown_a, step_s),
    }
    columns |= _cells(traces, sensing, rng)
    columns["temp_1_c"] = np.round(traces.temperature_c if math.isnan(sensing.sensor_air_c)
                                   else np.full(n, sensing.sensor_air_c))
    columns["temp_2_c"] = np.round(traces.board_c)
    columns["state"] = _state(shown_a, board)
    columns["fault"] = _fault(traces, board)
    return columns, float(count[-1])


def hours_left(count_ah: Floats, shown_a: Floats, step_s: float) -> Floats:
    """Counted charge over the mean amps out of the last five minutes; NaN while none flow.

    The mean begins anew when the display is switched on. [h]
    """
    width = round(MEAN_S / step_s)
    total = np.concatenate([[0.0], np.cumsum(shown_a)])
    end = np.arange(1, len(total))
    start = np.maximum(0, end - width)
    mean_a = (total[end] - total[start]) / (end - start)
    hours = np.full(len(mean_a), np.nan)
    np.divide(count_ah, -mean_a, out=hours, where=mean_a < -LEAST_MEAN_A)
    return np.where(hours <= MOST_HOURS, np.round(np.maximum(hours, 0), 2), np.nan)


def _counted(amps: Floats, lowest_v: Floats, count_ah: float, setting_ah: Floats, step_s: float,
             full_at: int | None) -> Floats:
    """The counter: a sum held below the setting, begun anew at each moment it is put right."""
    is_knee = held_samples(lowest_v < KNEE_V) * step_s >= KNEE_S
    count = np.empty_like(amps)
    first = 0
    while True:
        run = count_ah + np.cumsum(amps[first:]) * step_s / 3600
        run -= np.maximum.accumulate(np.maximum(run - setting_ah[first:], 0))
        count[first:] = run
        # Half a percent above the mark, so that the counter does not chatter at it.
        knee = is_knee[first:] & (run > (KNEE_PCT + 0.5) / 100 * setting_ah[first:])
        moments = [first + int(np.argmax(knee))] if knee.any() else []
        if full_at is not None and first <= full_at < len(amps):
            moments.append(full_at)
        if not moments:
            return count
        first = min(moments)
        if first == full_at:
            count_ah, full_at = float(setting_ah[first]), None
        else:
            count_ah = KNEE_PCT / 100 * float(setting_ah[first])


def _cells(traces: Traces, sensing: Sensing, rng: np.random.Generator) -> Columns:
    shown = traces.cell_v + sensing.cell_error_v + rng.normal(0, CELL_NOISE_V, traces.cell_v.shape)
    if sensing.tap_v:
        mirror = sensing.tap_v + rng.normal(0, TAP_NOISE_V, len(shown))
        shown[:, 2] += mirror
        shown[:, 3] -= mirror
    shown = np.round(shown, 3)
    return {f"cell_{i + 1:02d}_v": shown[:, i] for i in range(shown.shape[1])}


def _state(shown_a: Floats, board: Board) -> NDArray[np.object_]:
    words = np.where(shown_a < 0, "discharging", np.where(shown_a > 0, "charging", "idle"))
    words = words.astype(object)
    words[board.is_bleeding & (shown_a > 0)] = "charging; bleeding"
    words[board.is_bleeding & (shown_a <= 0)] = "bleeding"
    words[board.is_high_cell] = "charge path open"
    words[board.is_bleeding & board.is_high_cell] = "bleeding; charge path open"
    words[board.is_open] = "discharge path open"
    return words


def _fault(traces: Traces, board: Board) -> NDArray[np.object_]:
    words = np.full(len(board.is_open), "none", dtype=object)
    words[board.is_high_cell] = "cell volts high"
    low = traces.cell_v.min(axis=1) < LIMITS.cell_low_v + 0.3
    words[board.is_open] = np.where(low[board.is_open], "cell volts low", "amps too high")
    return words
