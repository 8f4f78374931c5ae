"""What a person chose in this browser: kept in cookies there, never in the logbook.

Every word and figure is made here, so the choice must come with each request; a cookie does, and
each person at the same pages has their own.
"""

from __future__ import annotations

from typing import Final

from flask import has_request_context, request

from .quantities import CHOICES, Units

#: Before the name of a choice, in the cookie's name; ``assets/choices.js`` writes them.
COOKIE: Final = "packhand-"


def units_of_person(usual: Units) -> Units:
    """The units of whoever asks now; the usual ones outside a request."""
    if not has_request_context():
        return usual
    kept = {name: request.cookies.get(COOKIE + name) for name in CHOICES}
    return usual.chosen(kept)
