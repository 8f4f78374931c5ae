"""Questions of the whole logbook, worked out behind the pages' back and kept.

A first look at a long logbook takes many seconds, so no page waits for it: it shows how far the
reading has come, asks again, and is told when the answer stands. An answer holds until something
in the logbook changes; while a new one is made, the old one is shown and says so.

A log is opened once for all questions: whichever needs it first has every part of its digest kept.
Opening each log for each page would take several times as long.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final, Generic, TypeVar, cast

from analysis.asking.book import Asked, Book
from analysis.digest import PARTS
from collector.errors import EmptyLogbook, PackhandError
from collector.logbook import CONFIG_NAME, Logbook
from collector.parts_file import PARTS_NAME

Found = TypeVar("Found")
#: What a page says when the fault is packhand's own.
FAULT: Final = ("packhand failed at this question; the terminal that it was started in shows "
                "where. The logbook is as it was.")
#: Answers kept, the last asked for.
KEPT: Final = 24


@dataclass(frozen=True, slots=True)
class Worked(Generic[Found]):
    """What is known of a question at this moment."""

    #: ``None`` until it stands, and where there is a problem.
    answer: Found | None = None
    #: One line for each log or note that was left out.
    left_out: tuple[str, ...] = ()
    #: Why there is no answer, in one line; empty if there is one or it is being made.
    problem: str = ""
    #: Whether the problem is that there is no log yet.
    lacks_logs: bool = False
    #: Whether it is being worked out, for the first time or anew.
    is_waiting: bool = False
    #: Logs read, and logs to read; zero where nothing has to be read.
    done: int = 0
    to_do: int = 0


class Workings:
    """Answers about one logbook. Safe to use from several threads."""

    def __init__(self, root: Path) -> None:
        self._root = root
        self._lock = threading.Lock()
        self._one_at_a_time = threading.Lock()
        self._found: OrderedDict[Hashable, tuple[str, Worked[Any]]] = OrderedDict()
        self._threads: dict[Hashable, threading.Thread] = {}
        #: Logs read, and logs to read, whichever question has them read.
        self._progress = (0, 0)

    def ask(self, name: Hashable, question: Callable[[Book], Asked[Found]],
            wait_s: float = 0.3) -> Worked[Found]:
        """The answer to a question as far as it is known now.

        Parameters
        ----------
        name
            Names the question with all that it depends on beside the logbook.
        wait_s
            Waits so long for an answer that is quick to make. [s]
        """
        nothing: Worked[Any] = Worked()
        state = self.state()
        with self._lock:
            kept_state, known = self._found.get(name, ("", nothing))
            if kept_state == state:
                self._found.move_to_end(name)
                return cast("Worked[Found]", known)
            thread = self._threads.get(name)
            if thread is None:
                self._found[name] = kept_state, replace(known, is_waiting=True, problem="")
                thread = threading.Thread(target=self._work, args=(name, question, state),
                                          daemon=True)
                self._threads[name] = thread
                thread.start()
        thread.join(wait_s)
        with self._lock:
            known, (done, to_do) = self._found[name][1], self._progress
        return replace(known, done=done, to_do=to_do) if known.is_waiting else known

    def settle(self, timeout_s: float) -> None:
        """Wait for what was asked so far."""
        for thread in list(self._threads.values()):
            thread.join(timeout_s)

    def state(self) -> str:
        """What the answers depend on: names, sizes and times of change in the logbook."""
        book = Logbook(self._root)
        files = [entry.path for entry in book.logs() if not entry.is_live]
        files += [*sorted(book.places_folder.glob("*")), book.notes_path, book.corrections_path,
                  self._root / CONFIG_NAME, self._root / PARTS_NAME]
        return "|".join(map(identity, files))

    def _work(self, name: Hashable, question: Callable[[Book], Asked[Any]], state: str) -> None:
        found: Worked[Any] = Worked(problem=FAULT)
        try:
            with self._one_at_a_time:
                found = self._answer(question)
        finally:  # a fault of ours keeps its traceback, and the page does not wait for ever
            self._keep(name, state, found)

    def _keep(self, name: Hashable, state: str, found: Worked[Any]) -> None:
        with self._lock:
            self._found[name] = state, found
            self._found.move_to_end(name)
            del self._threads[name]
            while len(self._found) > KEPT:
                self._found.popitem(last=False)

    def _answer(self, question: Callable[[Book], Asked[Any]]) -> Worked[Any]:
        try:
            asked = question(Book.open(self._root, progress=self._tell, keep=tuple(PARTS)))
        except (PackhandError, OSError) as error:
            return Worked(problem=str(error), lacks_logs=isinstance(error, EmptyLogbook))
        finally:
            self._tell(0, 0)
        return Worked(asked.answer, asked.left_out)

    def _tell(self, done: int, to_do: int) -> None:
        with self._lock:
            self._progress = done, to_do


def identity(path: Path) -> str:
    """Name, size and time of change of a file; the name alone if it is not there."""
    try:
        found = path.stat()
    except OSError:
        return path.name
    return f"{path.name} {found.st_size} {found.st_mtime_ns}"
