"""Streams of text: the line's form, its start mark and its check."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..frames.checks import CATALOGUE, PLAIN_RULES, Check, Sum, Xor
from ..frames.framing import Framing
from ..frames.text import Form
from .check_search import FoundCheck
from .codings import Figures
from .stream import Stream, Times

#: Share of lines that have to agree on a form or a check.
_AGREED: Final = 0.9
#: Lines a check rule is tried on.
_SAMPLE: Final = 60
_SEPARATORS: Final = (",", ";", "\t", "|", " ", "&", ":")
_NUMBER: Final = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
_CHECKED: Final = re.compile(rb"([^0-9A-Za-z])((?:[0-9A-Fa-f]{2}){1,4})\Z")


@dataclass(frozen=True)
class TextCut:
    """Lines of text and the values in them."""

    framing: Framing
    form: Form
    check: FoundCheck | None
    #: Values by position or key; NaN where a line has none. One entry a line.
    table: dict[int | str, Figures]
    #: When each line was whole. [s, Unix]
    times_s: Times


def text_cut(stream: Stream) -> TextCut | None:
    """The stream as lines of text, ``None`` where it is something else."""
    data = stream.bytes
    is_text = (data >= 0x20) & (data < 0x7F) | np.isin(data, [9, 10, 13])
    if not len(data) or is_text.mean() < 0.97:
        return None
    spans = [(match[0], match.end()) for match in re.finditer(rb"[^\r\n]+(?=[\r\n])", stream.data)]
    if len(spans) < 6:
        return None
    start = _start_mark([line for line, _ in spans])
    kept = [(line, end) for line, end in spans if line.startswith(start)]
    check = _find_check([line for line, _ in kept], start)
    if check:
        kept = [(line, end) for line, end in kept if check.check.is_good(line)]
    stop = check.check.at - len(check.check.mark) if check else None
    bodies = [line[len(start):stop].decode("ascii", "replace") for line, _ in kept]
    form = _find_form(bodies)
    if form is None:
        return None
    rows = [form.tokens(body) for body in bodies]
    keys, _ = Counter(tuple(row) for row in rows).most_common(1)[0]
    # A torn line has other keys than the rest.
    whole = [n for n, row in enumerate(rows) if tuple(row) == keys]
    times_s = stream.time_of(np.array([end - 1 for _, end in kept]))[whole]
    table = {int(key) if form.kind == "comma" else key: _figures([rows[n][key] for n in whole])
             for key in keys}
    return TextCut(Framing("line", start=start), form, check, table, times_s)


def _start_mark(lines: Sequence[bytes]) -> bytes:
    """The sign that nearly all lines begin with, if it is no part of a value."""
    first, count = Counter(line[:1] for line in lines).most_common(1)[0]
    is_mark = not first.isalnum() and first not in b"+-. {[\""
    return first if is_mark and count > _AGREED * len(lines) else b""


# ------------------------------------------------ check

def _find_check(lines: Sequence[bytes], start: bytes) -> FoundCheck | None:
    """A check written as hexadecimal digits at the line's end."""
    ends = Counter((match[1], len(match[2])) for line in lines if (match := _CHECKED.search(line)))
    for (mark, digits), count in ends.most_common(3):
        if count < _AGREED * len(lines):
            break
        distinct = sorted(set(lines))
        sample = distinct[::max(1, len(distinct) // _SAMPLE)]
        for tried, check in enumerate(_text_checks(sample, digits, mark, len(start)), start=1):
            kept = float(np.mean([check.is_good(line) for line in sample]))
            if kept > _AGREED:
                bits = 4 * digits * (len(sample) * kept - 1)
                return FoundCheck(check, kept, math.log10(tried) - bits * math.log10(2))
    return None


def _text_checks(lines: Sequence[bytes], digits: int, mark: bytes,
                 start: int) -> Iterator[Check]:
    width = 4 * digits
    for first in dict.fromkeys((start, 0, 1)):
        for stop in (-digits - len(mark), -digits):
            def check(rule: object, first: int = first, stop: int = stop) -> Check:
                return Check(rule, -digits, first, stop, "big", True, mark)  # type: ignore[arg-type]

            for name, plain in PLAIN_RULES.items():
                if plain.width == width:
                    yield check(plain)
                    if (init := _constant(check(plain), lines)) and name.startswith("sum"):
                        yield check(Sum(width, init if name != "sum8-twos" else -init & 0xFF,
                                        0, name == "sum8-twos"))
                    elif init and name.startswith("xor"):
                        yield check(Xor(init))
            for crc in CATALOGUE.values():
                if crc.width == width:
                    yield check(crc)


def _constant(check: Check, lines: Sequence[bytes]) -> int:
    """What one line's written value has beyond the computed one."""
    line = lines[len(lines) // 2]
    try:
        written = int(line[check.at:], 16)
    except ValueError:
        return 0
    computed = check.rule.compute(line[check.start:check.stop])
    if isinstance(check.rule, Xor):
        return written ^ computed
    return (written - computed) & ((1 << check.rule.width) - 1)


# ------------------------------------------------ form

def _find_form(bodies: Sequence[str]) -> Form | None:
    """The form under which most values of most lines are numbers."""
    sample = bodies[::max(1, len(bodies) // 100)]
    forms = [Form("json"), *(Form("key=value", s) for s in _SEPARATORS),
             *(Form("comma", s) for s in _SEPARATORS)]
    scored = [(_numbers(form, sample), -rank) for rank, form in enumerate(forms)]
    best, rank = max(scored)
    return forms[-rank] if best >= 1 else None


def _numbers(form: Form, bodies: Sequence[str]) -> float:
    """Numbers a line, where nearly all lines have the same keys; 0 otherwise."""
    rows = [form.tokens(body) for body in bodies]
    _, count = Counter(tuple(row) for row in rows).most_common(1)[0]
    if count < 0.8 * len(rows):
        return 0.0
    return float(np.median([sum(bool(_NUMBER.fullmatch(text)) for text in row.values())
                            for row in rows]))


def _figures(texts: Sequence[str]) -> Figures:
    return np.array([float(text) if _NUMBER.fullmatch(text) else math.nan for text in texts])
