"""What a log tells besides figures: what happened in it, and what it says of pack or instrument."""

from __future__ import annotations

from dataclasses import dataclass

from .estimate import Answer, Verdict


@dataclass(frozen=True, slots=True)
class Occurrence:
    """Something that happened in the log."""

    kind: str
    start_s: float
    end_s: float
    words: str


@dataclass(frozen=True, slots=True)
class Finding:
    """Something the log says about the pack or the instrument."""

    kind: str
    verdict: Verdict
    words: str
    size: Answer
    next: str
