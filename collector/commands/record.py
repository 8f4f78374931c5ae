"""Log a monitor until stopped with Ctrl-C.

MONITOR is a built-in description or the path of a TOML file. Without --port the only port there
is will be taken. What was heard is in the logbook's folder logs/: the log, and beside it the
bytes as heard (.raw). A .raw file in the place of the port is read again, at once, through the
description, as if live: that is how a better description mends an old log.

examples:
  packhand record demo-binary --port /dev/ttyUSB0
  packhand record my-monitor.toml --port socket://192.168.1.20:4000 --logbook ~/flatbed
  packhand record my-monitor.toml --port logbook/logs/2026-04-02T08-15-00Z.raw
  packhand record sunspec-battery --port tcp://192.168.1.20:502
  packhand record bluetooth-battery --port AA:BB:CC:DD:EE:FF
"""

from __future__ import annotations

import argparse
import json
import shutil
import sys
import time
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from ..logbook import Logbook
    from ..meta import LogMeta
    from ..monitors.schema import Description
    from ..record import Sample
    from ..recorder import Recording
    from ..sources.described import DescribedSource


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of ``packhand record``."""
    parser.add_argument("monitor", metavar="MONITOR", help="a built-in name, or a TOML file")
    parser.add_argument("--port", help="such as /dev/ttyUSB0, COM3, socket://host:port, "
                                       "tcp://host:port, a Bluetooth name, FILE.raw")
    parser.add_argument("--logbook", type=Path, default=Path("logbook"), metavar="DIR",
                        help="the folder to log into, made if missing (default: ./logbook)")
    parser.add_argument("--seconds", type=float, metavar="N", help="stop after N seconds")
    parser.add_argument("--pack", metavar="NAME", help="the pack's name in the logbook")
    parser.add_argument("--vehicle", metavar="NAME", help="the vehicle's name in the logbook")
    parser.add_argument("--allow-writes", action="store_true",
                        help="let a Bluetooth monitor be asked by writing to it, as its "
                             "description says; kept in the logbook")
    parser.add_argument("--json", action="store_true", help="print the outcome as JSON")


def run(arguments: argparse.Namespace) -> int:
    """Record; 1 if no sample was heard or something is not where it belongs."""
    from ..consent import with_consent
    from ..logbook import Logbook
    from ..monitors import load_description
    from ..recorder import record
    from ..stopping import stopping

    description = with_consent(load_description(arguments.monitor), arguments.logbook,
                               is_given=arguments.allow_writes)
    is_bluetooth = description.transport.peripheral is not None
    port = arguments.port or ("" if is_bluetooth else only_port())
    source = open_source(description, port)
    logbook = Logbook(arguments.logbook)
    meta = log_meta(arguments, description, source.name, logbook)
    screen = Screen(meta.sign.get("convention", ""))
    with stopping(arguments.seconds) as stop:
        recording = record(source, logbook, meta, stop, on_sample=screen.show,
                           on_words=screen.line)
    outcome = outcome_of(recording, source)
    print(json.dumps(outcome, indent=2) if arguments.json else outcome_words(outcome))
    is_whole = not (recording.unsaved or recording.rescued or recording.problem)
    return 0 if is_whole and recording.samples else 1


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


def open_source(description: Description, port: str) -> DescribedSource:
    """The source for a port, or for a raw capture in its place; nothing is opened yet."""
    from ..rawfile import RAW_SUFFIX
    from ..sources import open_link
    from ..sources.described import DescribedSource
    from ..sources.replay import CaptureLink

    if Path(port).suffix == RAW_SUFFIX:
        capture = CaptureLink(Path(port))
        return DescribedSource(capture, description, capture.clock)
    return DescribedSource(open_link(description, port), description)


def log_meta(arguments: argparse.Namespace, description: Description, port: str,
             logbook: Logbook) -> LogMeta:
    """What the log will say about itself."""
    from ..clock import local_zone
    from ..meta import LogMeta, software

    config = logbook.config()
    return LogMeta(
        pack=arguments.pack or only_name(config, "pack"),
        vehicle=arguments.vehicle or only_name(config, "vehicle"),
        monitor=description.as_tables(), sign=decided_sign(description),
        time_zone=local_zone(), software=software(), origin={"port": port})


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


class Screen:
    """One status line on a terminal, and a line of its own for each event; all on stderr."""

    #: Shortest time between two status lines. [s]
    EVERY_S = 0.25

    def __init__(self, convention: str) -> None:
        self._convention = convention
        self._start_s = time.monotonic()
        self._shown_s = 0.0
        self._is_terminal = sys.stderr.isatty()

    def show(self, sample: Sample, recording: Recording) -> None:
        """Tell an event, or renew the status line if it is time."""
        now_s = time.monotonic()
        if sample.event:
            self.line(sample.event)
        elif self._is_terminal and now_s - self._shown_s >= self.EVERY_S:
            self._shown_s = now_s
            words = status_words(sample, recording, now_s - self._start_s, self._convention)
            width = shutil.get_terminal_size().columns - 1
            self._put(f"\r\x1b[K{words[:width]}")

    def line(self, words: str) -> None:
        """A line that stays."""
        start = "\r\x1b[K" if self._is_terminal else ""
        self._put(f"{start}{time.strftime('%H:%M:%S')} {words}\n")

    def _put(self, text: str) -> None:
        """Show it; a terminal that was closed is no reason to stop recording."""
        with suppress(OSError):
            print(text, end="", file=sys.stderr, flush=True)


def status_words(sample: Sample, recording: Recording, elapsed_s: float, convention: str) -> str:
    """How it goes, in one line: ``0:12:31  23.1 A out  52.31 V  91 %  7512 samples``."""
    minutes, seconds = divmod(int(elapsed_s), 60)
    parts = [f"{minutes // 60}:{minutes % 60:02}:{seconds:02}"]
    amps = sample.values.get("current_a")
    if isinstance(amps, float | int):
        parts.append(amps_words(amps, convention))
    parts += [f"{sample.values[column]:.{digits}f} {unit}"
              for column, digits, unit in (("voltage_v", 2, "V"), ("soc_pct", 0, "%"))
              if column in sample.values]
    parts.append(f"{recording.samples} samples")
    if recording.gaps:
        parts.append(f"{recording.gaps} gaps")
    if recording.unsaved:
        parts.append(f"{recording.unsaved} not on disk")
    return "  ".join(parts)


def amps_words(amps: float, convention: str) -> str:
    """Amps with their direction, or as displayed where the sign is not decided."""
    out = {"negative_is_discharge": amps < 0, "positive_is_discharge": amps > 0}.get(convention)
    if out is None or amps == 0:
        return f"{amps:.1f} A" + ("" if out is not None else " as displayed")
    return f"{abs(amps):.1f} A {'out' if out else 'in'}"


def outcome_of(recording: Recording, source: DescribedSource) -> dict[str, Any]:
    """The outcome as JSON."""
    return {
        "schema": "packhand.record/1",
        "log": str(recording.path) if recording.path else None,
        "raw": str(recording.raw_path) if recording.raw_path else None,
        "samples": recording.samples, "gaps": recording.gaps, "unsaved": recording.unsaved,
        "rescued": str(recording.rescued) if recording.rescued else None,
        "raw_dropped": recording.raw_dropped, "problem": recording.problem,
        "heard": dict(source.counts),
    }


def outcome_words(outcome: dict[str, Any]) -> str:
    """The outcome in words."""
    if outcome["log"] is None:
        return "nothing was heard; no log was kept"
    gaps = {0: "no gaps", 1: "1 gap"}.get(outcome["gaps"], f"{outcome['gaps']} gaps")
    lines = [f"{outcome['log']}: {outcome['samples']} samples, {gaps}"]
    if not outcome["samples"] and outcome["heard"].get("heard_bytes"):
        lines.append(f"{outcome['heard']['heard_bytes']} bytes were heard, none of them a sample: "
                     "check the monitor description and the baud rate")
    if outcome["rescued"]:
        lines.append(f"{outcome['rescued']}: holds the samples that did not fit; move it into the "
                     "folder of the log when there is room")
    if outcome["unsaved"]:
        lines.append(f"{outcome['unsaved']} samples could not be saved; the .raw file beside the "
                     "log may hold them")
    if outcome["raw_dropped"]:
        lines.append(f"{outcome['raw_dropped']} pieces of the raw capture could not be saved")
    return "\n".join([*lines, *filter(None, [outcome["problem"]])])
