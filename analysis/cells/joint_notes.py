"""Joints from notes: millivolts, infra-red and torque of each, paired, compared with their like."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median
from typing import Final, Literal

from ..estimate import Answer, Estimate, NoEstimate, Verdict
from .joints import (
    Joint,
    JointReading,
    before_and_after,
    joint_heat,
    rank_joints,
)

JointNoteKind = Literal["millivolts", "surface_c", "torque_nm", "made_anew"]

#: Surfaces are compared if they were read within this time of each other. [s]
TOGETHER_S: Final = 1800.0
#: Warmer than its like by this much at like load, a joint is probably bad (ANSI/NETA MTS, table
#: of thermographic actions, between similar components: 4 to 15 K; from memory). [K]
WARMER_K: Final = 4.0


@dataclass(frozen=True, slots=True)
class JointNote:
    """One hand reading at a joint, or the word that it was made anew."""

    joint: str
    #: Unix time. [s]
    time_s: float
    kind: JointNoteKind
    #: In the unit of the kind; NaN for ``made_anew``.
    value: float = math.nan
    #: Pack amps at that moment, either sign; NaN where no log covers it. [A]
    current_a: float = math.nan


@dataclass(frozen=True, slots=True)
class NotedJoint:
    """Everything that the notes say of one joint in its present state."""

    joint: Joint
    #: Heat at the amps of its last reading. [W]
    heat_then_w: Answer
    #: Resistance before it was made anew; ``None`` if it never was, or was not read before.
    before_mohm: Estimate | None
    #: Last surface temperature [degC], and above the middle of its like [K]; NaN if not read.
    surface_c: float
    warmer_k: float
    #: Last torque; NaN if not noted. [N m]
    torque_nm: float
    #: Last millivolts and the amps of that moment; NaN where there are none.
    millivolts: float
    current_a: float

    @property
    def verdict(self) -> Verdict:
        """Is it good?"""
        if isinstance(self.joint.resistance_mohm, NoEstimate):
            return "no" if self.warmer_k >= WARMER_K else "cannot tell yet"
        if self.joint.is_suspect or self.warmer_k >= WARMER_K:
            return "no"
        return "yes" if self.joint.grade == "good" else "cannot tell yet"

    @property
    def next(self) -> str:
        """The next cheapest step."""
        if isinstance(self.joint.resistance_mohm, NoEstimate):
            return f"millivolts across {self.joint.joint} at a steady 20 A or more, while recording"
        if self.verdict == "no":
            return (f"with everything switched off, make {self.joint.joint} anew as the maker "
                    "says, note it, and read it again at the same amps")
        if not math.isfinite(self.joint.times_usual):
            return f"read the twin of {self.joint.joint} at the same amps"
        return "read it again after a month of driving"


@dataclass(frozen=True, slots=True)
class JointReport:
    """Every joint, the hottest at the worst amps first."""

    joints: tuple[NotedJoint, ...]
    #: Worst RMS of ten minutes; NaN if no log tells. [A]
    worst_rms_a: float


def ranked_joints(notes: Sequence[JointNote], worst_rms_a: float) -> JointReport:
    """Joints by their heat at the worst RMS amps.

    Joints whose names end in the same word are alike: ``main minus lug`` and ``main plus lug``.
    Readings from before a joint was last made anew, or tightened, count as before only.

    Parameters
    ----------
    notes
        In any order.
    worst_rms_a
        Of ten minutes; NaN ranks by resistance. [A]
    """
    ordered = sorted(notes, key=lambda note: note.time_s)
    names = list(dict.fromkeys(note.joint for note in ordered if note.kind in (
        "millivolts", "surface_c")))
    anew = {name: _made_anew_s(ordered, name) for name in names}
    now = [note for note in ordered if note.joint in anew and note.time_s >= anew[note.joint]]
    rms_a = worst_rms_a if math.isfinite(worst_rms_a) else 0.0
    ranked = rank_joints(_readings(now), rms_a)
    ranked += [_unread(name) for name in names if name not in {j.joint for j in ranked}]
    return JointReport(tuple(_noted(joint, now, ordered, anew[joint.joint]) for joint in sorted(
        ranked, key=_hotness)), worst_rms_a)


def like_of(joint: str) -> str:
    """The last word of a joint's name: joints of one such word are compared."""
    return joint.rsplit(maxsplit=1)[-1].lower() if joint.strip() else ""


def _made_anew_s(notes: Sequence[JointNote], joint: str) -> float:
    return max((n.time_s for n in notes if n.joint == joint and n.kind == "made_anew"),
               default=-math.inf)


def _readings(notes: Sequence[JointNote]) -> list[JointReading]:
    # Amps that nobody knows are no amps: the joint then says what to do.
    return [JointReading(n.joint, n.time_s, n.value,
                         n.current_a if math.isfinite(n.current_a) else 0.0, like_of(n.joint))
            for n in notes if n.kind == "millivolts"]


def _unread(name: str) -> Joint:
    missing = NoEstimate("its millivolts were not read since it was made",
                         "read them at a steady 20 A or more")
    return Joint(name, like_of(name), missing, missing, None, math.nan,
                 f"{name}: cannot tell: {missing.reason}")


def _hotness(joint: Joint) -> tuple[float, float]:
    heat, ohms = joint.heat_w, joint.resistance_mohm
    return (-heat.value if isinstance(heat, Estimate) else 1.0,
            -ohms.value if isinstance(ohms, Estimate) else 1.0)


def _noted(joint: Joint, now: Sequence[JointNote], ordered: Sequence[JointNote],
           anew_s: float) -> NotedJoint:
    own = [note for note in now if note.joint == joint.joint]
    read = [note for note in own if note.kind == "millivolts"]
    ohms, amps = joint.resistance_mohm, read[-1].current_a if read else math.nan
    heat: Answer = (joint_heat(ohms, abs(amps)) if isinstance(ohms, Estimate)
                    and math.isfinite(amps) else joint.heat_w)
    return NotedJoint(joint, heat, _before(ordered, joint.joint, anew_s),
                      _last(own, "surface_c"), _warmer_k(own, now), _last(own, "torque_nm"),
                      _last(own, "millivolts"), amps)


def _before(ordered: Sequence[JointNote], joint: str, anew_s: float) -> Estimate | None:
    own = _readings([note for note in ordered if note.joint == joint])
    if not math.isfinite(anew_s):
        return None
    old, _ = before_and_after(own, anew_s)
    return old if isinstance(old, Estimate) else None


def _last(notes: Sequence[JointNote], kind: JointNoteKind) -> float:
    return next((note.value for note in reversed(notes) if note.kind == kind), math.nan)


def _warmer_k(own: Sequence[JointNote], now: Sequence[JointNote]) -> float:
    """Above the middle of its like, read at about the same time."""
    last = next((note for note in reversed(own) if note.kind == "surface_c"), None)
    if last is None:
        return math.nan
    mates = {note.joint: note.value for note in now if note.kind == "surface_c"
             and note.joint != last.joint and like_of(note.joint) == like_of(last.joint)
             and abs(note.time_s - last.time_s) <= TOGETHER_S}
    return last.value - median(mates.values()) if mates else math.nan
