"""What a person sees on a terminal while a logbook is read for the first time."""

from __future__ import annotations

import sys


def show_progress(done: int, total: int) -> None:
    """Logs done of all, on one line of stderr; nothing where that is no terminal."""
    if sys.stderr.isatty():
        print(f"\rreading log {done} of {total}", end="\n" if done == total else "",
              file=sys.stderr, flush=True)
