"""The answer of ``packhand joints``: as a person reads it, and as a document."""

from __future__ import annotations

import math
from typing import Any, Final

from ..estimate import Answer, NoEstimate
from ..phrases import unit_text
from .joint_notes import JointReport, NotedJoint

CAUTION: Final = (
    "Never measure under way: wheels clear of the ground, or the boat tied up fast; hands clear of "
    "what turns. Live metal and hot parts: insulated tools, no rings, one hand. Tighten only with "
    "everything switched off, to the maker's torque; ask a licensed electrician where the law "
    "does.")
_NOTHING: Final = (
    "Cannot tell yet: no joint was read. Next: while it records under a steady load, on stands "
    "or tied up, with a helper at pedal or throttle, hold a meter across a joint and note it: "
    "packhand note joint-millivolts 12mV --joint \"main minus lug\"")


def joints_text(report: JointReport) -> str:
    """Joints, the hottest at the worst amps first, then what to do, then the caution."""
    if not report.joints:
        return f"{_NOTHING}\n\n{CAUTION}"
    width = max(len(joint.joint.joint) for joint in report.joints)
    lines = [_opening(report), ""]
    lines += [_line(joint, width) for joint in report.joints]
    lines += ["", *(f"{joint.verdict}: {joint.joint.joint}; next: {joint.next}"
                    for joint in report.joints if joint.verdict != "yes")]
    return "\n".join([*lines, "", CAUTION]).replace("\n\n\n", "\n\n")


def joints_json(report: JointReport) -> dict[str, Any]:
    """The document of ``packhand joints --json``."""
    return {"schema": "packhand.joints/1", "worst_rms_a": _or_none(report.worst_rms_a),
            "joints": [_joint_json(joint) for joint in report.joints], "caution": CAUTION}


def _joint_json(noted: NotedJoint) -> dict[str, Any]:
    return noted.joint.as_json() | {
        "verdict": noted.verdict, "next": noted.next,
        "heat_at_reading_w": noted.heat_then_w.as_json(),
        "before_mohm": noted.before_mohm and noted.before_mohm.as_json(),
        "surface_c": _or_none(noted.surface_c), "warmer_k": _or_none(noted.warmer_k),
        "torque_nm": _or_none(noted.torque_nm), "millivolts": _or_none(noted.millivolts),
        "current_a": _or_none(noted.current_a)}


def _opening(report: JointReport) -> str:
    bad = [joint.joint.joint for joint in report.joints if joint.verdict == "no"]
    if bad:
        return f"{len(bad)} of {len(report.joints)} joints need work, the hottest first: {bad[0]}."
    if any(joint.verdict == "cannot tell yet" for joint in report.joints):
        return f"No joint of {len(report.joints)} is known to be bad; not all can be told yet."
    return all_good(len(report.joints))


def all_good(count: int) -> str:
    """What is said where no joint that was read is bad."""
    if count == 1:
        return "The joint that was read is good."
    which = "Both" if count == 2 else f"All {count}"
    return f"{which} joints that were read are good."


def _line(noted: NotedJoint, width: int) -> str:
    joint = noted.joint
    parts = [_shown(joint.resistance_mohm, 2)]
    if not isinstance(joint.heat_w, NoEstimate) and joint.heat_w.value > 0:
        parts.append(f"{_shown(joint.heat_w, 1)} at the worst amps")
    if math.isfinite(joint.times_usual):
        parts.append(f"{joint.times_usual:.1f} times its like")
    if math.isfinite(noted.warmer_k):
        parts.append(f"{noted.warmer_k:+.0f} K against its like".replace("-", "−"))
    if noted.before_mohm:
        parts.append(f"{noted.before_mohm.value:.2f} mΩ before it was made anew")
    return f"{joint.joint:<{width}}  {', '.join(parts)}"


def _shown(answer: Answer, digits: int) -> str:
    if isinstance(answer, NoEstimate):
        return f"cannot tell yet: {answer.reason}"
    value, low, high = (f"{x:.{digits}f}" for x in (answer.value, answer.low, answer.high))
    return f"{value} {unit_text(answer.unit)} ({low} to {high})"


def _or_none(value: float) -> float | None:
    return value if math.isfinite(value) else None
