"""How far a person has come, read from the notes; and what the readings of a card say."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final, Literal, Protocol

from analysis.estimate import Verdict
from analysis.parts.frame_leakage import FrameLeakage, judge_frame_leakage
from analysis.parts.ladder import climb
from analysis.parts.pack import TypedPack, pack_figures

from .card import Card, CheckPath

#: The kind of note that says what became of a card, and its words.
KIND: Final = "check"
DONE: Final = "done"
LEFT_OUT: Final = "left out"
OPEN_AGAIN: Final = "open again"

#: Rest volts of an iron-phosphate cell, to tell how many there are. [V]
_CELL_V: Final = 3.3


class Noted(Protocol):
    """A note, as far as the checks need it."""

    @property
    def kind(self) -> str: ...
    @property
    def value(self) -> float: ...
    @property
    def joint(self) -> str: ...
    @property
    def text(self) -> str: ...


Standing = Literal["open", "done", "left out"]


def place_of(path: CheckPath, card: Card) -> str:
    """What a note of a card is filed under."""
    return f"{path.key}/{card.key}"


def standing(path: CheckPath, card: Card, notes: Sequence[Noted]) -> Standing:
    """What became of a card; ``notes`` oldest first, the last word counts."""
    told = [note.text for note in notes if note.kind == KIND and note.joint == place_of(path, card)]
    if not told:
        return "open"
    return "done" if told[-1] == DONE else "left out" if told[-1] == LEFT_OUT else "open"


def readings_of(card: Card, notes: Sequence[Noted]) -> dict[str, float]:
    """The last figure of each of a card's readings, by its label; NaN where there is none."""
    found = dict.fromkeys((reading.label for reading in card.readings), math.nan)
    for note in notes:
        for reading in card.readings:
            if note.kind == reading.kind and (not reading.where or note.joint == reading.where):
                found[reading.label] = note.value
    return found


def judged(card: Card, notes: Sequence[Noted]) -> tuple[Verdict, str, str] | None:
    """Verdict, words and next step from the readings; ``None`` where a person judges."""
    values = readings_of(card, notes)
    if card.judge == "ladder":
        points = {reading.where: values[reading.label] for reading in card.readings}
        found = climb(list(points), points)
        return found.verdict, found.words, f"probe {found.next}" if found.next else ""
    if card.judge == "leakage":
        return _leakage(*values.values())
    return None


def _leakage(pack_v: float, minus_v: float, plus_v: float) -> tuple[Verdict, str, str]:
    if any(map(math.isnan, (pack_v, minus_v, plus_v))):
        return "cannot tell yet", "All three readings are needed.", "type the missing one"
    try:
        readings = FrameLeakage("this pack", pack_v, abs(minus_v), abs(plus_v))
    except ValueError as error:
        return "cannot tell yet", f"{error}.", "measure again"
    cells = max(1, round(pack_v / _CELL_V))
    pack = pack_figures(TypedPack(cells, charge_end_v=pack_v))
    check = judge_frame_leakage(readings, pack).checks[0]
    return check.verdict, f"{'; '.join(check.arithmetic)}.", check.acceptable_if
