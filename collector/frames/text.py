"""Text frames: comma separated, ``key=value``, JSON or NMEA 0183, to figures and words, and back.

Each form turns a line into *tokens*, texts by key: ``"0"``, ``"1"`` and so on where values stand
in order, the key where they have one, ``"pack.cells.0"`` for a value deep inside a JSON object.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Final, Literal, Protocol

from .fields import Row, Values
from .nmea import SentenceReader
from .nmea_sentences import sentences
from .scaling import Scaling

Tokens = dict[str, str]
FormKind = Literal["comma", "key=value", "json", "nmea"]

#: A number as monitors write it; Python's own ``float`` takes more, such as ``1_0`` and ``nan``.
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,2})?", re.ASCII)


@dataclass(frozen=True, slots=True)
class Form:
    """How values stand in a line of text."""

    kind: FormKind
    #: Between one value and the next (comma and key=value).
    separator: str = ","

    def open(self) -> Callable[[str], Tokens]:
        """``tokens`` for the lines of one connection in their order.

        The sentences of NMEA 0183 complete one another; a line of any other form stands alone.
        """
        return SentenceReader().tokens if self.kind == "nmea" else self.tokens

    def tokens(self, text: str) -> Tokens:
        """The values of a line by key, none if the line is not of this form."""
        return _SPLIT[self.kind](text, self.separator)

    def lines(self, tokens: Tokens) -> list[str]:
        """The line that carries these values; of NMEA 0183 the sentences, none for no values."""
        if self.kind == "nmea":
            return sentences(tokens)
        return [_JOIN[self.kind](tokens, self.separator)]


def _split_comma(text: str, separator: str) -> Tokens:
    return {str(n): part.strip() for n, part in enumerate(text.split(separator))}


def _split_pairs(text: str, separator: str) -> Tokens:
    pairs = (part.partition("=") for part in text.split(separator))
    return {key.strip(): value.strip() for key, mark, value in pairs if mark}


def _split_json(text: str, _separator: str) -> Tokens:
    try:
        tree = json.loads(text, parse_float=str, parse_int=str, parse_constant=str)
        return dict(_leaves(tree, "")) if isinstance(tree, dict | list) else {}
    except (ValueError, RecursionError):
        return {}


def _leaves(tree: Any, key: str) -> Iterator[tuple[str, str]]:
    if isinstance(tree, dict | list):
        for name, branch in tree.items() if isinstance(tree, dict) else enumerate(tree):
            yield from _leaves(branch, f"{key}.{name}" if key else str(name))
    elif isinstance(tree, bool):
        yield key, str(tree).lower()
    elif tree is not None:
        # JSON can spell half a character, which no file can hold.
        yield key, tree.encode("utf-8", "replace").decode()


def _split_nmea(text: str, _separator: str) -> Tokens:
    return SentenceReader().tokens(text)


def _join_comma(tokens: Tokens, separator: str) -> str:
    last = max((int(key) for key in tokens), default=-1)
    return separator.join(tokens.get(str(n), "") for n in range(last + 1))


def _join_pairs(tokens: Tokens, separator: str) -> str:
    return separator.join(f"{key}={value}" for key, value in tokens.items())


def _join_json(tokens: Tokens, _separator: str) -> str:
    tree: dict[str, Any] = {}
    for key, text in tokens.items():
        *path, leaf = key.split(".")
        branch = tree
        for name in path:
            branch = branch.setdefault(name, {})
        branch[leaf] = float(text) if _NUMBER.fullmatch(text) else text
    return json.dumps(_with_lists(tree), separators=(",", ":"))


def _with_lists(tree: Any) -> Any:
    """Branches numbered from 0 without a gap are lists."""
    if not isinstance(tree, dict):
        return tree
    branches = [_with_lists(branch) for branch in tree.values()]
    is_list = list(tree) == [str(n) for n in range(len(tree))]
    return branches if is_list else dict(zip(tree, branches, strict=True))


_SPLIT: Final[Mapping[FormKind, Callable[[str, str], Tokens]]] = {
    "comma": _split_comma, "key=value": _split_pairs, "json": _split_json, "nmea": _split_nmea}
_JOIN: Final[Mapping[FormKind, Callable[[Tokens, str], str]]] = {
    "comma": _join_comma, "key=value": _join_pairs, "json": _join_json}


class TextField(Protocol):
    """Part of a line of text."""

    @property
    def columns(self) -> tuple[str, ...]:
        """The quantity columns it can fill."""
        ...

    def read_into(self, row: Row, tokens: Tokens) -> None:
        """Add what the line says."""
        ...

    def write_into(self, tokens: Tokens, values: Values) -> None:
        """Add what the line is to say; raises ``ValueError`` for a value of the wrong kind."""
        ...


@dataclass(frozen=True, slots=True)
class TextDirection:
    """The token that tells which way an unsigned current flows."""

    key: str
    #: What it reads when charge flows out of the pack.
    out: str
    #: What it reads when charge flows into the pack.
    into: str

    def signed(self, size: float, tokens: Tokens) -> float | None:
        """Negative out of the pack, positive into it, ``None`` where it is not told."""
        signs = {self.out: -abs(size), self.into: abs(size)}
        sized = signs.get(tokens.get(self.key, ""))
        return sized if sized is None else sized or 0.0


@dataclass(frozen=True, slots=True)
class TextNumber:
    """Figures written as decimal numbers; one that is no number is missing."""

    columns: tuple[str, ...]
    #: The token of each column.
    keys: tuple[str, ...]
    scaling: Scaling = field(default_factory=Scaling)
    #: Texts that mean "no figure"; the first one is sent for it.
    missing: tuple[str, ...] = ()
    #: Digits behind the point when sent.
    decimals: int = 3
    direction: TextDirection | None = None

    def read_into(self, row: Row, tokens: Tokens) -> None:
        for column, key in zip(self.columns, self.keys, strict=True):
            text = tokens.get(key, "")
            if text in self.missing or not _NUMBER.fullmatch(text):
                continue
            size = self.scaling.apply(float(text))
            value = self.direction.signed(size, tokens) if self.direction else size
            if value is not None:
                row[column] = value

    def write_into(self, tokens: Tokens, values: Values) -> None:
        for column, key in zip(self.columns, self.keys, strict=True):
            value = values.get(column)
            if isinstance(value, str):
                raise ValueError(f"{column} = {value!r} is not a number")
            if value is None or math.isnan(value):
                tokens |= {key: self.missing[0]} if self.missing else {}
                continue
            if self.direction:
                tokens[self.direction.key] = (
                    self.direction.out if value < 0 else self.direction.into)
            tokens[key] = self._written(value)
            if tokens[key] in self.missing:
                raise ValueError(f"{column} = {value!r} would read as missing")

    def _written(self, value: float) -> str:
        size = abs(value) if self.direction else value
        return f"{self.scaling.undo(size):.{self.decimals}f}"


@dataclass(frozen=True, slots=True)
class TextWord:
    """A text the monitor sends, put into words where the description knows them."""

    column: str
    key: str
    words: Mapping[str, str] = field(default_factory=dict)
    missing: tuple[str, ...] = ()

    @property
    def columns(self) -> tuple[str, ...]:
        return (self.column,)

    def read_into(self, row: Row, tokens: Tokens) -> None:
        text = tokens.get(self.key, "")
        if text and text not in self.missing:
            row[self.column] = self.words.get(text, text)

    def write_into(self, tokens: Tokens, values: Values) -> None:
        word = values.get(self.column)
        if isinstance(word, str) and word:
            tokens[self.key] = next((k for k, v in self.words.items() if v == word), word)
        elif self.missing:
            tokens[self.key] = self.missing[0]


@dataclass(frozen=True, slots=True)
class TextOnly:
    """A field that only one kind of line has, where a monitor sends several kinds."""

    field: TextField
    #: The token that tells the kinds apart.
    key: str
    #: What it reads in the kind that has the field; the first one is sent.
    codes: tuple[str, ...]

    @property
    def columns(self) -> tuple[str, ...]:
        return self.field.columns

    def read_into(self, row: Row, tokens: Tokens) -> None:
        if tokens.get(self.key) in self.codes:
            self.field.read_into(row, tokens)

    def write_into(self, tokens: Tokens, values: Values) -> None:
        tokens[self.key] = self.codes[0]
        self.field.write_into(tokens, values)
