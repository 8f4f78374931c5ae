"""Reading one table of a description key by key, with errors that say where, what and how."""

from __future__ import annotations

import difflib
import math
from collections.abc import Callable, Iterable, Mapping
from typing import Any, Final

from ..errors import DescriptionError

_KINDS: Final[Mapping[type, str]] = {
    str: "text", int: "a whole number", float: "a number", dict: "a table", list: "a list",
}
_REQUIRED: Final = object()


#: Up to so many choices are listed beside a likely one.
_LISTED_MAX: Final = 12


def _allowed(value: str, known: list[str]) -> str:
    """The likely choice, and all of them unless they are many."""
    near = difflib.get_close_matches(value, known, n=1, cutoff=0.5)
    listed = f"allowed: {', '.join(known)}"
    if not near:
        return listed
    return f"did you mean {near[0]}?" + (f" {listed}" if len(known) <= _LISTED_MAX else "")


class Table:
    """One table of a TOML file. Every key has to be asked for before ``finish``."""

    def __init__(self, tables: Mapping[str, Any], where: str) -> None:
        self.where = where
        self._tables = tables
        self._asked: set[str] = set()

    def __contains__(self, key: str) -> bool:
        return key in self._tables

    def error(self, key: str, found: str, remedy: str) -> DescriptionError:
        """An error about one key of this table."""
        return DescriptionError(f"{self.where}, {key}", found, remedy)

    def _value(self, key: str, kind: type, default: Any) -> Any:
        self._asked.add(key)
        if key not in self._tables:
            if default is _REQUIRED:
                raise self.error(key, "is missing", f"{_KINDS[kind]} is needed")
            return default
        value = self._tables[key]
        kinds = (int, float) if kind is float else (kind,)
        if not isinstance(value, kinds) or isinstance(value, bool):
            raise self.error(key, f"{value!r}", f"{_KINDS[kind]} is needed")
        return value

    def text(self, key: str, default: Any = _REQUIRED) -> str:
        return str(self._value(key, str, default))

    def number(self, key: str, default: Any = _REQUIRED, above: float | None = None) -> float:
        value: float = self._value(key, float, default)
        if not math.isfinite(value):
            raise self.error(key, f"{value!r}", "a finite number is needed")
        if above is not None and key in self and not value > above:
            raise self.error(key, f"{value!r}", f"a number above {above:g} is needed")
        return value

    def integer(self, key: str, default: Any = _REQUIRED,
                low: int | None = None, high: int | None = None) -> int:
        value: int = self._value(key, int, default)
        if (low is not None and value < low) or (high is not None and value > high):
            allowed = f"{low} or more" if high is None else f"{low} to {high}"
            raise self.error(key, f"{value!r}", f"allowed is {allowed}")
        return value

    def choice(self, key: str, known: Iterable[Any], default: Any = _REQUIRED) -> Any:
        """One of the known values, of whatever kind they are."""
        self._asked.add(key)
        known = list(known)
        if key not in self._tables and default is not _REQUIRED:
            return default
        value = self._tables.get(key)
        if not any(value == one and type(value) is type(one) for one in known):
            found = "is missing" if value is None else repr(value)
            raise self.error(key, found, _allowed(str(value), [str(one) for one in known]))
        return value

    def octets(self, key: str, default: bytes | None = None) -> bytes:
        """Bytes, given in hexadecimal as ``key_hex`` or as characters as ``key_text``."""
        in_hex, in_text = f"{key}_hex", f"{key}_text"
        self._asked |= {in_hex, in_text}
        if in_hex in self and in_text in self:
            raise self.error(in_text, f"stands beside {in_hex}", "give one of the two")
        if in_text in self:
            return self._encoded(in_text, lambda text: text.encode("ascii"), "ASCII characters")
        if in_hex in self:
            return self._encoded(in_hex, bytes.fromhex, "pairs of hexadecimal digits")
        if default is None:
            raise self.error(in_hex, "is missing", f"give {in_hex} or {in_text}")
        return default

    def octets_each(self, key: str) -> tuple[bytes, ...]:
        """Bytes as ``octets`` takes them, or a list of such texts, at least one."""
        given = [name for name in (f"{key}_hex", f"{key}_text")
                 if isinstance(self._tables.get(name), list)]
        if not given:
            return (self.octets(key),)
        texts = self.texts(given[0])
        if not texts:
            raise self.error(given[0], "an empty list", "at least one is needed")
        return tuple(Table({given[0]: text}, self.where).octets(key) for text in texts)

    def _encoded(self, key: str, encode: Callable[[str], bytes], wanted: str) -> bytes:
        text = self.text(key)
        try:
            return encode(text)
        except ValueError:
            raise self.error(key, repr(text), f"{wanted} are needed") from None

    def integers(self, key: str) -> tuple[int, ...]:
        values = self._value(key, list, [])
        if not all(type(value) is int for value in values):
            raise self.error(key, f"{values!r}", "a list of whole numbers is needed")
        return tuple(values)

    def texts(self, key: str) -> tuple[str, ...]:
        values = self._value(key, list, [])
        if not all(isinstance(value, str) for value in values):
            raise self.error(key, f"{values!r}", "a list of texts is needed")
        return tuple(values)

    def table(self, key: str) -> Table:
        """A table inside; an empty one where it is missing."""
        return Table(self._value(key, dict, {}), f"{self.where}, {key}")

    def as_tables(self) -> dict[str, Any]:
        """This table as it is."""
        return dict(self._tables)

    def items(self, key: str) -> dict[str, Any]:
        """A table inside as it is, empty where it is missing."""
        return dict(self._value(key, dict, {}))

    def tables(self, key: str) -> list[Table]:
        """The tables of an array, told apart by their ``name`` where they have one."""
        values = self._value(key, list, [])
        if not all(isinstance(value, dict) for value in values):
            raise self.error(key, "holds something else than tables", f"write [[{key}]]")
        return [Table(value, f"{self.where}, {key} {value.get('name', number)}")
                for number, value in enumerate(values, start=1)]

    def finish(self) -> None:
        """Raises ``DescriptionError`` if a key is left that nobody asked for."""
        for key in self._tables:
            if key not in self._asked:
                near = difflib.get_close_matches(key, self._asked, n=1)
                known = f"known here: {', '.join(sorted(self._asked))}"
                raise self.error(key, "unknown key",
                                 f"did you mean {near[0]}? {known}" if near else known)
