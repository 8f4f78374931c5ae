"""Quillet Isle: the way between jetty and yard, and a cart's motion along it.

The jetty lies at 2 m, the yard at 31 m. Position is counted from the jetty, in metres.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from .cell import Floats


@dataclass(frozen=True, slots=True)
class Section:
    """A stretch of one surface and one slope."""

    name: str
    length_m: float
    #: Rise over run.
    grade: float
    #: Rolling resistance: concrete 0.015 (cars on concrete, lecture after Wong and Taborek),
    #: gravel 0.030 (between rolled new 0.01 and loose worn 0.04, Carvill).
    rolling: float


SECTIONS: Final = (
    Section("shore road", 340, 0.0, 0.015),
    Section("ramp", 130, 0.105, 0.015),
    Section("lane", 480, 0.032, 0.030),
)
WAY_M: Final = sum(section.length_m for section in SECTIONS)
JETTY_M: Final = 2.0
CRAWL_M: Final = 40.0
CRAWL_KMH: Final = 4.0
#: Speeds section by section. [km/h]
UP_KMH: Final = (14.0, 7.0, 10.0)
DOWN_KMH: Final = (14.0, 9.0, 11.0)
#: How briskly the driver changes speed. [m/s2]
BRISK_M_S2: Final = 0.35

_BORDERS: Final = np.cumsum([section.length_m for section in SECTIONS])
_RISES: Final = np.cumsum([s.length_m * s.grade for s in SECTIONS])


def section_index(position_m: Floats) -> np.ndarray[tuple[int, ...], np.dtype[np.intp]]:
    """Which of ``SECTIONS`` each position lies in; the ends belong to the nearest."""
    return np.minimum(np.searchsorted(_BORDERS, position_m, "right"), len(SECTIONS) - 1)


def grade(position_m: Floats) -> Floats:
    """Rise over run on the way up."""
    return np.array([s.grade for s in SECTIONS])[section_index(position_m)]


def rolling(position_m: Floats) -> Floats:
    """Rolling resistance of the surface."""
    return np.array([s.rolling for s in SECTIONS])[section_index(position_m)]


def elevation_m(position_m: Floats) -> Floats:
    """Height above the sea."""
    return np.asarray(JETTY_M + np.interp(position_m, [0, *_BORDERS], [0, *_RISES]))


@dataclass(frozen=True, slots=True)
class Stage:
    """From where the last stage ended: change to a speed, keep it until a distance is covered.

    A speed of 0 means: stop and stand for ``wait_s``.
    """

    speed_m_s: float
    until_m: float
    change_m_s2: float = BRISK_M_S2
    wait_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Motion:
    """Speed along the way, a sample each step; every array has shape (n,)."""

    speed_m_s: Floats
    #: Distance covered since the start of the motion.
    covered_m: Floats
    acceleration_m_s2: Floats


def travel(stages: Sequence[Stage], step_s: float) -> Motion:
    """Drive through the stages from a standstill, sampled evenly in time.

    Speed is a straight line between knots, so distance is exact: each stage ends where it says.
    """
    knots = [(0.0, 0.0, 0.0)]
    for stage in stages:
        knots += _stage_knots(knots[-1], stage)
    time_s, speed, covered = (np.array(column) for column in zip(*knots, strict=True))
    at = np.arange(0, time_s[-1], step_s)
    k = np.clip(np.searchsorted(time_s, at, "right") - 1, 0, len(time_s) - 2)
    span = np.maximum(np.diff(time_s), 1e-9)
    acceleration = (np.diff(speed) / span)[k]
    since = at - time_s[k]
    return Motion(speed[k] + acceleration * since,
                  covered[k] + speed[k] * since + acceleration * since ** 2 / 2, acceleration)


def _stage_knots(last: tuple[float, float, float],
                 stage: Stage) -> list[tuple[float, float, float]]:
    """Time, speed and distance where the speed is reached, and where the stage ends."""
    time_s, speed, covered = last
    change_s = abs(stage.speed_m_s - speed) / stage.change_m_s2
    reached = (time_s + change_s, stage.speed_m_s,
               covered + change_s * (speed + stage.speed_m_s) / 2)
    if stage.speed_m_s == 0:
        return [reached, (reached[0] + stage.wait_s, 0.0, reached[2])]
    left_m = max(0.0, stage.until_m - reached[2])
    return [reached, (reached[0] + left_m / stage.speed_m_s, stage.speed_m_s, reached[2] + left_m)]


def stages_up(share: float = 1.0, *, stop_at_m: float | None = None,
              stop_s: float = 0.0) -> list[Stage]:
    """Jetty to yard at ``share`` of the usual speeds, with an unwanted stop if one is given."""
    ends = _BORDERS - [0, 0, _braking_m(UP_KMH[2] * share)]
    stages = [Stage(CRAWL_KMH / 3.6, CRAWL_M)]
    for kmh, end_m in zip(UP_KMH, ends, strict=True):
        speed = kmh * share / 3.6
        if stop_at_m is not None and stages[-1].until_m < stop_at_m < end_m:
            stages += [Stage(speed, stop_at_m - _braking_m(kmh * share)),
                       Stage(0.0, stop_at_m, wait_s=stop_s)]
        stages.append(Stage(speed, float(end_m)))
    return [*stages, Stage(0.0, WAY_M)]


def stages_down(share: float, coasting_m_s2: float) -> list[Stage]:
    """Yard to jetty; the cart coasts from the shore road into the crawl."""
    lane, ramp = SECTIONS[2].length_m, SECTIONS[1].length_m
    shore, slope, gravel = (kmh * share / 3.6 for kmh in DOWN_KMH)
    crawl = CRAWL_KMH / 3.6
    coast_m = (shore ** 2 - crawl ** 2) / 2 / coasting_m_s2
    return [Stage(gravel, lane), Stage(slope, lane + ramp),
            Stage(shore, WAY_M - CRAWL_M - coast_m),
            Stage(crawl, WAY_M - _braking_m(CRAWL_KMH), coasting_m_s2), Stage(0.0, WAY_M)]


def _braking_m(kmh: float) -> float:
    return (kmh / 3.6) ** 2 / 2 / BRISK_M_S2
