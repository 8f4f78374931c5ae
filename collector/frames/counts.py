"""What became of the bytes that a decoder heard."""

from __future__ import annotations

from dataclasses import asdict, dataclass


@dataclass(frozen=True, slots=True)
class Counts:
    """What a decoder made of what it heard so far."""

    heard_bytes: int = 0
    #: Frames that passed the check and gave figures.
    frames: int = 0
    #: Candidates that did not pass the check.
    failed_checks: int = 0
    #: Bytes outside any good frame; line ends and delimiters are not counted.
    junk_bytes: int = 0
    #: Frames that passed the check but held no figure the description knows.
    undecodable: int = 0

    def as_json(self) -> dict[str, int]:
        return asdict(self)
