"""The demo's moving parts: a played monitor, a recorder and the pages, started and stopped whole.

Monitor and recorder are processes of their own, the same commands a person would type, so that a
log on disk is all that joins them to the pages.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import tempfile
import threading
import urllib.request
import webbrowser
from pathlib import Path
from types import TracebackType
from typing import Any, Final, Self

from collector.errors import SourceUnavailable
from collector.logbook import Logbook
from collector.logfile import read_log

from .app import create_app
from .server import LOOPBACK, open_server
from .store import Store

MONITOR: Final = "demo-binary"
#: How long a part may take to start or to end. [s]
PATIENCE_S: Final = 30.0
#: What asks a process to end; Windows knows only the one.
_END: Final[int] = getattr(signal, "CTRL_BREAK_EVENT", signal.SIGTERM)
_NEW_GROUP: Final[dict[str, Any]] = (
    {"creationflags": getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0)} if os.name == "nt"
    else {"start_new_session": True})


class Rehearsal:
    """Monitor, recorder and pages of one demo; entering starts them, leaving closes them."""

    def __init__(self, root: Path, seed: int, port: int) -> None:
        self._root = root
        self._seed = seed
        self._port = port
        self._told = ""

    def __enter__(self) -> Self:
        self._folder = tempfile.TemporaryDirectory(prefix="packhand-")
        self._monitor = self._play()
        self._recorder = _start("record", MONITOR, "--port", self._wire, "--json",
                                "--logbook", str(self._root), stdout=subprocess.PIPE)
        store = Store(Logbook.open(self._root))
        self._server = open_server(create_app(store), self._port)
        store.begin_reading()
        self._serving = threading.Thread(target=self._server.run, daemon=True)
        self._serving.start()
        self.address = f"http://{LOOPBACK}:{self._server.effective_port}/"
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None,
                 trace: TracebackType | None) -> None:
        self._told = _end(self._recorder)
        _end(self._monitor)
        self._server.close()
        self._folder.cleanup()

    def _play(self) -> subprocess.Popen[str]:
        """The played monitor, once its port is there to be opened."""
        line = ["--tcp", "0"] if os.name == "nt" else ["--link", f"{self._folder.name}/monitor"]
        player = _start("simulate", MONITOR, *line, "--seed", str(self._seed),
                        stdout=subprocess.PIPE)
        first = player.stdout.readline() if player.stdout else ""
        if not first:
            raise SourceUnavailable("simulated monitor", "it ended at once", "see its words above")
        self._wire = first.rpartition(" on ")[2].strip()
        return player

    def open_browser(self) -> None:
        webbrowser.open(self.address)

    def is_running(self) -> bool:
        """Whether the recorder still records."""
        return self._recorder.poll() is None

    def answers(self) -> bool:
        """Whether the pages are served."""
        try:
            with urllib.request.urlopen(self.address, timeout=PATIENCE_S) as reply:
                return bool(reply.status == 200)
        except OSError:
            return False

    def outcome(self) -> tuple[str, bool]:
        """What became of the recording, in words, and whether its log is whole."""
        try:
            path = Path(json.loads(self._told)["log"])
            rows = read_log(path).table.num_rows
        except (ValueError, KeyError, TypeError):
            return "The recorder left no log; its words above say why.", False
        return f"{path}: {rows} rows, closed and verified.", True


def _start(*words: str, stdout: int) -> subprocess.Popen[str]:
    """One of packhand's own commands as a process that the terminal's Ctrl-C does not reach."""
    return subprocess.Popen([sys.executable, "-m", "packhand", *words], stdout=stdout, text=True,
                            **_NEW_GROUP)


def _end(process: subprocess.Popen[str]) -> str:
    """Ask a process to end and wait; what it printed."""
    if process.poll() is None:
        process.send_signal(_END)
    try:
        return process.communicate(timeout=PATIENCE_S)[0] or ""
    except subprocess.TimeoutExpired:
        process.kill()
        return process.communicate()[0] or ""
