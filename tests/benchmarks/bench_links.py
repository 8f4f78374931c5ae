"""Modbus and Bluetooth: what it costs to ask a unit and to hear a peripheral, and to decode them.

Yardsticks: the polls that a wire can carry at all (32 registers and their request are 77 bytes of
11 bits: 23 a second at 19 200 baud), and what the serial benchmark shows for the same figures.
"""

from __future__ import annotations

import os
import threading
import time
from multiprocessing import get_context
from multiprocessing.synchronize import Event
from queue import Queue

from collector.frames.stream import open_decoder
from collector.monitors import Description, description_from_tables, load_description
from collector.record import Sample
from collector.simulator.live import live_day
from collector.simulator.private_bus import ADDRESS_VARIABLE
from collector.simulator.stage import open_stage
from collector.sources import open_link
from collector.sources.described import DescribedSource

SECONDS = 10.0
PERIOD_S = 0.1
DECODED = 3_000


def at_ten_hertz(name: str) -> Description:
    """A built-in monitor asked ten times a second, where it is asked."""
    tables = load_description(name).as_tables()
    if "modbus" in tables:
        tables |= {"modbus": tables["modbus"] | {"every_s": PERIOD_S}}
    return description_from_tables(tables, name)


def play(name: str, words: Queue[str], done: Event) -> None:
    """A monitor in a process of its own, so that its cost is not counted."""
    rows = live_day(1, PERIOD_S)
    description = load_description(name)
    with open_stage(description, next(rows), link=None, tcp_port=None) as (stage, listen):
        words.put(listen)
        while not done.wait(PERIOD_S):
            stage.show(next(rows))


def listen_to(name: str) -> None:
    context = get_context("spawn")
    words, done = context.Queue(), context.Event()
    player = context.Process(target=play, args=(name, words, done), daemon=True)
    player.start()
    listen = words.get(timeout=60)
    port = listen.rpartition(" ")[2]
    if listen.startswith(ADDRESS_VARIABLE):
        os.environ[ADDRESS_VARIABLE], port = listen.split("'")[1], "packhand demo"
    description = at_ten_hertz(name)
    source = DescribedSource(open_link(description, port), description)
    source.open()
    stop = threading.Event()
    threading.Timer(SECONDS, stop.set).start()
    cpu_s, wall_s = time.process_time(), time.perf_counter()
    rows = sum(isinstance(item, Sample) and bool(item.values) for item in source.heard(stop))
    cpu_s, wall_s = time.process_time() - cpu_s, time.perf_counter() - wall_s
    source.close()
    done.set()
    player.join(30)
    print(f"{name:<16} heard {rows / wall_s:5.1f} rows/s   {100 * cpu_s / wall_s:5.2f} % of a core")


def decode(name: str) -> None:
    description = load_description(name)
    octets = description.examples[0].data
    decoder = open_decoder(description)
    started = time.perf_counter()
    rows = sum(len(decoder.feed(octets)) for _ in range(DECODED))
    seconds = time.perf_counter() - started
    print(f"{name:<16} decoded {rows / seconds:7.0f} rows/s of {len(octets)} bytes")


def main() -> None:
    for name in ("demo-modbus", "sunspec-battery", "demo-ble"):
        listen_to(name)
    for name in ("demo-modbus", "sunspec-battery", "demo-ble", "demo-ble-opaque"):
        decode(name)


if __name__ == "__main__":
    main()
