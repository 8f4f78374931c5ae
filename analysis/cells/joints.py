"""Joints from hand readings: milliohms from millivolts and amps, watts at the worst, ranked.

    R = dU / dI,   P = R I_rms^2

Two readings of one joint at different amps give the slope, which takes the meter's own zero out;
one reading gives the quotient. Like is compared with like: a joint far above the median of its
kind is suspect whatever its size.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

import numpy as np

from ..estimate import Answer, Estimate, NoEstimate

Grade = Literal["good", "watch", "act"]

#: Bounds of the grades for joints of 20 to 150 A (common practice, no source). [mohm]
WATCH_MOHM, ACT_MOHM = 0.2, 0.5
#: Above this many times the median of its kind a joint is suspect (common practice, no source).
SUSPECT_TIMES: Final = 1.5
#: What a hand meter and a moving amp reading may be wrong by (common practice, no source).
METER_MV: Final = 0.3
AMPS_SHARE: Final = 0.03


@dataclass(frozen=True, slots=True)
class JointReading:
    """One hand reading across one joint."""

    joint: str
    #: Unix time. [s]
    time_s: float
    millivolts: float
    #: Pack amps at that moment; the sign does not matter. [A]
    current_a: float
    #: Joints of one kind are compared ("lug", "busbar"); empty is a kind too.
    kind: str = ""


@dataclass(frozen=True, slots=True)
class Joint:
    """What the readings of one joint say."""

    joint: str
    kind: str
    resistance_mohm: Answer
    #: Heat at the worst RMS amps. [W]
    heat_w: Answer
    grade: Grade | None
    #: Against the median of the other joints of its kind; NaN without another.
    times_usual: float
    words: str

    @property
    def is_suspect(self) -> bool:
        return self.grade == "act" or self.times_usual > SUSPECT_TIMES

    def as_json(self) -> dict[str, Any]:
        times = self.times_usual
        return {"joint": self.joint, "kind": self.kind, "grade": self.grade,
                "resistance_mohm": self.resistance_mohm.as_json(),
                "heat_w": self.heat_w.as_json(),
                "times_usual": times if math.isfinite(times) else None, "words": self.words}


def joint_resistance(readings: Sequence[JointReading]) -> Answer:
    """Resistance of a joint. [mohm]

    With amps that differ by a factor of 1.5 or more the slope of a straight line, else the mean
    of the quotients; the interval is 95 % from what meter and amps may be wrong by.
    """
    amps = np.abs([r.current_a for r in readings])
    volts = np.abs([r.millivolts for r in readings])
    usable = amps >= 1
    if not usable.any():
        return NoEstimate("no amps flowed while it was read",
                          "read it again at a steady 20 A or more")
    amps, volts = amps[usable], volts[usable]
    sd_mv = np.hypot(METER_MV, AMPS_SHARE * volts)
    if len(amps) > 1 and amps.max() >= 1.5 * amps.min():
        weight = 1 / np.square(sd_mv)
        centred = amps - np.average(amps, weights=weight)
        power = float((weight * centred ** 2).sum())
        value, sd = float((weight * centred * volts).sum() / power), power ** -0.5
    else:
        value = float((volts / amps).mean())
        sd = float((sd_mv / amps).mean()) / math.sqrt(len(amps))
    return Estimate(max(value, 0.0), max(value - 2 * sd, 0.0), max(value + 2 * sd, 0.0), "mohm")


def joint_heat(resistance_mohm: Estimate, rms_a: float) -> Estimate:
    """Heat of a joint at RMS amps. [W]"""
    return resistance_mohm.scaled(rms_a ** 2 / 1000, "W")


def rank_joints(readings: Iterable[JointReading], rms_a: float) -> list[Joint]:
    """Every joint by its heat at the worst RMS amps, hottest first; unknown ones last.

    Parameters
    ----------
    readings
        Of the present state: leave out those from before a joint was made anew.
    rms_a
        Worst RMS amps of ten minutes. [A]
    """
    by_joint: dict[str, list[JointReading]] = {}
    for reading in readings:
        by_joint.setdefault(reading.joint, []).append(reading)
    known = {name: joint_resistance(group) for name, group in by_joint.items()}
    joints = [_joint(name, by_joint[name][-1].kind, known, by_joint, rms_a) for name in known]
    return sorted(joints, key=lambda j: -(j.heat_w.value if isinstance(j.heat_w, Estimate)
                                          else -1.0))


def before_and_after(readings: Sequence[JointReading], made_anew_s: float) -> tuple[Answer, Answer]:
    """Resistance of one joint before and after the moment it was made anew. [mohm]"""
    return (joint_resistance([r for r in readings if r.time_s < made_anew_s]),
            joint_resistance([r for r in readings if r.time_s >= made_anew_s]))


def _joint(name: str, kind: str, known: dict[str, Answer],
           by_joint: dict[str, list[JointReading]], rms_a: float) -> Joint:
    own = known[name]
    if isinstance(own, NoEstimate):
        return Joint(name, kind, own, own, None, math.nan, f"{name}: cannot tell: {own.reason}")
    mates = [other.value for mate, other in known.items() if mate != name
             and by_joint[mate][-1].kind == kind and isinstance(other, Estimate)]
    usual = float(np.median(mates)) if mates else math.nan
    times = own.value / usual if usual > 0 else math.nan
    heat = joint_heat(own, rms_a)
    grade: Grade = "act" if own.value > ACT_MOHM else (
        "watch" if own.value > WATCH_MOHM else "good")
    against = f", {times:.0f} times its like" if times > SUSPECT_TIMES else ""
    told = {"good": "good", "watch": "watch it", "act": "make it anew"}[grade]
    return Joint(name, kind, own, heat, grade, times,
                 f"{name}: {own.value:.2f} mΩ{against}, {heat.value:.1f} W at {rms_a:.0f} A: "
                 f"{told}")
