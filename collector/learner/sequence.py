"""A running number: nobody has to type it, it grows by one from frame to frame."""

from __future__ import annotations

import numpy as np

from .codings import BYTE_ORDERS, Form
from .stream import Bytes


def find_sequence(frames: Bytes, taken: set[int]) -> tuple[int, Form] | None:
    """A number that grows by one from frame to frame and starts again when it is full.

    The widest one is taken; a place and its form, ``None`` where there is none.
    """
    best: tuple[int, Form] | None = None
    for form in (Form("unsigned", 1), *(Form("unsigned", 2, order) for order in BYTE_ORDERS)):
        steps = np.diff(form.figures(frames), axis=0) % (1 << form.bits)
        grows = (steps == 1).mean(axis=0) > 0.95
        for place in np.flatnonzero(grows):
            if not taken & set(range(place, place + form.length)):
                best = int(place), form
    return best
