"""The joints of a logbook: its notes, and the worst amps that its logs saw."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Final

from collector.notes import Note

from ..cells.joint_notes import JointNote, JointNoteKind, JointReport, ranked_joints
from ..one_log.use import LogUse
from .book import Asked, Book

#: Kind of note -> what it says of its joint.
_KINDS: Final[Mapping[str, JointNoteKind]] = {
    "joint-millivolts": "millivolts", "surface-temperature": "surface_c", "torque": "torque_nm",
    "part-changed": "made_anew",
}


def ask_joints(book: Book) -> Asked[JointReport]:
    """Every joint of the pack that was read by hand; a note without a pack is of any.

    Raises
    ------
    LogbookError
        If there is no such pack, or no log can be read.
    """
    notes = book.notes()
    if not book.has_logs:
        return Asked(ranked_joints(joint_notes(notes), math.nan))
    asked = book.digests(("use",))
    pack = asked.answer[-1].head.pack
    own = joint_notes(note for note in notes if note.pack in ("", pack))
    worst = [d.of(LogUse).rms_a[2] for d in asked.answer]
    return Asked(ranked_joints(own, max((a for a in worst if math.isfinite(a)),
                                        default=math.nan)), asked.left_out)


def joint_notes(notes: Iterable[Note]) -> list[JointNote]:
    """The notes that name a joint; a torque says that it was tightened, and so made anew."""
    found = []
    for note in notes:
        kind = _KINDS.get(note.kind)
        if not kind or not note.joint:
            continue
        joint = " ".join(note.joint.split()).lower()
        time_s = note.time_ms / 1000
        found.append(JointNote(joint, time_s, kind, note.value, note.moment.current_a))
        if kind == "torque_nm":
            found.append(JointNote(joint, time_s, "made_anew"))
    return found
