"""Log one monitor or several until stopped with Ctrl-C.

MONITOR is a built-in description or the path of a TOML file; its port stands behind an @ or after
--port. Without a port the only one there is will be taken. What was heard is in the logbook's
folder logs/: the log, and beside it the bytes as heard (.raw). A .raw file in the place of the
port is read again, at once, through the description, as if live: that is how a better description
mends an old log.

Several monitors with different quantities, such as a pack and a receiver of speed and place, share
a log. Two packs get a log each, named by --pack in the same order.

On a terminal, space or Enter marks the moment, and s keeps a sounding alarm quiet for ten minutes.
What to be warned of stands in logbook.toml under [pack.alarms], such as cell_low_v = 2.9 or
out_a = {limit = 100, for_s = 60}. An alarm protects nothing.

examples:
  packhand record demo-binary --port /dev/ttyUSB0
  packhand record my-monitor.toml --port socket://192.168.1.20:4000 --logbook ~/flatbed
  packhand record my-monitor.toml --port logbook/logs/2026-04-02T08-15-00Z.raw
  packhand record sunspec-battery --port tcp://192.168.1.20:502
  packhand record bluetooth-battery --port AA:BB:CC:DD:EE:FF
  packhand record demo-binary@/dev/ttyUSB0 receiver.toml@/dev/ttyACM0
  packhand record demo-text@/dev/ttyUSB0 demo-text@/dev/ttyUSB1 --pack front --pack rear
  packhand record --test-alarms
"""

from __future__ import annotations

import argparse
import json
import threading
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor, wait
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from .numbers import above_zero

if TYPE_CHECKING:
    from ..keys import ReadKey
    from ..logbook import Logbook
    from ..meta import LogMeta
    from ..monitors.schema import Description
    from ..record import Sample
    from ..recorder import Recording
    from ..sources.described import DescribedSource
    from .screen import Screen

    #: A monitor that is listened to, and what describes it.
    Listening = tuple[Description, DescribedSource]


#: Windows notices Ctrl-C only between waits. [s]
_WAIT_S: Final = 0.5


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of ``packhand record``."""
    parser.add_argument("monitors", metavar="MONITOR[@PORT]", nargs="*",
                        help="a built-in name or a TOML file, with the port behind an @")
    parser.add_argument("--port", help="such as /dev/ttyUSB0, COM3, socket://host:port, "
                                       "tcp://host:port, a Bluetooth name, FILE.raw")
    parser.add_argument("--logbook", type=Path, default=Path("logbook"), metavar="DIR",
                        help="the folder to log into, made if missing (default: ./logbook)")
    parser.add_argument("--seconds", type=above_zero, metavar="N", help="stop after N seconds")
    parser.add_argument("--pack", metavar="NAME", action="append", default=[],
                        help="the pack's name in the logbook; once for each log")
    parser.add_argument("--vehicle", metavar="NAME", help="the vehicle's name in the logbook")
    parser.add_argument("--allow-writes", action="store_true",
                        help="let a Bluetooth monitor be asked by writing to it, as its "
                             "description says; kept in the logbook")
    parser.add_argument("--test-alarms", action="store_true",
                        help="sound each alarm of the logbook once, and record nothing")
    parser.add_argument("--json", action="store_true", help="print the outcome as JSON")
    parser.set_defaults(misuse=parser.error)


def run(arguments: argparse.Namespace) -> int:
    """Record; 1 if no sample was heard or something is not where it belongs."""
    from ..clock import Clock
    from ..clock_doubt import clock_doubt
    from ..keys import keyboard
    from ..logbook import Logbook
    from ..stopping import stopping
    from .screen import Screen, is_whole, outcome_of, outcome_words

    logbook, screen = Logbook(arguments.logbook), Screen()
    if arguments.test_alarms:
        return try_alarms(arguments, logbook, screen)
    if not arguments.monitors:
        arguments.misuse("say which MONITOR to log")
    logs = in_logs(listening(arguments))
    packs = pack_names(arguments.pack, logbook.config(), len(logs))
    if doubt := clock_doubt(logbook, Clock().now()[0]):
        screen.line(doubt)
    jobs = [_Job(arguments, pack, log, logbook, screen, is_alone=len(logs) == 1)
            for pack, log in zip(packs, logs, strict=True)]
    with stopping(arguments.seconds) as stop, keyboard() as read_key:
        recordings = _all_recorded(jobs, stop, read_key)
    outcomes = [outcome_of(recording, job.heard)
                for recording, job in zip(recordings, jobs, strict=True)]
    if arguments.json:
        beside = {"beside": outcomes[1:]} if outcomes[1:] else {}
        print(json.dumps(outcomes[0] | beside, indent=2))
    else:
        print("\n".join(map(outcome_words, outcomes)))
    return 0 if all(map(is_whole, recordings)) else 1


def listening(arguments: argparse.Namespace) -> list[Listening]:
    """The monitors that are asked for; nothing is opened yet.

    Raises
    ------
    SourceUnavailable
        If a port is not said where it must be.
    """
    from ..consent import with_consent
    from ..monitors import load_description

    found = []
    for word in arguments.monitors:
        monitor, port = split_port(word)
        description = with_consent(load_description(monitor), arguments.logbook,
                                   is_given=arguments.allow_writes)
        port = port or _port_of(description, arguments)
        found.append((description, open_source(description, port,
                                               is_alone=len(arguments.monitors) == 1)))
    return found


def split_port(word: str) -> tuple[str, str]:
    """``MONITOR@PORT`` taken apart; a file's own name may hold an @, too."""
    monitor, _, port = word.rpartition("@")
    return (monitor, port) if monitor and not Path(word).is_file() else (word, "")


