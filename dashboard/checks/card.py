"""What a path of checks is made of."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Reading:
    """Something to read off and type; kept as a note."""

    #: A kind of note, see ``collector.note_kinds``.
    kind: str
    label: str
    #: Where it is taken, kept with the note; empty where the kind says enough.
    where: str = ""
    example: str = ""


@dataclass(frozen=True, slots=True)
class Card:
    """One step: a question, what to do, what can hurt, what to type."""

    key: str
    question: str
    steps: tuple[str, ...]
    #: What a good answer looks like, and what to do with a bad one.
    good: str = ""
    caution: str = ""
    readings: tuple[Reading, ...] = ()
    #: A page that has the answer from the logs: its address and name.
    see: tuple[str, str] | None = None
    #: How the readings are judged; empty where a person judges.
    judge: Literal["", "ladder", "leakage"] = ""


@dataclass(frozen=True, slots=True)
class CheckPath:
    """Cards in their order; each may be left out."""

    key: str
    title: str
    why: str
    cards: tuple[Card, ...]
