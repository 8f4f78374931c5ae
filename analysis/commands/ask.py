"""What the commands that ask a logbook share: opening it, and telling what was left out."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from ..asking.book import Asked, Book

Found = TypeVar("Found")


def book_of(arguments: argparse.Namespace) -> Book:
    """The logbook and the pack that were typed, read with progress on a terminal."""
    from ..asking.book import Book

    return Book.open(arguments.logbook, getattr(arguments, "pack", None), show_progress)


def answer_of(command: str, question: Callable[[Book], Asked[Found]], book: Book) -> Found:
    """A question's answer; what had to be left out is told on stderr."""
    asked = question(book)
    for line in asked.left_out:
        print(f"packhand {command}: left out: {line}", file=sys.stderr)
    return asked.answer


def show_progress(done: int, total: int) -> None:
    """Logs done of all, on one line of stderr; nothing where that is no terminal."""
    if sys.stderr.isatty():
        print(f"\rreading log {done} of {total}", end="\n" if done == total else "",
              file=sys.stderr, flush=True)
