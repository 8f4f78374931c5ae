"""packhand's own commands, asked for their JSON."""

from __future__ import annotations

import json
import subprocess
import sys
from typing import Any, Final

from collector.errors import PackhandError

#: A command that takes longer is given up. [s]
PATIENCE_S: Final = 300.0


def ask_command(*words: str) -> dict[str, Any]:
    """The JSON document of a command.

    Raises
    ------
    PackhandError
        With the command's own line, if it failed and said why.
    """
    try:
        done = subprocess.run([sys.executable, "-m", "packhand", *words, "--json"],
                              capture_output=True, text=True, check=False, timeout=PATIENCE_S,
                              stdin=subprocess.DEVNULL)
    except subprocess.TimeoutExpired as error:
        raise PackhandError(words[0], f"no answer in {PATIENCE_S:.0f} s",
                            "try it on a command line") from error
    if done.returncode and done.stderr.strip():
        raise _as_told(words[0], done.stderr)
    document: dict[str, Any] = json.loads(done.stdout)
    return document


def _as_told(command: str, told: str) -> PackhandError:
    """The last line of a command as the error that it was."""
    lines = told.strip().splitlines()
    where, _, rest = lines[-1].removeprefix(f"packhand {command}: ").partition(": ")
    found, _, remedy = rest.partition(" \N{EM DASH} ")
    return PackhandError(where, found, remedy) if rest else PackhandError(command, where)
