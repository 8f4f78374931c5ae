"""Files that a person brings in through the browser: kept apart, looked at, taken in or back."""

from __future__ import annotations

import re
import shutil
from collections.abc import Mapping
from pathlib import Path
from typing import IO, Any, Final

from collector.errors import PackhandError

from .command import ask_command

#: The largest file taken through the browser. [bytes]
FILE_MAX: Final = 200_000_000
#: Where a file waits for its person's answer, inside the logbook; safe to delete.
FOLDER: Final = ".cache/brought"
#: Endings that the importer knows.
ENDINGS: Final = (".csv", ".tsv", ".txt", ".log", ".xlsx", ".parquet", ".gpx", ".gz")
#: What a person may answer: option of 'packhand import' -> a pattern of the answer.
ANSWERS: Final[Mapping[str, str]] = {
    "dates": r"day-first|month-first|year-first", "decimal": r"[.,]", "minus": r"out|in",
    "zone": r"[A-Za-z0-9_+\-/]{2,60}", "start": r"[0-9TZ:.+\- ]{8,40}",
}
_NAME: Final = re.compile(r"[^A-Za-z0-9._ ()-]")


class Brought:
    """Files that wait, and what the importer makes of them."""

    def __init__(self, root: Path) -> None:
        self._root = root
        self._folder = root / FOLDER

    def take(self, name: str, stream: IO[bytes]) -> str:
        """Keep a file's bytes until it is asked about; gives the name that it is asked by.

        Raises
        ------
        PackhandError
            If its ending is none that can be read, or it is too large.
        """
        clean = _NAME.sub("_", Path(name).name)[-120:].lstrip(".") or "file"
        if not clean.lower().endswith(ENDINGS):
            raise PackhandError(clean, "no ending that can be read", f"one of {', '.join(ENDINGS)}")
        shutil.rmtree(self._folder, ignore_errors=True)
        self._folder.mkdir(parents=True)
        with (self._folder / clean).open("wb") as file:
            left = FILE_MAX
            while piece := stream.read(min(1 << 20, left + 1)):
                left -= len(piece)
                if left < 0:
                    self.drop()
                    raise PackhandError(clean, f"more than {FILE_MAX // 1_000_000} MB",
                                        "bring it in with 'packhand import'")
                file.write(piece)
        return clean

    def waiting(self) -> str:
        """The name of the file that waits; empty if none does."""
        return next((path.name for path in self._folder.glob("*")), "")

    def preview(self, answers: Mapping[str, str]) -> dict[str, Any]:
        """How the waiting file would read, as ``packhand import --dry-run`` tells it.

        Raises
        ------
        PackhandError
            If none waits, or it cannot be read.
        """
        return ask_command("import", str(self._path()), "--dry-run",
                           f"--logbook={self._root}", *_options(answers))

    def bring_in(self, answers: Mapping[str, str]) -> dict[str, Any]:
        """Make logs of the waiting file; raises as ``preview``."""
        found = ask_command("import", str(self._path()), f"--logbook={self._root}",
                            *_options(answers))
        self.drop()
        return found

    def undo(self) -> dict[str, Any]:
        """Take the last import back; raises ``PackhandError`` if there is none."""
        return ask_command("import", "--undo", f"--logbook={self._root}")

    def drop(self) -> None:
        """Forget the waiting file."""
        shutil.rmtree(self._folder, ignore_errors=True)

    def _path(self) -> Path:
        name = self.waiting()
        if not name:
            raise PackhandError("file", "none waits", "choose one")
        return self._folder / name


def _options(answers: Mapping[str, str]) -> list[str]:
    """Answers as options; one that is not of its form is left away."""
    return [f"--{name}={answers[name]}" for name, form in ANSWERS.items()
            if re.fullmatch(form, answers.get(name, ""))]
