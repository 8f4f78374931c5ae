"""From a path to a log: the steps in their order."""

from __future__ import annotations

from pathlib import Path

from .foreign import Foreign, ImportOptions


def read_foreign(path: Path, options: ImportOptions) -> Foreign:
    """Read a table from elsewhere that holds one run.

    Raises
    ------
    ForeignFileError
        If the file is not a table with a time and something a pack has, or holds several runs.
    FileNotFoundError
        If there is no such file.
    """
    raise NotImplementedError


def read_runs(path: Path, options: ImportOptions) -> list[Foreign]:
    """Read a table from elsewhere, one log for each run in it; raises as ``read_foreign``."""
    raise NotImplementedError
