"""What a log says about itself: pack, vehicle, monitor, sign, clock, corrections."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from importlib import metadata
from typing import Any, Final, Self

from .errors import LogFormatError

#: The log format this version writes. A reader refuses a higher number.
FORMAT: Final = 1

#: What the JSON of a key may be, by its annotation.
_KINDS: Final[dict[str, type]] = {
    "int": int, "str": str, "bool": bool, "Mapping[str, Any]": dict,
    "tuple[Mapping[str, Any], ...]": list,
}
_WORDS: Final[dict[type, str]] = {int: "a number", str: "a text", bool: "true or false",
                                  dict: "an object", list: "a list"}


def software() -> str:
    """Name and version of this program, as logs carry it."""
    try:
        return f"packhand {metadata.version('packhand')}"
    except metadata.PackageNotFoundError:  # it runs from a folder
        return "packhand"


@dataclass(frozen=True, slots=True)
class LogMeta:
    """The metadata of one log; every value is plain JSON.

    Keys that this version does not know are kept in ``extra`` and written back unchanged.
    """

    format: int = FORMAT
    #: Which pack, by its name in the logbook.
    pack: str = ""
    #: Which vehicle, by its name in the logbook.
    vehicle: str = ""
    #: ``drive``, ``charge``, ``rest`` or empty where nobody said.
    kind: str = ""
    #: The monitor description, whole, as the tables of its TOML file.
    monitor: Mapping[str, Any] = field(default_factory=dict)
    #: The sign decision: ``convention``, ``decided_by``, ``evidence``. Applied on loading.
    sign: Mapping[str, Any] = field(default_factory=dict)
    #: IANA name of the person's time zone, for local times on screens.
    time_zone: str = "UTC"
    #: Name and version of the program that wrote the log.
    software: str = ""
    #: Dated layers on top of the raw figures, laid on when the log is loaded: ``{kind, column,
    #: value, from, until, reason}``. Where the log lies in a logbook with a ``corrections.csv``,
    #: that one rules.
    corrections: tuple[Mapping[str, Any], ...] = ()
    #: Where the figures come from: a port, or a file with its SHA-256.
    origin: Mapping[str, Any] = field(default_factory=dict)
    #: How the log was recovered, if it was: ``rows``, ``torn_bytes``, ``damaged_lines``.
    recovered: Mapping[str, Any] = field(default_factory=dict)
    #: True for invented data; every screen and export then says so.
    invented: bool = False
    #: Keys written by a newer version.
    extra: Mapping[str, Any] = field(default_factory=dict)

    def as_json(self) -> dict[str, Any]:
        """The keys that say something, unknown ones included; ``format`` first."""
        known = {f.name: getattr(self, f.name) for f in fields(self) if f.name != "extra"}
        known["corrections"] = list(self.corrections)
        return {k: v for k, v in known.items() if v or k == "format"} | dict(self.extra)

    @classmethod
    def from_json(cls, data: Mapping[str, Any], where: str) -> Self:
        """Metadata from a log's header.

        Raises
        ------
        LogFormatError
            If ``format`` is missing or newer than this version reads, or a key has a wrong type.
        """
        number = data.get("format")
        if not isinstance(number, int) or not 1 <= number <= FORMAT:
            raise LogFormatError(
                where, f"log format {number!r}",
                f"this version reads format 1 to {FORMAT}; a newer packhand may read it",
            )
        kinds = {f.name: _KINDS[str(f.type)] for f in fields(cls) if f.name != "extra"}
        known: dict[str, Any] = {k: v for k, v in data.items() if k in kinds}
        for key, value in known.items():
            if not isinstance(value, kinds[key]):
                raise LogFormatError(f"{where}, {key}", f"{value!r} is not {_WORDS[kinds[key]]}",
                                     "the log's header is damaged")
        known["corrections"] = tuple(known.get("corrections", ()))
        return cls(**known, extra={k: v for k, v in data.items() if k not in kinds})

    def header_lines(self) -> list[str]:
        """One comment line a key, as a journal carries them."""
        return [f"# {key}: {json.dumps(value, ensure_ascii=False)}"
                for key, value in self.as_json().items()]

    @classmethod
    def from_header(cls, lines: list[str], where: str) -> Self:
        """Read back what ``header_lines`` wrote.

        Raises
        ------
        LogFormatError
            If a line is not ``# key: JSON``, or as in ``from_json``.
        """
        data: dict[str, Any] = {}
        for number, line in enumerate(lines, start=1):
            key, colon, value = line.removeprefix("#").strip().partition(": ")
            try:
                if not colon:
                    raise ValueError
                data[key] = json.loads(value)
            except ValueError:
                raise LogFormatError(
                    f"{where}, line {number}", f"{line[:60]!r} is not '# key: JSON'",
                    "this is not a packhand journal, or its header is damaged",
                ) from None
        return cls.from_json(data, where)
