"""The front door: one ``packhand`` command whose subcommands load only when called."""

from __future__ import annotations

import argparse
import contextvars
import importlib
import os
import sys
from collections.abc import Sequence

#: Each subcommand: the module that holds it, and one line for the overview. A command module
#: offers ``add_arguments(parser)`` and ``run(arguments) -> int``; its docstring is the help.
COMMANDS = {
    "demo": ("dashboard.commands.demo", "rehearse with an invented season, recorded live"),
    "ports": ("collector.commands.ports", "what can be listened to"),
    "record": ("collector.commands.record", "log a monitor until stopped"),
    "note": ("collector.commands.note", "keep a mark or a reading taken by hand"),
    "learn": ("collector.commands.learn",
              "work out an unknown monitor from what its display shows"),
    "simulate": ("collector.commands.simulate", "play an invented monitor"),
    "import": ("analysis.commands.import_", "bring in a table from elsewhere"),
    "explain": ("analysis.commands.explain", "what the display's figures mean"),
    "drive": ("analysis.commands.drive", "everything about one log"),
    "cells": ("analysis.commands.cells", "who leads and who lags among the cells, and why"),
    "joints": ("analysis.commands.joints", "which joint runs hot, by millivolts and amps"),
    "parked": ("analysis.commands.parked", "what parking costs, and when a laid-up pack runs low"),
    "season": ("analysis.commands.season", "a pack over its logbook: capacity, fade, use"),
    "range": ("analysis.commands.range", "how far and how long, and what claims are worth"),
    "compare": ("analysis.commands.compare", "did a change help"),
    "parts": ("analysis.commands.parts", "breaker, fuse, cable, coil at the pack's real volts"),
    "labels": ("collector.commands.labels", "what the labels of pack, board and vehicle say"),
    "correct": ("analysis.commands.correct", "lay a dated correction over amps, volts or dates"),
    "report": ("dashboard.commands.report", "a paper about a pack, a card, reminders"),
    "share": ("dashboard.commands.share", "a copy of logs without place, names or serials"),
    "dashboard": ("dashboard.commands.dashboard", "open the pages"),
    "check": ("collector.commands.check", "what works on this machine"),
}


def main(argv: Sequence[str] | None = None) -> int:
    """Run one subcommand; 0 done, 1 could not, 2 misuse."""
    words = list(sys.argv[1:] if argv is None else argv)
    if not words or words[0] in ("-h", "--help"):
        print(overview())
        return 0 if words else 2
    if words[0] not in COMMANDS:
        print(f"packhand: no command {words[0]!r}; 'packhand --help' lists them", file=sys.stderr)
        return 2
    # Products of vectors wake a second thread that spins for longer than they take; said before
    # NumPy is loaded, and only where nobody said otherwise.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # What a command sets for its own thread, such as whose days it tells, ends with it.
    return contextvars.copy_context().run(_run, words[0], words[1:])


def overview() -> str:
    """The text of ``packhand --help``."""
    lines = [f"  {name:<10} {summary}" for name, (_, summary) in COMMANDS.items()]
    return "\n".join([
        "usage: packhand COMMAND [...]",
        "",
        "Logs, reads, proves and looks after the lithium pack of a small electric vehicle.",
        "",
        *lines,
        "",
        "'packhand COMMAND --help' tells more, with an example.",
        "packhand informs; it protects nothing.",
    ])


def _run(name: str, words: list[str]) -> int:
    module = importlib.import_module(COMMANDS[name][0])
    parser = argparse.ArgumentParser(
        prog=f"packhand {name}", description=module.__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter)
    module.add_arguments(parser)
    arguments = parser.parse_args(words)

    from collector.errors import PackhandError

    try:
        return int(module.run(arguments))
    except PackhandError as error:
        print(f"packhand {name}: {error}", file=sys.stderr)
        return 1
    except FileNotFoundError as error:
        print(f"packhand {name}: {error.filename}: no such file — look at its name and folder",
              file=sys.stderr)
        return 1
    except BrokenPipeError:
        return 0


if __name__ == "__main__":
    sys.exit(main())