def _port_of(description: Description, arguments: argparse.Namespace) -> str:
    """The port of a monitor that has none behind an @."""
    from ..errors import SourceUnavailable

    if arguments.port and len(arguments.monitors) == 1:
        return str(arguments.port)
    if description.transport.peripheral is not None:
        return ""
    if len(arguments.monitors) > 1:
        raise SourceUnavailable(description.name, "several monitors, and no port for this one",
                                f"write {description.name}@PORT")
    return only_port()


def only_port() -> str:
    """The one serial port that is free.

    Raises
    ------
    SourceUnavailable
        If there is none, or more than one to choose from.
    """
    from ..errors import SourceUnavailable
    from ..sources.serial_ports import serial_ports

    free = [port.port for port in serial_ports() if port.state == "free"]
    if len(free) != 1:
        found = f"several ports: {', '.join(free)}" if free else "no free serial port found"
        raise SourceUnavailable("--port", found, "say which; 'packhand ports' lists them")
    return free[0]


def open_source(description: Description, port: str, *, is_alone: bool = True) -> DescribedSource:
    """The source for a port, or for a raw capture in its place; nothing is opened yet.

    Raises
    ------
    SourceUnavailable
        If a capture is to be read beside another monitor: their clocks have nothing in common.
    """
    from ..errors import SourceUnavailable
    from ..rawfile import RAW_SUFFIX
    from ..sources import open_link
    from ..sources.described import DescribedSource
    from ..sources.replay import CaptureLink

    if Path(port).suffix != RAW_SUFFIX:
        return DescribedSource(open_link(description, port), description)
    if not is_alone:
        raise SourceUnavailable(port, "a capture cannot be read beside another monitor",
                                "read it by itself")
    capture = CaptureLink(Path(port))
    return DescribedSource(capture, description, capture.clock)


def in_logs(monitors: Sequence[Listening]) -> list[list[Listening]]:
    """Monitors that can share a log together: no quantity may come from two of them."""
    logs: list[list[Listening]] = []
    for monitor in monitors:
        columns = set(monitor[1].columns)
        home = next((log for log in logs
                     if all(columns.isdisjoint(source.columns) for _, source in log)), None)
        if home is None:
            logs.append([monitor])
        else:
            home.append(monitor)
    return logs


class _Job:
    """One log to be recorded, and the alarms of its pack."""

    def __init__(self, arguments: argparse.Namespace, pack: str, log: Sequence[Listening],
                 logbook: Logbook, screen: Screen, *, is_alone: bool) -> None:
        from ..alarm_limits import limits_of
        from ..alarms import Alarms
        from ..logbook import CONFIG_NAME

        self._sources = [source for _, source in log]
        self._meta = log_meta(arguments, pack, log, logbook)
        self._logbook = logbook
        self._screen = screen
        self._label = "" if is_alone else pack or self._sources[0].name
        self._limits = limits_of(logbook.config(), pack, str(logbook.root / CONFIG_NAME))
        self.alarms = Alarms(self._limits, self._convention)
        self.has_begun = threading.Event()

    @property
    def _convention(self) -> str:
        return str(self._meta.sign.get("convention", ""))

    @property
    def heard(self) -> Counter[str]:
        """Frames and bytes, good and bad, of all its monitors."""
        return sum((source.counts for source in self._sources), Counter())

    def record(self, stop: threading.Event, read_key: ReadKey | None,
               shelve: Callable[[float], None]) -> Recording:
        """Record it; ``read_key`` gives the keys that mark moments in this log."""
        from ..alarms import CAUTION
        from ..attendant import Attendant
        from ..recorder import joined_columns, record
        from ..sources.keyboard import KEYS, MarkKeys

        screen = self._screen
        attendant = Attendant(self.alarms, self._logbook.notes_path, self._meta.pack,
                              on_words=screen.line, on_alarm=screen.ring, on_shelve=shelve)
        if self._limits:
            screen.line(f"{len(self._limits)} alarms are set; {CAUTION}")
        for limit in self.alarms.unwatched(joined_columns(self._sources)):
            screen.line(f"no alarm for {limit.words}: the monitor does not tell it, or not which "
                        "way the amps go")
        if read_key:
            screen.line(KEYS)
        keys = [MarkKeys(read_key)] if read_key else []

        def on_sample(sample: Sample, recording: Recording) -> Iterable[str]:
            screen.show(sample, recording, self._convention, self._label)
            return attendant.take(sample, recording)

        def on_words(words: str) -> None:
            screen.line(words)
            if words.startswith("recording "):
                self.has_begun.set()

        first, *others = self._sources
        return record(first, self._logbook, self._meta, stop, beside=[*others, *keys],
                      on_sample=on_sample, on_words=on_words)


