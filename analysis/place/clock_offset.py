"""How far the clocks of two logs are apart: stops of one against the amps of the other.

A vehicle that stands draws next to nothing, and when it sets off the amps rise with it. So the
pattern of standing and moving by speed, and that of resting and drawing by amps, agree best at the
right offset. The likelihood ratio of the 2 x 2 table of both (G statistic; R. R. Sokal and F. J.
Rohlf, *Biometry*, 1981, ch. 17; from memory) is taken at every whole second at once by Fourier
transforms. Then every time the vehicle sets off is set against its nearest rise of the amps, and
the median of their differences is the offset; its interval is by the order statistics of the
median, and no narrower than what a motor takes to move a vehicle.

A track that repeats itself can fit in two places. Then, and with too few stops, the answer is
refused: a wrong minute would put every hill under the wrong amps.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from ..estimate import Answer, Estimate, NoEstimate
from ..telemetry import Floats, Telemetry
from ..timebase import GAP_STEPS, usual_step_s
from .track import with_speed

#: Faster than this is moving. [m/s]
MOVING_M_S: Final = 0.5
#: Fewer amps than this, or than a tenth of the hard pulls, is rest. [A]
REST_A, REST_SHARE = 2.0, 0.1
#: A stop or a pull shorter than this is smoothed away. [s]
LEAST_S: Final = 4
#: Clocks further apart than this, a zone at most, are not looked for. [s]
SEARCH_S: Final = 15 * 3600.0
#: Stops that both logs must hold. Of 600 pairs of a drive with the speed of another (the set of
#: which two lie in tests/data/real_drives) 6 were joined by mistake with these limits, of 100 true
#: pairs at four offsets 50 were joined, none of them wrong, and the others refused.
STARTS_MIN: Final = 3
#: Of the times that the vehicle set off, so many must show in the amps.
STARTS_SHARE: Final = 0.6
#: The two patterns must agree in this share of their mutual information ...
AGREEMENT_MIN: Final = 0.25
#: ... and the next best offset, this far away, may reach this share of the best. [s]
RIVAL_MAX, RIVAL_S = 0.7, 20
#: A rise of the amps this near to a setting off belongs to it. [s]
NEAR_S: Final = 8.0
#: Between the amps and the first movement that speed shows (common practice, no source). [s]
REACTION_S: Final = 0.5

_REFUSED: Final = ("say how far with --offset, or stop and set off three times while both are "
                   "recording")
_Signs = NDArray[np.float64]


def clock_offset_s(pack: Telemetry, place: Telemetry) -> Answer:
    """Seconds to add to the place log's clock so that it agrees with the pack log's. [s]

    Parameters
    ----------
    pack
        A log with amps, in whatever sign.
    place
        A log with speed, or with places.

    Notes
    -----
    Unseen time, of either log, says nothing and is left out at every offset.
    """
    place = with_speed(place)
    if "current_a" not in pack or "speed_m_s" not in place:
        return NoEstimate("one log has no amps, or the other neither speed nor place",
                          "log both while driving")
    began = (place.start - pack.start).total_seconds()
    draws = _pattern(pack.elapsed_s, np.abs(pack["current_a"]), _rest_a(pack["current_a"]))
    moves = _pattern(place.elapsed_s, place["speed_m_s"], MOVING_M_S)
    shift = _best_shift(draws, moves, began)
    if isinstance(shift, NoEstimate):
        return shift
    return _refined(draws, moves, began, shift)


def _rest_a(current_a: Floats) -> float:
    size = np.abs(current_a[np.isfinite(current_a)])
    return max(REST_A, REST_SHARE * float(np.quantile(size, 0.95)))


def _pattern(elapsed_s: Floats, values: Floats, limit: float) -> _Signs:
    """+1 above the limit, -1 below, 0 where nobody knows; second by second.

    A second is what most of the ``LEAST_S`` around it are.
    """
    known = np.isfinite(values)
    time_s, values = elapsed_s[known], values[known]
    grid = np.arange(0.0, float(elapsed_s[-1]) + 1.0)
    row = np.clip(np.searchsorted(time_s, grid, side="right") - 1, 0, None)
    age_s = grid - time_s[row]
    seen = (age_s >= 0) & (age_s <= max(GAP_STEPS * usual_step_s(time_s), 1.0))
    signs = np.where(seen, np.where(values[row] > limit, 1.0, -1.0), 0.0)
    summed = np.convolve(signs, np.ones(LEAST_S + 1), mode="same")
    return np.where(signs != 0, np.sign(summed), 0.0)


def _best_shift(draws: _Signs, moves: _Signs, began_s: float) -> int | NoEstimate:
    """Where the place log's first second lies on the pack log's, or why that cannot be told."""
    pairs = {(a, b): _overlaps(draws == a, moves == b) for a in (1, -1) for b in (1, -1)}
    shifts = np.arange(len(draws) + len(moves) - 1) - (len(moves) - 1)
    score, agreement = _likelihood(pairs)
    allowed = np.abs(shifts - began_s) <= SEARCH_S
    score = np.where(allowed, score, 0.0)
    best = int(np.argmax(score))
    if score[best] <= 0 or agreement[best] < AGREEMENT_MIN:
        return NoEstimate("the stops of one log are not those of the other", _REFUSED)
    away = np.abs(shifts - shifts[best]) > RIVAL_S
    rival = float(score[away].max(initial=0.0))
    if rival > RIVAL_MAX * score[best]:
        other = int(shifts[np.argmax(np.where(away, score, 0.0))] - shifts[best])
        return NoEstimate(f"the stops fit as well {abs(other)} s apart", _REFUSED)
    return int(shifts[best])


def _overlaps(fixed: NDArray[np.bool_], moved: NDArray[np.bool_]) -> Floats:
    """Seconds in which both hold, at every shift."""
    size = len(fixed) + len(moved) - 1
    product = np.fft.rfft(fixed.astype(float), size) * np.fft.rfft(
        moved[::-1].astype(float), size)
    return np.asarray(np.rint(np.fft.irfft(product, size)))


def _likelihood(pairs: dict[tuple[int, int], Floats]) -> tuple[Floats, Floats]:
    """G statistic of each shift where moving goes with drawing, and its share of the most."""
    total = sum(pairs.values(), np.zeros(1))
    rows = {a: pairs[a, 1] + pairs[a, -1] for a in (1, -1)}
    columns = {b: pairs[1, b] + pairs[-1, b] for b in (1, -1)}
    g, most = np.zeros_like(total), np.zeros_like(total)
    for (a, b), count in pairs.items():
        with np.errstate(divide="ignore", invalid="ignore"):
            expected = rows[a] * columns[b] / total
            g += np.where(count > 0, count * np.log(count / expected), 0.0)
    for side in (1, -1):
        with np.errstate(divide="ignore", invalid="ignore"):
            most -= np.where(columns[side] > 0, columns[side] * np.log(columns[side] / total), 0.0)
    together = pairs[1, 1] * pairs[-1, -1] > pairs[1, -1] * pairs[-1, 1]
    return np.where(together, g, 0.0), np.where(most > 0, g / np.maximum(most, 1e-9), 0.0)


def _refined(draws: _Signs, moves: _Signs, began_s: float, shift: int) -> Answer:
    """The median lead of the amps over the movement, added to the shift."""
    rises = _rises(draws)
    starts = _rises(moves) + shift
    if len(rises) and len(starts):
        nearest = rises[np.argmin(np.abs(rises[:, None] - starts[None, :]), axis=0)]
        leads = np.sort((nearest - starts)[np.abs(nearest - starts) <= NEAR_S])
    else:
        leads = np.empty(0)
    within = np.count_nonzero((starts >= 0) & (starts < len(draws)))
    if len(leads) >= STARTS_MIN and len(leads) < STARTS_SHARE * within:
        return NoEstimate(f"of {within} times the vehicle set off only {len(leads)} show in the "
                          "amps", _REFUSED)
    if len(leads) < STARTS_MIN:
        return NoEstimate(f"only {len(leads)} times the vehicle set off in both logs", _REFUSED)
    low, high = _median_interval(leads)
    # The shift puts movement at its amps; movement is REACTION_S later, give or take twice as much.
    half = float(np.hypot((high - low) / 2, 2 * REACTION_S))
    return Estimate.around(shift - began_s + float(np.median(leads)) + REACTION_S, half, "s")


def _rises(pattern: _Signs) -> NDArray[np.intp]:
    """Seconds at which -1 turns into +1."""
    return np.flatnonzero((pattern[1:] == 1) & (pattern[:-1] == -1)) + 1


def _median_interval(ordered: Floats) -> tuple[float, float]:
    """Order statistics around the median, 95 % by the normal approximation of the sign test."""
    count = len(ordered)
    reach = round(1.96 * np.sqrt(count) / 2)
    middle = (count - 1) / 2
    return (float(ordered[max(int(np.floor(middle - reach)), 0)]),
            float(ordered[min(int(np.ceil(middle + reach)), count - 1)]))
