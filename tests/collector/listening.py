"""Listening to a played monitor until enough was heard, never for a fixed time."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import replace

from collector.monitors import Description
from collector.rawfile import Chunk
from collector.record import Sample
from collector.sources import open_link
from collector.sources.described import DescribedSource

#: Longest wait for anything. [s]
DEADLINE_S = 30.0


def heard_until(description: Description, port: str, is_enough: Callable[[list[Sample]], bool],
                chunks: list[Chunk] | None = None) -> list[Sample]:
    """The samples and events that come until there are enough of them."""
    source = DescribedSource(open_link(description, port), description)
    source.open()
    samples: list[Sample] = []
    stop = threading.Event()
    timer = threading.Timer(DEADLINE_S, stop.set)
    timer.start()
    try:
        for item in source.heard(stop):
            if isinstance(item, Sample):
                samples.append(item)
            elif chunks is not None:
                chunks.append(item)
            if is_enough(samples):
                break
    finally:
        timer.cancel()
        source.close()
    assert is_enough(samples), samples
    return samples


def rows(samples: list[Sample]) -> list[dict[str, float | str]]:
    """The values of the samples that have some."""
    return [dict(sample.values) for sample in samples if sample.values]


def events(samples: list[Sample]) -> list[str]:
    """The words of the events."""
    return [sample.event for sample in samples if sample.event]


def enough_rows(count: int) -> Callable[[list[Sample]], bool]:
    """Whether so many samples with values came."""
    return lambda samples: len(rows(samples)) >= count


def kinds(samples: list[Sample]) -> list[str]:
    """The kinds of the events."""
    return [event.partition(":")[0] for event in events(samples)]


def allowed_to_write(description: Description) -> Description:
    """The description of a peripheral as after a person's leave."""
    peripheral = description.transport.peripheral
    assert peripheral is not None
    return replace(description, transport=replace(
        description.transport, peripheral=replace(peripheral, may_write=True)))