def _all_recorded(jobs: Sequence[_Job], stop: threading.Event,
                  read_key: ReadKey | None) -> list[Recording]:
    """Record all logs at once; one that cannot begin stops the others, and is raised.

    Marks stand in the first log; alarms are shelved in all.
    """
    def shelve(monotonic_s: float) -> None:
        for job in jobs:
            job.alarms.shelve(monotonic_s)

    if len(jobs) == 1:
        return [jobs[0].record(stop, read_key, shelve)]
    running: list[Future[Recording]] = []
    with ThreadPoolExecutor(len(jobs)) as pool:
        try:
            for job in jobs:  # one after the other: each brings back what a crash left behind
                running.append(pool.submit(job.record, stop,
                                           read_key if job is jobs[0] else None, shelve))
                while not (job.has_begun.wait(_WAIT_S) or any(each.done() for each in running)):
                    pass
            while not any(each.done() for each in running):
                wait(running, timeout=_WAIT_S)
        finally:
            stop.set()
        return [each.result() for each in running]


def pack_names(typed: Sequence[str], config: dict[str, Any], logs: int) -> list[str]:
    """The pack of each log: as typed; else the logbook's only one, if there is one log alone."""
    rest = [only_name(config, "pack")] if logs == 1 else [""] * logs
    return [*typed[:logs], *rest[len(typed):]]


def log_meta(arguments: argparse.Namespace, pack: str, log: Sequence[Listening],
             logbook: Logbook) -> LogMeta:
    """What a log will say about itself; the first monitor leads, the others stand beside it."""
    from ..clock import local_zone
    from ..corrections import layers_of
    from ..meta import LogMeta, software

    config = logbook.config()
    (description, source), *others = log
    beside = [{"port": other.name, "monitor": told.as_tables()} for told, other in others]
    sign = next(filter(None, (decided_sign(told) for told, _ in log)), {})
    return LogMeta(
        pack=pack, corrections=layers_of(logbook.corrections_path, pack),
        vehicle=arguments.vehicle or only_name(config, "vehicle"),
        monitor=description.as_tables(), sign=sign, time_zone=local_zone(),
        software=software(),
        origin={"port": source.name} | ({"beside": beside} if beside else {}))


def decided_sign(description: Description) -> dict[str, Any]:
    """The sign decision where the description knows it, else none: the analysis finds it."""
    convention = description.sign.current_a
    if convention == "undecided":
        return {}
    return {"convention": convention, "decided_by": "description"}


def only_name(config: dict[str, Any], table: str) -> str:
    """The name of the only vehicle or pack of a logbook; empty if there are several or none."""
    names = [entry.get("name", "") for entry in config.get(table, [])]
    return names[0] if len(names) == 1 else ""


def try_alarms(arguments: argparse.Namespace, logbook: Logbook, screen: Screen) -> int:
    """Sound each alarm once, as it would at its limit; 1 if the logbook names no limit."""
    from ..alarm_limits import limits_of
    from ..alarms import CAUTION, Alarms
    from ..errors import LogbookError
    from ..logbook import CONFIG_NAME

    config, path = logbook.config(), logbook.root / CONFIG_NAME
    packs = arguments.pack or [entry.get("name", "") for entry in config.get("pack", [])]
    events = [event for pack in packs
              for event in Alarms(limits_of(config, pack, str(path))).trial()]
    if not events:
        raise LogbookError(str(path), "no limits to watch",
                           "type one under Pack & limits, or write [pack.alarms] behind the pack, "
                           "such as cell_low_v = 2.9")
    for event in events:
        screen.ring()
        screen.line(f"test: {event.words}")
    print(f"{len(events)} alarms tried; {CAUTION}")
    return 0
