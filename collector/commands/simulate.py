"""Play an invented monitor, as if one were plugged in or in reach: on a pseudo-terminal, as a
Modbus unit, or over Bluetooth (on Linux, without a radio).

  packhand simulate demo-binary
  packhand simulate demo-binary --tcp 4000
  packhand simulate demo-ble
  packhand simulate demo-binary --link ./cart --fault unplug@20 --fault garbage --seed 7
  packhand simulate demo-binary --log logbook/logs/2026-04-02T08-15-00Z.parquet --speed 10

It speaks of an invented flatbed that drives up and down an island, beginning now, or says again
what a log holds, a row each beat. Listen with the record command that it prints. Ctrl-C pulls the
plug. Without --log everything it says is invented data.

Faults come again and again, as --seed decides, or once with KIND@SECONDS; KIND@SECONDS+SECONDS
says how long it lasts, too:
"""

from __future__ import annotations

import argparse
import random
import threading
from collections.abc import Iterator
from contextlib import ExitStack
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from .numbers import above_zero, port, whole

if TYPE_CHECKING:
    from ..monitors import Description
    from ..simulator.live import Row


#: Kind of transport -> how a person calls it.
_ON = {"ble": "Bluetooth", "gatt": "Bluetooth", "modbus": "Modbus"}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    from ..simulator.faults import KINDS, MORE_KINDS

    kinds = "\n".join(f"  {kind:<12} {words}" for kind, (words, _, _) in KINDS.items())
    more = "\n".join(dict.fromkeys(
        f"  {kind:<12} {words} ({_ON.get(transport, transport)} only)"
        for transport, table in MORE_KINDS.items() for kind, (words, _, _) in table.items()))
    parser.description = f"{__doc__}\n{kinds}\n{more}"
    parser.add_argument("monitor", metavar="MONITOR", nargs="?", default="demo-binary",
                        help="a demo monitor or the path of a description")
    parser.add_argument("--link", type=Path, metavar="PATH",
                        help="a name for the port that stays the same after an unplug")
    parser.add_argument("--tcp", type=port, metavar="PORT",
                        help="play on the network instead, at this port of this computer")
    parser.add_argument("--fault", action="append", default=[], metavar="KIND",
                        help="what goes wrong; may be given several times")
    parser.add_argument("--log", type=Path, metavar="LOG",
                        help="say again what this log holds, instead of an invented day")
    parser.add_argument("--seed", type=whole, default=1, help="another seed, another day")
    parser.add_argument("--rate", type=above_zero, metavar="HZ",
                        help="frames a second (default: as the monitor's description says)")
    parser.add_argument("--speed", type=above_zero, default=1.0, metavar="TIMES",
                        help="play the day faster than it happens")
    parser.add_argument("--seconds", type=above_zero, metavar="N", help="stop after this long")
    parser.add_argument("--truth", type=Path, metavar="FILE",
                        help="write down each frame and fault as it really was, as JSON lines")


def run(arguments: argparse.Namespace) -> int:
    from ..monitors import load_description
    from ..simulator.faults import kinds_for, script
    from ..simulator.network_line import NetworkLine
    from ..simulator.player import Player
    from ..simulator.terminal import PseudoTerminal
    from ..simulator.voices import period_s
    from ..stopping import stopping

    description = load_description(arguments.monitor)
    if description.transport.kind != "serial":
        return _run_on_stage(arguments, description)
    interval_s = 1 / arguments.rate if arguments.rate else period_s(description)
    coming = script(arguments.fault, arguments.seed, kinds_for("serial"))
    rows = _rows(arguments, interval_s)
    with ExitStack() as stack:
        truth = stack.enter_context(_written(arguments.truth)) if arguments.truth else None
        line = (PseudoTerminal(arguments.link) if arguments.tcp is None
                else NetworkLine(arguments.tcp))
        stack.enter_context(line)
        stop = stack.enter_context(stopping(arguments.seconds))
        print(f"{_title(arguments, description)} on {line.port}")
        _tell_how(f"packhand record {description.name} --port {line.port}")
        player = Player(description, line, random.Random(arguments.seed), coming, truth)
        player.play(rows, interval_s / arguments.speed, stop)
    print(f"Stopped; {player.sent} frames sent whole.")
    return 0


def _written(path: Path) -> TextIO:
    from ..errors import PackhandError

    try:
        return path.open("w", encoding="utf-8")
    except OSError as error:
        raise PackhandError(str(path), f"cannot be written ({error.strerror})",
                            "choose another place for --truth") from error


def _run_on_stage(arguments: argparse.Namespace, description: Description) -> int:
    """Play a monitor that is asked or subscribed to."""
    from ..errors import PackhandError
    from ..simulator.faults import kinds_for, script
    from ..simulator.stage import open_stage, play
    from ..simulator.voices import period_s
    from ..stopping import stopping

    if arguments.truth:
        raise PackhandError("--truth", f"{description.name} sends no frames of its own accord",
                            "it is for serial monitors")
    interval_s = 1 / arguments.rate if arguments.rate else period_s(description)
    coming = script(arguments.fault, arguments.seed, kinds_for(description.transport.kind))
    rows = _rows(arguments, interval_s)
    with (stopping(arguments.seconds) as stop,
          open_stage(description, next(rows), link=arguments.link,
                     tcp_port=arguments.tcp) as (stage, listen)):
        print(_title(arguments, description))
        _tell_how(listen)
        shown = play(stage, rows, interval_s / arguments.speed, stop, coming)
    print(f"Stopped; {shown} rows shown.")
    return 0


def _rows(arguments: argparse.Namespace, interval_s: float) -> Iterator[Row]:
    """What the monitor says: an endless invented day, or a log's rows from first to last.

    Raises
    ------
    LogFormatError
        If the log cannot be read, or holds no figures.
    """
    from ..errors import LogFormatError
    from ..simulator.live import live_day
    from ..sources.replay import LogReplay

    if arguments.log is None:
        return live_day(arguments.seed, interval_s)
    samples = LogReplay(arguments.log).heard(threading.Event())
    rows = (dict(sample.values) for sample in samples if sample.values)
    first = next(rows, None)
    if first is None:
        raise LogFormatError(str(arguments.log), "no samples", "name a log that holds figures")
    return chain([first], rows)


def _title(arguments: argparse.Namespace, description: Description) -> str:
    origin = "invented data" if arguments.log is None else f"saying again {arguments.log}"
    return f"{description.title} ({origin})"


def _tell_how(listen: str) -> None:
    print(f"Listen with: {listen}")
    print("Ctrl-C stops it.", flush=True)
