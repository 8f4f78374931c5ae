"""A recorder for a test to kill: each line on stdin starts one in a process of its own.

Arguments: logbook folder, raw capture. Prints the process number, then the running number of
each sample once it was handed to the log, then ``end`` when the process is gone.
"""

import os
import sys
import threading
from pathlib import Path

from collector.logbook import Logbook
from collector.meta import LogMeta
from collector.monitors import load_description
from collector.record import Sample
from collector.recorder import Recording, record
from collector.sources.described import DescribedSource
from collector.sources.replay import CaptureLink


def acknowledge(sample: Sample, _: Recording) -> None:
    os.write(1, b"%d\n" % int(sample.values["sequence"]))


def record_capture(book: Path, capture: Path) -> None:
    link = CaptureLink(capture)
    source = DescribedSource(link, load_description("demo-binary"), link.clock)
    record(source, Logbook(book), LogMeta(), threading.Event(), on_sample=acknowledge)


def main() -> None:
    for _ in sys.stdin:
        if (process := os.fork()) == 0:
            os.write(1, b"%d\n" % os.getpid())
            record_capture(Path(sys.argv[1]), Path(sys.argv[2]))
            os._exit(0)
        os.waitpid(process, 0)
        os.write(1, b"end\n")


if __name__ == "__main__":
    main()
