"""Corrections from the pages: proposed from hand readings, laid over the figures, taken back."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

from analysis.phrases import day_text
from collector.corrections import Correction, active, read_corrections
from collector.logbook import Logbook

from ..quantities import number, unbroken
from .command import ask_command

#: What can be corrected -> the readings it is held against, and the column it is.
CORRECTED: Final = {"amps": ("clamp readings", "current_a"),
                    "volts": ("meter readings", "voltage_v")}


class Correcting:
    """The dated corrections of one logbook."""

    def __init__(self, root: Path) -> None:
        self._root = root

    def standing(self) -> dict[int, str]:
        """Number -> words of each correction that stands; raises ``LogbookError``."""
        rows = read_corrections(Logbook(self._root).corrections_path).rows
        return {each.number: correction_words(each) for each in active(rows)}

    def propose(self, what: str, *, accept: bool) -> dict[str, Any]:
        """What the pairs of readings say of amps or volts, and the correction that follows.

        Raises
        ------
        PackhandError
            If the logbook cannot be read, or written.
        """
        asked = what if what in CORRECTED else "amps"
        return ask_command("correct", asked, f"--logbook={self._root}",
                           *(() if accept else ("--dry-run",)))

    def take_back(self, number_of: int) -> str:
        """Take a correction back and say so; raises ``PackhandError`` if it does not stand."""
        ask_command("correct", f"--undo={number_of}", f"--logbook={self._root}")
        return f"Correction {number_of} is taken back. The logs are as they were."


def correction_words(correction: Correction) -> str:
    """``Amps: 0.350 A taken off, then times 1.0120, from 11 May 2026 on (2 readings).``"""
    if correction.column == "time":
        return f"Computer's clock: {correction.reason}."
    what = next((name for name, (_, column) in CORRECTED.items() if column == correction.column),
                correction.column)
    unit = {"amps": "A", "volts": "V"}.get(what, "")
    until = "on" if correction.until_ms is None else f"until {day_text(correction.until_ms / 1000)}"
    gain = "" if correction.gain == 1 else f", then times {number(correction.gain, 4)}"
    reason = f" ({correction.reason})" if correction.reason else ""
    return unbroken(f"{what.capitalize()}: {number(correction.zero, 3)} {unit} taken off{gain}, "
                    f"from {day_text(correction.from_ms / 1000)} {until}{reason}.")
