"""What a paper is made of, before it is set: headings, words, tables and charts as plain data."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from .drawing import Drawing

#: ``sentence`` is what the paper says first; ``caution`` what can hurt; ``small`` the rest.
Tone = Literal["plain", "sentence", "small", "caution"]
Size = Literal["A4", "A6"]


@dataclass(frozen=True, slots=True)
class Words:
    """A paragraph."""

    words: str
    tone: Tone = "plain"


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under heads; the first cell of each row names it."""

    caption: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    #: Share of the width that each column takes; equal if empty.
    widths: tuple[float, ...] = ()
    #: Set small, for lists that are looked things up in.
    is_small: bool = False


@dataclass(frozen=True, slots=True)
class Chart:
    """A picture and the sentence below it."""

    drawing: Drawing
    caption: str


Block = Words | Table | Chart


@dataclass(frozen=True, slots=True)
class Section:
    """A part under a heading."""

    heading: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class Paper:
    """One paper. The same paper sets to the same bytes."""

    title: str
    #: Whose, and of which days.
    under: str
    sections: tuple[Section, ...]
    #: Said on every page; empty where there is nothing to say.
    banner: str = ""
    #: At the foot of every page.
    foot: str = ""
    size: Size = "A4"
