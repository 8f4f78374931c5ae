"""Ending a long-running command."""

import os
import signal
import time

import pytest

from collector.stopping import stopping


@pytest.mark.skipif(os.name == "nt", reason="sends POSIX signals")
@pytest.mark.parametrize("kind", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_a_request_to_end_sets_the_event(kind: signal.Signals) -> None:
    """Ctrl-C, the system and a closed terminal all ask for a clean end, and no more."""
    before = signal.getsignal(kind)
    with stopping() as stop:
        assert not stop.is_set()
        os.kill(os.getpid(), kind)
        is_set = stop.wait(10)

    assert is_set
    assert signal.getsignal(kind) == before


def test_time_ends_it_too() -> None:
    """After the seconds asked for, not before."""
    start_s = time.monotonic()
    with stopping(0.2) as stop:
        is_set = stop.wait(10)

    assert is_set
    assert time.monotonic() - start_s >= 0.2
