"""A logbook as digests, each worked out once and kept in ``<logbook>/.cache/``.

There is one file for each part, ``.cache/<part>.json``. An entry holds as long as its log and
what is laid over it (the corrections; for a part that looks at places or speed, the track beside
the log) keep size and time of change, its amps are read by the same convention, and this package is
the same.
The folder may be deleted at any time. A logbook that cannot be written is read all the same.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass
from functools import cached_property, lru_cache
from pathlib import Path
from typing import Any, Final

from collector.errors import EmptyLogbook, LogbookError, PackhandError
from collector.logbook import Logbook, LogEntry

from .digest import HEAD_COLUMNS, PARTS, LogDigest, LogHead, make_parts, read_head
from .load import load_telemetry
from .one_log.sign import Convention
from .place.layer import LAYER_COLUMNS
from .season.sign_history import resolve_signs
from .stored import as_plain, from_plain
from .telemetry import Telemetry
from .timebase import Watched

CACHE_FOLDER: Final = ".cache"
_HEAD: Final = "head"

#: Told after each log that had to be read: logs done and logs to do.
Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class DigestedLogbook:
    """Digests of every log that could be read, oldest first."""

    digests: tuple[LogDigest, ...]
    #: One line for each log that could not be read.
    problems: tuple[str, ...]


def read_digests(root: Path, parts: Iterable[str], progress: Progress | None = None,
                 keep: Iterable[str] = ()) -> DigestedLogbook:
    """Digests of a logbook's logs with the parts asked for.

    Parameters
    ----------
    root
        The logbook's folder.
    parts
        Names in ``digest.PARTS``.
    keep
        Parts made and kept too of each log that has to be opened: whoever will ask for all of
        them opens it once.

    Raises
    ------
    LogbookError
        If the folder is not a logbook.
    """
    names = tuple(parts)
    made = tuple(dict.fromkeys([*names, *keep]))
    book = Logbook.open(root)
    entries = book.logs()
    shelves = {name: _Shelf(root / CACHE_FOLDER / f"{name}.json", form) for name, form in
               [(_HEAD, LogHead), *((name, PARTS[name].form) for name in made)]}
    reading = _Reading(book, entries, names, made, shelves, progress)
    reading.read_heads()
    digests = reading.read_parts()
    for shelf in shelves.values():
        shelf.save({entry.stem for entry in entries})
    return DigestedLogbook(digests, tuple(reading.problems))


def of_pack(digested: DigestedLogbook, pack: str | None, where: str) -> tuple[LogDigest, ...]:
    """The digests of one pack: the named one, or the one that was logged last.

    Raises
    ------
    LogbookError
        If no log is of that pack, or there is none at all.
    """
    known = {d.head.pack for d in digested.digests}
    if not known:
        raise EmptyLogbook(where, "no log that can be read",
                           "record one with 'packhand record', or bring one in with "
                           "'packhand import'")
    if pack is not None and pack not in known:
        raise LogbookError(where, f"no log of pack {pack!r}",
                           "its packs: " + ", ".join(sorted(map(repr, known))))
    name = digested.digests[-1].head.pack if pack is None else pack
    return tuple(d for d in digested.digests if d.head.pack == name)


class _Reading:
    """One pass over a logbook: heads first, for a log's sign may come from its neighbours.

    A log whose figures tell its own sign is read once; one that must wait for its neighbours
    gives only its head first, and is opened again.
    """

    def __init__(self, book: Logbook, entries: list[LogEntry], names: tuple[str, ...],
                 made: tuple[str, ...], shelves: dict[str, _Shelf],
                 progress: Progress | None) -> None:
        self.entries, self.names, self.made, self.shelves = entries, names, made, shelves
        self.progress = progress
        self.problems: list[str] = []
        self.heads: dict[str, LogHead] = {}
        corrected = _identity(book.corrections_path)
        self._keys = {entry.stem: (*_identity(entry.path), *corrected) for entry in entries}
        self._tracks = {path.stem: _identity(path) for path in book.places_folder.glob("*")}
        self._placed = {name for name in made if set(PARTS[name].columns) & set(LAYER_COLUMNS)}
        self._columns = tuple(dict.fromkeys(
            [*HEAD_COLUMNS, *(c for name in made for c in PARTS[name].columns)]))

    def read_heads(self) -> None:
        for number, entry in enumerate(self.entries):
            head = self.shelves[_HEAD].get(entry.stem, self._keys[entry.stem])
            if head is None:
                head = self._open_for_head(entry)
                if self.progress:
                    self.progress(number + 1, len(self.entries))
            if head is not None:
                self.heads[entry.stem] = head

    def _open_for_head(self, entry: LogEntry) -> LogHead | None:
        telemetry = self._load(entry)
        if telemetry is None:
            return None
        head = read_head(telemetry)
        self.shelves[_HEAD].put(entry.stem, self._keys[entry.stem], head)
        if head.sign.told_by != "person" and head.sign.measured != "undecided":
            self._make(entry, telemetry, head, head.sign.measured)
        return head

    def read_parts(self) -> tuple[LogDigest, ...]:
        readable = [entry for entry in self.entries if entry.stem in self.heads]
        signs = resolve_signs([self.heads[entry.stem].sign for entry in readable])
        digests = []
        for entry, convention in zip(readable, signs, strict=True):
            head = self.heads[entry.stem]
            if any(self._part(entry, name, convention) is None for name in self.names):
                telemetry = self._load(entry)
                if telemetry is None:
                    continue
                self._make(entry, telemetry, head, convention)
            made = {name: self._part(entry, name, convention) for name in self.names}
            digests.append(LogDigest(entry.path.name, head, convention, made))
        return tuple(sorted(digests, key=lambda digest: digest.start_s))

    def _load(self, entry: LogEntry) -> Telemetry | None:
        try:
            # Head and parts ask for the same few columns many times over.
            return Watched.of(load_telemetry(entry.path, self._columns))
        except PackhandError as error:
            self.problems.append(str(error))
        except OSError as error:
            self.problems.append(f"{entry.path}: cannot be read ({error.strerror})")
        return None

    def _make(self, entry: LogEntry, telemetry: Telemetry, head: LogHead,
              convention: Convention) -> None:
        missing = [name for name in self.made if self._part(entry, name, convention) is None]
        for name, part in make_parts(telemetry, head, convention, missing).items():
            self.shelves[name].put(entry.stem, self._key(entry, name, convention), part)

    def _part(self, entry: LogEntry, name: str, convention: Convention) -> Any:
        return self.shelves[name].get(entry.stem, self._key(entry, name, convention))

    def _key(self, entry: LogEntry, name: str, convention: Convention) -> Key:
        track = self._tracks.get(entry.stem, ()) if name in self._placed else ()
        return (*self._keys[entry.stem], *track, convention)


Key = tuple[int | str, ...]


class _Shelf:
    """One part of every log of a logbook, in one file."""

    def __init__(self, path: Path, form: type) -> None:
        self.path, self.form = path, form
        self._built: dict[str, Any] = {}
        self._is_changed = False

    @cached_property
    def _kept(self) -> dict[str, tuple[Key, Any]]:
        """Read when it is first looked at; empty if the file is missing, damaged or old."""
        with suppress(OSError, ValueError, TypeError, KeyError, AttributeError):
            data = json.loads(self.path.read_bytes())
            if data["code"] == _code():
                return {stem: (tuple(key), plain) for stem, (key, plain) in data["logs"].items()}
        return {}

    def get(self, stem: str, key: Key) -> Any:
        """The part; ``None`` if there is none for this state of the log."""
        kept_key, plain = self._kept.get(stem, (None, None))
        if kept_key != key:
            return None
        if stem not in self._built:
            with suppress(ValueError, TypeError, KeyError, AttributeError):
                self._built[stem] = from_plain(self.form, plain)
        return self._built.get(stem)

    def put(self, stem: str, key: Key, part: Any) -> None:
        self._kept[stem] = (key, as_plain(part))
        self._built[stem] = part
        self._is_changed = True

    def save(self, stems: set[str]) -> None:
        """Write the file anew if anything changed; parts of logs that are gone are left out."""
        if not self._is_changed:
            return
        logs = {stem: entry for stem, entry in self._kept.items() if stem in stems}
        text = json.dumps({"code": _code(), "logs": logs}, separators=(",", ":"))
        with suppress(OSError):
            self.path.parent.mkdir(exist_ok=True)
            unfinished = self.path.with_suffix(".part")
            unfinished.write_text(text, encoding="utf-8")
            unfinished.replace(self.path)


def _identity(path: Path) -> tuple[int, int]:
    try:
        stat = path.stat()
    except OSError:
        return 0, 0
    return stat.st_size, stat.st_mtime_ns


@lru_cache(maxsize=1)
def _code() -> str:
    """A fingerprint of this package: a figure kept by other code is worked out again."""
    digest = hashlib.sha256()
    for path in sorted(Path(__file__).parent.rglob("*.py")):
        digest.update(path.read_bytes())
    return digest.hexdigest()[:16]
