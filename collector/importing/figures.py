"""Figures written as text, turned into numbers by whole columns."""

from __future__ import annotations

import re
from typing import Final

import pyarrow as pa
import pyarrow.compute as pc

from .foreign import DecimalMark

#: Fields that say "no figure" in words.
MISSING_WORDS: Final = ["", "-", "--", "---", "—", "n/a", "N/A", "NA", "na", "#N/A", "#NA", "nan",
                        "NaN", "NAN", "-nan", "-NaN", "null", "NULL", "Null", "none", "None",
                        "NONE", "inf", "-inf", "Inf", "-Inf", "invalid", "?"]
_MISSING: Final = frozenset(MISSING_WORDS)
_PLAIN: Final = {mark: re.compile(rf"\s*[+-]?(\d+({re.escape(mark)}\d*)?|{re.escape(mark)}\d+)"
                                  r"([eE][+-]?\d+)?\s*") for mark in ".,"}
#: A figure with a point, and at most a unit behind it.
_FIGURE: Final = (r"^(?P<figure>[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)"
                  r"\s*(?P<unit>%|[°µμa-zA-Z][^\d\s]{0,5})?$")


def is_plain(field: str, decimal: DecimalMark) -> bool:
    """Whether a field is a figure that needs no cleaning, or says that there is none."""
    return field in _MISSING or _PLAIN[decimal].fullmatch(field) is not None


def to_figures(column: pa.Array, decimal: DecimalMark) -> tuple[pa.Array, int]:
    """A text column as float64, and how many filled fields are no figures.

    Thousands marks (the mark that is not the decimal one, blanks, apostrophes) go, but only
    where they stand before groups of three digits. A unit behind the figure goes too. What is
    no figure becomes missing.
    """
    if pa.types.is_floating(column.type):
        return column, 0
    text = pc.utf8_trim_whitespace(column)
    thousands = "," if decimal == "." else r"\."
    text = pc.replace_substring_regex(text, rf"^([+-]?\d{{1,3}}(?:[{thousands} ' ]\d{{3}})+)"
                                            rf"(?P<rest>([{decimal}]\d*)?\D*)$", r"<\1>\2")
    marked = pc.starts_with(text, "<")
    if pc.any(marked).as_py():
        bare = pc.replace_substring_regex(text, rf"[<>{thousands} ' ]", "")
        text = pc.if_else(marked, bare, text)
    if decimal == ",":
        text = pc.replace_substring(text, ",", ".")
    figure = pc.struct_field(pc.extract_regex(text, _FIGURE), "figure")
    finite = pc.cast(figure, pa.float64())
    return finite, _filled(text, finite)


def _filled(text: pa.Array, figures: pa.Array) -> int:
    """Fields that hold something which is no figure."""
    lost = pc.and_(pc.is_null(figures), pc.is_valid(text))
    words = pc.is_in(text, value_set=pa.array(MISSING_WORDS))
    return int(pc.sum(pc.and_(lost, pc.invert(words))).as_py() or 0)
