"""Learning an unknown monitor from the pages: listen, type what the display shows, watch the
candidates narrow."""

from __future__ import annotations

import re
import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from collector.commands.learn import ORDER, WORDS, Listener, outcome, outcome_lines
from collector.errors import PackhandError
from collector.learner import Reading, learn
from collector.monitors.schema import Transport
from collector.rawfile import RAW_SUFFIX, RawWriter
from collector.sources.serial_line import SerialLink

from .listening import MONITORS_FOLDER, port_of

_NAME: Final = re.compile(r"[a-z0-9][a-z0-9-]{0,40}")
#: Speeds offered, the usual ones first. [baud]
BAUDS: Final = (9600, 19200, 38400, 57600, 115200, 4800, 2400)
#: The display is behind the wire, and the wire may be behind the display. [s]
_LAG_S: Final = 0.6


def baud_of(typed: str) -> int:
    """A line's speed as typed; raises ``PackhandError`` if it is none."""
    digits = typed.replace(" ", "")
    if not (digits.isascii() and digits.isdigit() and 50 <= int(digits) <= 4_000_000):
        raise PackhandError("speed", repr(typed)[:80], "such as 9600 or 115200")
    return int(digits)


@dataclass(frozen=True, slots=True)
class Progress:
    """What is known so far."""

    is_on: bool = False
    heard_bytes: int = 0
    readings: int = 0
    lines: tuple[str, ...] = ()
    #: Whether a description can be kept.
    is_usable: bool = False
    problem: str = ""


class Learning:
    """At most one lesson at a time."""

    def __init__(self, root: Path) -> None:
        self._root = root
        self._lock = threading.Lock()
        self._listener: Listener | None = None
        self._raw: RawWriter | None = None
        self._baud = BAUDS[0]
        self._readings: list[Reading] = []
        self._found: dict[str, Any] = {}

    def look(self) -> Progress:
        """What is known so far."""
        listener = self._listener
        if listener is None:
            return Progress()
        heard = sum(len(chunk.data) for chunk in listener.chunks())
        lines = outcome_lines(self._found, show_text=False) if self._found else ()
        return Progress(True, heard, len(self._readings), tuple(lines),
                        bool(self._found.get("description")), listener.problem)

    def start(self, port: str, baud: int) -> str:
        """Begin to listen, and to nothing else: it never writes to the monitor.

        Raises
        ------
        PackhandError
            If the port cannot be opened.
        """
        self.stop()
        link = SerialLink(port_of(port), Transport(baud=baud))
        link.open()
        folder = self._root / MONITORS_FOLDER
        folder.mkdir(exist_ok=True)
        self._raw = RawWriter(folder / f"learning-{datetime.now(UTC):%Y-%m-%dT%H-%M-%SZ}"
                              f"{RAW_SUFFIX}", f"heard at {port}, {baud} baud")
        self._baud, self._readings, self._found = baud, [], {}
        self._listener = Listener(link, self._raw.write)
        return "Listening. Type what the display shows."

    def add(self, typed: Sequence[str], *, is_fahrenheit: bool = False) -> str:
        """Take what the display shows, in the order of ``ORDER``, empty where it shows nothing;
        the temperature in °C, or in °F.

        Raises
        ------
        PackhandError
            If nothing listens, or a figure cannot be read.
        """
        listener = self._listener
        if listener is None:
            raise PackhandError("learning", "nothing is being heard", "start to listen first")
        texts = {name: text.strip() for name, text in zip(ORDER, typed, strict=True)
                 if text and text.strip()}
        if not texts:
            raise PackhandError("reading", "no figure", "type what the display shows")
        try:
            reading = Reading.from_texts(round(time.time() * 1000), texts,
                                         is_fahrenheit=is_fahrenheit)
        except ValueError as error:
            raise PackhandError("reading", str(error), "type the figures as displayed") from error
        time.sleep(_LAG_S)
        with self._lock:
            self._readings.append(reading)
            lesson = learn(listener.chunks(), self._readings)
            self._found = outcome(lesson, self._readings, "learned", self._baud)
        shown = ", ".join(f"{WORDS[name]} {text}" for name, text in texts.items())
        return f"Reading {len(self._readings)}: {shown}."

    def keep(self, name: str) -> str:
        """Write the description under a name that can be recorded from then on.

        Raises
        ------
        PackhandError
            If there is none yet, or the name is none or taken.
        """
        if not self._found.get("description"):
            raise PackhandError("learning", "no description yet", "type more readings")
        if not _NAME.fullmatch(name):
            raise PackhandError("name", repr(name)[:80], "small letters, digits and hyphens")
        path = self._root / MONITORS_FOLDER / f"{name}.toml"
        try:
            with path.open("x", encoding="utf-8") as file:
                file.write(self._found["description"].replace('"learned"', f'"{name}"', 1))
        except FileExistsError:
            raise PackhandError("name", f"{name} is taken", "choose another") from None
        self.stop()
        return f"Kept as {name}. Choose it below to record with it."

    def stop(self) -> None:
        """Let go of the port; what was heard stays in its file."""
        if self._listener is not None:
            self._listener.stop()
            self._listener = None
        if self._raw is not None:
            self._raw.close()
            self._raw = None
