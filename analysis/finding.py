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


@dataclass(frozen=True, slots=True)
class DatedFinding:
    """Something that several logs say together, and since when."""

    kind: str
    verdict: Verdict
    #: First and last log that shows it. [s, Unix time]
    start_s: float
    end_s: float
    words: str
    size: Answer
    next: str
