"""What a running recording shows on the terminal, and what it says at its end."""

from __future__ import annotations

import shutil
import sys
import threading
import time
from collections.abc import Mapping
from contextlib import suppress
from typing import Any

from ..record import Sample
from ..recorder import Recording


class Screen:
    """One status line on a terminal, and a line of its own for each event; all on stderr.

    Several recordings share one screen; each has its part of the status line.
    """

    #: Shortest time between two status lines. [s]
    EVERY_S = 0.25

    def __init__(self) -> None:
        self._start_s = time.monotonic()
        self._shown_s = 0.0
        self._is_terminal = sys.stderr.isatty()
        self._states: dict[str, str] = {}
        self._lock = threading.Lock()

    def show(self, sample: Sample, recording: Recording, convention: str, pack: str = "") -> None:
        """Tell an event, or renew the status line if it is time."""
        now_s = time.monotonic()
        if sample.event:
            self.line(" ".join(filter(None, (pack, sample.event))))
        elif self._is_terminal:
            self._states[pack] = state_words(sample, recording, convention, pack,
                                             self._states.get(pack, ""))
            if now_s - self._shown_s >= self.EVERY_S:
                self._shown_s = now_s
                words = "  ".join([clock_words(now_s - self._start_s), *self._states.values()])
                width = shutil.get_terminal_size().columns - 1
                self._put(f"\r\x1b[K{words[:width]}")

    def line(self, words: str) -> None:
        """A line that stays."""
        start = "\r\x1b[K" if self._is_terminal else ""
        self._put(f"{start}{time.strftime('%H:%M:%S')} {words}\n")

    def ring(self) -> None:
        """Sound the terminal's bell."""
        if self._is_terminal:
            self._put("\a")

    def _put(self, text: str) -> None:
        """Show it; a terminal that was closed is no reason to stop recording."""
        with suppress(OSError), self._lock:
            print(text, end="", file=sys.stderr, flush=True)


def clock_words(elapsed_s: float) -> str:
    """Hours, minutes, seconds: ``0:12:31``."""
    minutes, seconds = divmod(int(elapsed_s), 60)
    return f"{minutes // 60}:{minutes % 60:02}:{seconds:02}"


def state_words(sample: Sample, recording: Recording, convention: str, pack: str = "",
                before: str = "") -> str:
    """How it goes, in one line: ``23.1 A out  52.31 V  91 %  7512 samples``.

    A sample without any of these, such as a place, changes nothing ``before`` it.
    """
    amps = sample.values.get("current_a")
    figures = [amps_words(amps, convention)] if isinstance(amps, float | int) else []
    figures += [f"{sample.values[column]:.{digits}f} {unit}"
                for column, digits, unit in (("voltage_v", 2, "V"), ("soc_pct", 0, "%"))
                if column in sample.values]
    if before and not figures:
        return before
    parts = [*filter(None, [pack]), *figures, f"{recording.samples} samples"]
    if recording.gaps:
        parts.append(f"{recording.gaps} gaps")
    if recording.unsaved:
        parts.append(f"{recording.unsaved} not on disk")
    return "  ".join(parts)


def amps_words(amps: float, convention: str) -> str:
    """Amps with their direction, or as displayed where the sign is not decided."""
    out = {"negative_is_discharge": amps < 0, "positive_is_discharge": amps > 0}.get(convention)
    if out is None or amps == 0:
        return f"{amps:.1f} A" + ("" if out is not None else " as displayed")
    return f"{abs(amps):.1f} A {'out' if out else 'in'}"


def outcome_of(recording: Recording, heard: Mapping[str, int]) -> dict[str, Any]:
    """The outcome as JSON."""
    return {
        "schema": "packhand.record/1",
        "log": str(recording.path) if recording.path else None,
        "raw": str(recording.raw_path) if recording.raw_path else None,
        "samples": recording.samples, "gaps": recording.gaps, "unsaved": recording.unsaved,
        "rescued": str(recording.rescued) if recording.rescued else None,
        "raw_dropped": recording.raw_dropped, "problem": recording.problem,
        "heard": dict(heard),
        "earlier": [outcome_of(each, {}) for each in recording.earlier],
    }


def is_whole(recording: Recording) -> bool:
    """Whether something was heard, and all of it is where it belongs."""
    lost = recording.unsaved or recording.rescued or recording.problem
    return bool(recording.samples and not lost) and all(map(is_whole, recording.earlier))


def outcome_words(outcome: Mapping[str, Any]) -> str:
    """The outcome in words."""
    if outcome["log"] is None:
        return "nothing was heard; no log was kept"
    gaps = {0: "no gaps", 1: "1 gap"}.get(outcome["gaps"], f"{outcome['gaps']} gaps")
    lines = [*map(outcome_words, outcome.get("earlier", ())),
             f"{outcome['log']}: {outcome['samples']} samples, {gaps}"]
    if lost := outcome["heard"].get("lost_frames"):
        lines.append(f"by the monitor's own running number {lost} more were sent and not heard")
    if not outcome["samples"] and outcome["heard"].get("heard_bytes"):
        lines.append(f"{outcome['heard']['heard_bytes']} bytes were heard, none of them a sample: "
                     "check the monitor description and the baud rate")
    if outcome["rescued"]:
        lines.append(f"{outcome['rescued']}: holds the samples that did not fit; move it into the "
                     "folder of the log when there is room")
    if outcome["unsaved"]:
        lines.append(f"{outcome['unsaved']} samples could not be saved; the .raw file beside the "
                     "log may hold them")
    if outcome["raw_dropped"]:
        lines.append(f"{outcome['raw_dropped']} pieces of the raw capture could not be saved")
    return "\n".join([*lines, *filter(None, [outcome["problem"]])])
