"""A recording started and stopped from the pages: the same command that a person would type."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import IO, Any, Final

from collector.errors import PackhandError
from collector.monitors import BUILT_IN, load_description

#: Own and learned descriptions lie in this folder of the logbook.
MONITORS_FOLDER: Final = "monitors"
#: What a port may look like: a device, a COM port, an address on the network or of Bluetooth.
_PORT: Final = re.compile(r"[A-Za-z0-9/_.:\-]{2,200}")
#: What asks a process to end; Windows knows only the one.
_END: Final[int] = getattr(signal, "CTRL_BREAK_EVENT", signal.SIGTERM)
_APART: Final[dict[str, Any]] = (
    {"creationflags": getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0)} if os.name == "nt"
    else {"start_new_session": True})
#: How long the recorder may take to close its log. [s]
PATIENCE_S: Final = 30.0


def monitors_of(root: Path) -> dict[str, str]:
    """Names of the monitors that can be recorded -> title; own ones first."""
    own = {path.stem: path for path in sorted((root / MONITORS_FOLDER).glob("*.toml"))}
    found = {}
    for name in (*own, *BUILT_IN):
        try:
            found[name] = load_description(str(own.get(name, name))).title or name
        except PackhandError as error:
            found[name] = f"cannot be read: {error}"
    return found


def port_of(typed: str) -> str:
    """A port as typed; raises ``PackhandError`` if no port looks like that."""
    port = typed.strip()
    if not _PORT.fullmatch(port) or port.startswith("-"):
        raise PackhandError("port", repr(port)[:80], "such as /dev/ttyUSB0, COM3, "
                            "socket://192.168.1.20:4000 or a Bluetooth address")
    return port


class Listening:
    """At most one recorder, begun here."""

    def __init__(self, root: Path) -> None:
        self._root = root
        self._process: subprocess.Popen[str] | None = None
        #: What the recorder complains of; a file, for a full pipe would stop it.
        self._complaints: IO[str] | None = None
        #: What became of the last recording, in words.
        self.told = ""

    @property
    def is_on(self) -> bool:
        """Whether the recorder runs."""
        if self._process is not None and self._process.poll() is not None:
            self._ended()
        return self._process is not None

    def start(self, monitor: str, port: str) -> str:
        """Begin to record and say so.

        Raises
        ------
        PackhandError
            If the monitor is none of ``monitors_of``, or the port looks like none.
        """
        if self.is_on:
            return "A recording runs already."
        if monitor not in monitors_of(self._root):
            raise PackhandError("monitor", repr(monitor)[:80], "choose one from the list")
        own = self._root / MONITORS_FOLDER / f"{monitor}.toml"
        self._complaints = tempfile.TemporaryFile("w+", encoding="utf-8")  # noqa: SIM115 - for as long as it records
        self._process = subprocess.Popen(
            [sys.executable, "-m", "packhand", "record", str(own) if own.exists() else monitor,
             f"--port={port_of(port)}", f"--logbook={self._root}", "--json"],
            stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=self._complaints, text=True,
            **_APART)
        self.told = ""
        return "Listening. What is heard stands on Now."

    def stop(self) -> str:
        """End the recording and say what became of it."""
        if self._process is not None and self._process.poll() is None:
            self._process.send_signal(_END)
        self._ended()
        return self.told

    def _ended(self) -> None:
        if self._process is None or self._complaints is None:
            return
        try:
            out, _ = self._process.communicate(timeout=PATIENCE_S)
        except subprocess.TimeoutExpired:
            self._process.kill()
            out, _ = self._process.communicate()
        self._complaints.seek(0)
        self.told = _outcome(out, self._complaints.read())
        self._complaints.close()
        self._process = None


def _outcome(out: str, problem: str) -> str:
    try:
        return f"{Path(json.loads(out)['log']).name}: closed and verified."
    except (ValueError, KeyError, TypeError):
        lines = problem.strip().splitlines()
        return lines[-1].removeprefix("packhand record: ") if lines else "The recording ended."
