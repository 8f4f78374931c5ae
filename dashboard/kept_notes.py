"""The part of a page that the forms' script tells when a note was kept."""

from __future__ import annotations

from typing import Final

from dash import dcc
from dash.development.base_component import Component

#: As ``assets/diary.js`` has it.
KEPT: Final = "diary-kept"


def kept_notes() -> Component:
    """Holds the moment of the last note; a callback with ``KEPT`` as its input draws anew."""
    return dcc.Store(id=KEPT)
