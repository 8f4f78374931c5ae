"""Sentences of the analysis in the words and units of the person who reads them."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Final

from analysis.estimate import NoEstimate, Verdict

from .quantities import MINUS, NBSP, Scale, Units, number, scale, unbroken

_NUMBER: Final = rf"[{MINUS}+]?\d+(?:\.\d+)?"
#: A figure with its unit, with the other end of its range before it or its interval behind it.
_FIGURE: Final = re.compile(
    rf"(?<![\d.,:])(?:({_NUMBER}) to )?({_NUMBER})[ {NBSP}]"
    r"(Wh/km|Wh/mi|km/h|km|miles?|mi|kg|Nm|°C|m/s|K|m|degrees)(?![\w/²³·])"
    rf"(?: \(({_NUMBER}) to ({_NUMBER})\))?")
#: Words in quotation marks, as they were typed.
_QUOTED: Final = re.compile("(“[^”]*”)")


def worded(text: str, units: Units) -> str:
    """A sentence in the person's units, no line ending between a number and its unit.

    What somebody typed stands in “ ” and keeps its own units.
    """
    parts = _QUOTED.split(text)
    parts[::2] = [_FIGURE.sub(lambda found: _told(found, units), part) for part in parts[::2]]
    return unbroken("".join(parts))


def capital(words: str) -> str:
    """The words with a large first letter."""
    return f"{words[:1].upper()}{words[1:]}"


def in_words(missing: NoEstimate, units: Units) -> NoEstimate:
    """Why there is no answer, in the person's units."""
    return NoEstimate(worded(missing.reason, units), worded(missing.next, units))


def ending_in(ending: tuple[Verdict, str, str], units: Units) -> tuple[Verdict, str, str]:
    """How a page ends, in the person's units."""
    found, words, then = ending
    return found, worded(words, units), worded(then, units)


def _told(found: re.Match[str], units: Units) -> str:
    first, figure, unit, low, high = found.groups()
    way = (replace(scale("K", units), unit="degrees") if unit == "degrees" else
           scale("mi" if unit.startswith("mile") else unit, units))
    if way == Scale(unit):
        return found[0]

    def converted(text: str) -> str:
        told = number(way.told(float(text.replace(MINUS, "-"))), len(text.partition(".")[2]))
        return f"+{told}" if text.startswith("+") else told

    begins = f"{converted(first)} to " if first else ""
    ends = f" ({converted(low)} to {converted(high)})" if low else ""
    return f"{begins}{converted(figure)} {way.unit}{ends}"
