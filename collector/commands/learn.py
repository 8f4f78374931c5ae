"""Work out an unknown monitor from what its display shows.

Listens to the monitor while you type, a few times, what its display shows: volts, amps, percent,
temperature in °C, in that order, the sign as displayed. Type '-' for a figure that is not shown,
and nothing for those behind the last one that is; others go by name, such as cell_01_v=3.31. One
reading at rest, one under a hard load and one on the charger tell more than ten in one state. It
listens only and never writes to the monitor. What cannot be told yet is said, with what to do next.

The result is a description that 'packhand record' uses at once.

Whoever drives does not read the display: be two.

examples:
  packhand learn --port /dev/ttyUSB0 -o my-monitor.toml
  packhand learn --raw drive.raw --readings display.csv -o my-monitor.toml
"""

from __future__ import annotations

import argparse
import json
import sys
import threading
import time
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

from .numbers import count

if TYPE_CHECKING:
    from ..learner import Lesson, Reading
    from ..learner.cells import Cells
    from ..learner.text_cells import TextCells
    from ..rawfile import Chunk
    from ..sources import Link

#: What a bare figure means, in the order typed.
ORDER = ("voltage_v", "current_a", "soc_pct", "temp_1_c")
WORDS = {"voltage_v": "volts", "current_a": "amps", "soc_pct": "percent",
         "temp_1_c": "temperature"}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of ``packhand learn``."""
    source = parser.add_mutually_exclusive_group(required=True)
    source.add_argument("--port", help="listen to this port, such as /dev/ttyUSB0 or COM3")
    source.add_argument("--raw", type=Path, metavar="FILE", help="a raw capture")
    parser.add_argument("--readings", type=Path, metavar="FILE.csv",
                        help="typed readings: time and any of voltage_v, current_a, soc_pct, "
                             "temp_1_c, cell_01_v")
    parser.add_argument("--baud", type=count, default=9600, metavar="N",
                        help="speed of the serial line (default: 9600)")
    parser.add_argument("-o", "--output", type=Path, metavar="OUT.toml",
                        help="where to write the description")
    parser.add_argument("--logbook", type=Path, metavar="DIR",
                        help="read the bytes already heard into a log there")
    parser.add_argument("--json", action="store_true", help="print the result as JSON")


def run(arguments: argparse.Namespace) -> int:
    """Learn; 1 if no figure at all could be told."""
    raw_path: Path
    if arguments.port:
        raw_path, chunks, readings = _live(arguments)
    else:
        raw_path, chunks, readings = arguments.raw, *_from_files(arguments)
    from ..learner import learn

    lesson = learn(chunks, readings)
    result = outcome(lesson, readings, _name(arguments), arguments.baud)
    print(json.dumps(result, indent=2) if arguments.json else
          "\n".join(outcome_lines(result, show_text=arguments.output is None)))
    if not result["description"]:
        return 1
    if arguments.output:
        arguments.output.write_text(result["description"], encoding="utf-8")
        print(f"{arguments.output}: written; 'packhand record {arguments.output}' uses it",
              file=sys.stderr)
    if arguments.logbook:
        print(read_again(result["description"], raw_path, arguments.logbook), file=sys.stderr)
    return 0


def _name(arguments: argparse.Namespace) -> str:
    return arguments.output.stem if arguments.output else "learned"


# ------------------------------------------------ where bytes and readings come from

def _from_files(arguments: argparse.Namespace) -> tuple[list[Chunk], list[Reading]]:
    from ..errors import SourceUnavailable
    from ..learner import parse_readings
    from ..rawfile import read_raw

    if arguments.readings is None:
        raise SourceUnavailable("--readings", "is missing",
                                "give the CSV with what the display showed")
    with arguments.readings.open(encoding="utf-8", newline="") as file:
        readings = parse_readings(file, str(arguments.readings))
    return list(read_raw(arguments.raw)), readings


def _live(arguments: argparse.Namespace) -> tuple[Path, list[Chunk], list[Reading]]:
    """Listen and ask until the person has typed enough; every byte is kept in a file."""
    from ..monitors.schema import Transport
    from ..rawfile import RAW_SUFFIX, RawWriter
    from ..sources.serial_line import SerialLink

    link = SerialLink(arguments.port, Transport(baud=arguments.baud))
    link.open()
    raw_path = Path(f"{_name(arguments)}-{datetime.now(UTC):%Y-%m-%dT%H-%M-%SZ}{RAW_SUFFIX}")
    with RawWriter(raw_path, f"heard at {arguments.port}, {arguments.baud} baud") as raw:
        listener = Listener(link, raw.write)
        try:
            readings = list(ask(listener, sys.stdin, sys.stderr))
        finally:
            listener.stop()
    print(f"{raw_path}: the bytes as heard", file=sys.stderr)
    return raw_path, listener.chunks(), readings


class Listener:
    """Hears a link in a thread of its own, while the person types. It never writes to it."""

    def __init__(self, link: Link, keep: Any) -> None:
        from ..clock import Clock

        self._link = link
        self._keep = keep
        self._clock = Clock()
        self._heard: list[Chunk] = []
        #: Why nothing more is heard; empty while all is well.
        self.problem = ""
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._listen, name="listening", daemon=True)
        self._thread.start()

    def chunks(self) -> list[Chunk]:
        """All that was heard so far."""
        return list(self._heard)

    def stop(self) -> None:
        """Let go of the link."""
        self._stop.set()
        self._thread.join(timeout=2)
        self._link.close()

    def _listen(self) -> None:
        from ..errors import LinkLost
        from ..rawfile import Chunk

        while not self._stop.is_set():
            try:
                data = self._link.read(0.2)
            except (LinkLost, EOFError) as loss:
                self.problem = str(loss)
                return
            if data:
                chunk = Chunk(*self._clock.now(), data)
                self._heard.append(chunk)
                self._keep(chunk)


def ask(listener: Listener, typed: TextIO, screen: TextIO) -> Iterator[Reading]:
    """Readings as they are typed; after each one what is known by now.

    Ends with an empty line, the end of input or Ctrl-C.
    """
    from ..learner import learn

    print("Type what the display shows: volts amps percent temperature (in °C), '-' for what it "
          "does not show. An empty line ends.", file=screen)
    readings: list[Reading] = []
    while True:
        print(f"reading {len(readings) + 1}: ", end="", file=screen, flush=True)
        try:
            line = typed.readline()
        except KeyboardInterrupt:
            return
        if not line.strip():
            return
        try:
            reading = read_line(line, round(time.time() * 1000))
        except ValueError as error:
            print(f"  {error}", file=screen)
            continue
        readings.append(reading)
        yield reading
        # The display is behind the wire, and the wire may be behind the display.
        time.sleep(0.6)
        for words in known_lines(learn(listener.chunks(), readings), readings):
            print(f"  {words}", file=screen)
        if listener.problem:
            print(f"  {listener.problem}", file=screen)


def read_line(line: str, time_ms: int) -> Reading:
    """A reading from what was typed: figures in order, or by name.

    Raises
    ------
    ValueError
        If a figure is not a number, a name is unknown or nothing was typed.
    """
    from ..learner import Reading

    texts: dict[str, str] = {}
    bare = iter(ORDER)
    for word in line.split():
        name, equals, text = word.partition("=")
        column = name if equals else next(bare, "")
        if not column:
            raise ValueError(f"{word!r} is one figure too many; give others by name: temp_2_c=21")
        if word != "-":
            texts[column] = text if equals else word
    reading = Reading.from_texts(time_ms, texts)
    if not reading.values:
        raise ValueError("no figure was typed")
    return reading


# ------------------------------------------------ what is told

def outcome(lesson: Lesson, readings: Sequence[Reading], name: str,
            baud: int) -> dict[str, Any]:
    """The result as JSON."""
    from ..learner.description import description_tables, is_usable, toml_text

    top = description_tables(lesson, name, baud)
    usable = top is not None and is_usable(top)
    return {
        "schema": "packhand.learn/1",
        "description": toml_text(top) if top and usable else "",
        "frames": 0 if lesson.columns is None else len(lesson.columns.times_s),
        "framing": framing_words(lesson),
        "readings": len(readings),
        "fields": list(_fields(lesson)) if usable else [],
        "undecided": list(_undecided(lesson, readings)),
    }


def framing_words(lesson: Lesson) -> str:
    """How the stream is cut, in words."""
    cut = lesson.cut
    if cut is None:
        return ""
    kinds = {"line": "lines of text", "cobs": "COBS packets", "slip": "SLIP packets",
             "length": "frames that tell their length",
             "fixed": f"frames of {cut.framing.length} bytes"}
    words = kinds[cut.framing.kind]
    if cut.check is None:
        return f"{words}, no check found"
    from ..learner.description import check_name

    return f"{words}, check {check_name(cut.check.check)}"


def _fields(lesson: Lesson) -> Iterable[dict[str, Any]]:
    for column, candidate in lesson.found.items():
        yield {"name": column, "place": candidate.spot.place, "type": candidate.spot.type,
               "scale": candidate.scale, "offset": candidate.offset,
               "chance_match": _rounded(10 ** lesson.verdicts[column].log10_chance),
               "exam": "passed" if column in lesson.examined else "none kept back"}
    if len(lesson.cells) == 1:
        cells = lesson.cells[0]
        yield {"name": "cell_{n}_v", "place": _cell_place(lesson, cells),
               "type": f"{cells.count} cells", "scale": cells.scale, "offset": cells.offset,
               "chance_match": None, "exam": f"add up to the pack within {cells.miss.rms_v:.2f} V"}
    if lesson.sequence is not None:
        at, form = lesson.sequence
        spot = lesson.spot(form, at)
        yield {"name": "sequence", "place": spot.place, "type": spot.type,
               "scale": 1.0, "offset": 0.0, "chance_match": None,
               "exam": "grows by one from frame to frame"}


def _cell_place(lesson: Lesson, cells: Cells | TextCells) -> str:
    from ..learner.cells import Cells

    if not isinstance(cells, Cells):
        return cells.place
    base = lesson.spot(cells.form, cells.at).base
    return f"{min(cells.bytes) - base}..{max(cells.bytes) - base}"


def _undecided(lesson: Lesson, readings: Sequence[Reading]) -> Iterable[dict[str, Any]]:
    from ..learner.asking import ask_for

    columns = {column for reading in readings for column in reading.values}
    for column in [c for c in lesson.verdicts if not lesson.verdicts[c].is_decided] or (
            sorted(columns - set(lesson.verdicts))):
        verdict = lesson.verdicts.get(column)
        families = verdict.families[:5] if verdict else ()
        yield {"name": column,
               "candidates": [{"place": f.chosen.spot.place, "type": f.chosen.spot.type,
                               "scale": f.chosen.scale, "offset": f.chosen.offset}
                              for f in families],
               "ask": ask_for(lesson, column, readings)}


def _rounded(value: float) -> float:
    return float(f"{value:.2g}")


def known_lines(lesson: Lesson, readings: Sequence[Reading]) -> list[str]:
    """What is known about each figure, one line each."""
    result = outcome(lesson, readings, "learned", 9600)
    return outcome_lines(result, show_text=False)


def outcome_lines(result: dict[str, Any], show_text: bool) -> list[str]:
    """The result in words."""
    lines = [f"{result['frames']} frames heard: {result['framing']}"] if result["framing"] else [
        "cannot tell yet where frames begin and end: keep listening, or check the baud rate"]
    for field in result["fields"]:
        name = WORDS.get(field["name"], field["name"])
        unit = "key" if field["type"] == "text" else "byte"
        offset = f" {field['offset']:+g}" if field["offset"] else ""
        odds = field["exam"] if field["chance_match"] is None else (
            f"by chance {field['chance_match']:.1g} such matches, exam {field['exam']}")
        lines.append(f"{name}: yes, {unit} {field['place']}, {field['type']}, "
                     f"times {field['scale']:g}{offset}; {odds}")
    for open_ in result["undecided"]:
        name = WORDS.get(open_["name"], open_["name"])
        count = len(open_["candidates"])
        found = f"{count} candidates" if count != 1 else "one candidate, not sure enough"
        lines.append(f"{name}: cannot tell yet ({found if count else 'nothing fits'}): "
                     f"{open_['ask']}")
    return [*lines, "", result["description"]] if show_text and result["fields"] else lines


# ------------------------------------------------ the bytes already heard

def read_again(text: str, raw_path: Path, root: Path) -> str:
    """Read the capture through the new description into logs, and say where they are."""
    import tomllib

    from ..logbook import Logbook
    from ..meta import LogMeta, software
    from ..monitors import description_from_tables
    from ..recorder import record
    from .record import decided_sign, open_source
    from .screen import outcome_of, outcome_words

    description = description_from_tables(tomllib.loads(text), "learned")
    source = open_source(description, str(raw_path))
    meta = LogMeta(monitor=description.as_tables(), sign=decided_sign(description),
                   software=software(), origin={"port": str(raw_path)})
    recording = record(source, Logbook(root), meta, threading.Event())
    return f"the bytes already heard, read again:\n{outcome_words(outcome_of(recording, {}))}"
