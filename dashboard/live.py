"""Following the log that is being recorded now: the last minutes, kept in memory.

Every page asks the same feed, and the feed looks at the file at most a few times a second,
however many pages are open. It takes no lock and writes nothing.
"""

from __future__ import annotations

import math
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final, Literal

import pyarrow as pa
import pyarrow.compute as pc

from analysis.load import telemetry_from_table
from analysis.one_log.instrument import sign_of_log, turned_within
from analysis.one_log.sign import SignFinding
from analysis.telemetry import Telemetry
from collector.errors import LogFormatError
from collector.logbook import Logbook
from collector.logbook_figures import vehicle_kind_of
from collector.meta import LogMeta
from collector.tail import JournalTail

from .alarms import KIND, Alarm, Standing
from .quantities import Units
from .recording import Recording, rated_ah

#: What is shown of a live log. [s]
WINDOW_S: Final = 300.0
#: What is kept in memory: a mean over the window needs as much again before it. [s]
KEPT_S: Final = 2 * WINDOW_S
#: Without a new sample for so long, the recorder may have stopped. [s]
SILENT_S: Final = 10.0
#: Looks at the file are this far apart at least. [s]
_LOOK_EACH_S: Final = 0.25
#: Looks for a new recording, and tries to settle the sign, are this far apart. [s]
_SEARCH_EACH_S: Final = 2.0
#: A sign that is settled is held against the newest volts this often. [s]
_CHECK_EACH_S: Final = 30.0

State = Literal["nothing", "recording", "silent", "ended"]


@dataclass(frozen=True, slots=True)
class LiveView:
    """What is known of the recording at one moment."""

    state: State
    #: Which log, empty where nothing is recorded.
    stem: str = ""
    #: Seconds from the first sample to the last. [s]
    recorded_s: float = 0.0
    #: Time of the last sample, UTC.
    last: datetime | None = None
    #: Seconds since then. [s]
    age_s: float = 0.0
    #: The last ``KEPT_S``; ``None`` before the first sample.
    recording: Recording | None = None
    #: Alarms that stand, however long ago they began.
    alarms: tuple[Alarm, ...] = ()


class LiveFeed:
    """Follows the newest live log of a logbook."""

    def __init__(self, logbook: Logbook, config: Mapping[str, Any],
                 clock: Callable[[], float] = time.time) -> None:
        self._logbook = logbook
        self._config = config
        self._clock = clock
        self._lock = threading.Lock()
        self._followed: _Followed | None = None
        self._view = LiveView("nothing")
        self._looked_s = self._searched_s = -1e9

    def look(self) -> LiveView:
        """The newest view; the same object again within a fraction of a second."""
        with self._lock:
            now_s = self._clock()
            if 0 <= now_s - self._looked_s < _LOOK_EACH_S:
                return self._view
            self._looked_s = now_s
            if self._wants_search(now_s):
                self._search()
                self._searched_s = now_s
            self._view = self._followed.look(now_s) if self._followed else LiveView("nothing")
            return self._view

    def _wants_search(self, now_s: float) -> bool:
        waiting = self._view.state != "recording"
        return waiting and not 0 <= now_s - self._searched_s < _SEARCH_EACH_S

    def _search(self) -> None:
        live = [entry for entry in self._logbook.logs() if entry.is_live]
        if live and (self._followed is None or self._followed.stem != live[-1].stem):
            self._followed = _Followed(live[-1].path, self._config)


class _Followed:
    """One journal being followed: its last rows and what they mean."""

    def __init__(self, path: Path, config: Mapping[str, Any]) -> None:
        self.stem = path.stem
        self._tail = JournalTail(path)
        self._config = config
        self._rows: pa.Table | None = None
        self._first_s = self._last_s = 0.0
        self._last: datetime | None = None
        self._is_gone = False
        self._standing = Standing()
        self._sign: SignFinding | None = None
        self._sign_sought_s = -1e9
        self._recording: Recording | None = None

    def look(self, now_s: float) -> LiveView:
        if self._take_in() or self._recording is None:
            self._recording = self._drawn(now_s)
        if self._last is None:
            return LiveView("ended" if self._is_gone else "recording", self.stem)
        age_s = max(now_s - self._last.timestamp(), 0.0)
        state: State = "silent" if age_s > SILENT_S else "recording"
        return LiveView("ended" if self._is_gone else state, self.stem,
                        self._last_s - self._first_s, self._last, age_s, self._recording,
                        () if self._is_gone else self._standing.alarms)

    def _take_in(self) -> bool:
        """Read what is new; true if there was anything."""
        gained = False
        while (new := self._new_rows()) is not None and new.num_rows:
            self._note_samples(new.filter(pc.is_null(new["event"])))
            self._note_alarms(new["event"].drop_null().to_pylist())
            joined = new if self._rows is None else pa.concat_tables([self._rows, new])
            since = joined["monotonic_s"][-1].as_py() - KEPT_S
            self._rows = joined.filter(pc.greater_equal(joined["monotonic_s"], since))
            gained = True
        return gained

    def _note_samples(self, samples: pa.Table) -> None:
        """Remember the first and the last sample; an event is none."""
        if samples.num_rows:
            if self._last is None:
                self._first_s = samples["monotonic_s"][0].as_py()
            self._last_s = samples["monotonic_s"][-1].as_py()
            self._last = samples["time"][-1].as_py().astimezone(UTC)

    def _note_alarms(self, events: list[str]) -> None:
        for event in events:
            kind, _, words = event.partition(": ")
            if kind == KIND:
                self._standing.take(words)

    def _new_rows(self) -> pa.Table | None:
        try:
            return self._tail.look()
        except FileNotFoundError:
            self._is_gone = True
            return None

    def _drawn(self, now_s: float) -> Recording | None:
        if self._rows is None or self._tail.head is None:
            return None
        try:
            raw = telemetry_from_table(self._rows, self._meta(self._tail.head.meta), self.stem)
        except LogFormatError:  # events alone so far
            return None
        self._settle_sign(raw, now_s)
        return Recording.of(raw, Units.of(self._config), self._sign,
                            rated_ah(self._config, raw.meta))

    def _meta(self, meta: LogMeta) -> dict[str, Any]:
        return meta.as_json() | {"vehicle_kind": vehicle_kind_of(self._config, meta.vehicle)}

    def _settle_sign(self, raw: Telemetry, now_s: float) -> None:
        """Settle the sign, and go on asking: one that was told never becomes the other without a
        word. Once it has turned, this log has none."""
        held = self._sign
        is_open = held is None or held.convention == "undecided"
        has_turned = held is not None and math.isfinite(held.turned_s)
        if has_turned or now_s - self._sign_sought_s <= (
                _SEARCH_EACH_S if is_open else _CHECK_EACH_S):
            return
        found, self._sign_sought_s = sign_of_log(raw), now_s
        if held is None or is_open or math.isfinite(found.turned_s):
            self._sign = found
        elif found.decided_by == "volts" and found.convention != held.convention:
            if held.decided_by != "volts":  # then ``found.conflict`` says what was told before
                self._sign = found
            elif "unsigned" not in (held.convention, found.convention):
                self._sign = turned_within(raw, 0.0, float(raw.elapsed_s[-1]))
