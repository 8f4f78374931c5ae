"""A played monitor behind a socket, heard by the real serial link."""

from __future__ import annotations

import socket
import time
from collections.abc import Iterator

import pytest

from collector.errors import LinkLost, SourceUnavailable
from collector.monitors import load_description
from collector.simulator.network_line import HOST, NetworkLine
from collector.sources.serial_line import SerialLink


@pytest.fixture(name="line")
def plugged_line() -> Iterator[NetworkLine]:
    with NetworkLine(0) as line:
        yield line


def listen(line: NetworkLine) -> SerialLink:
    link = SerialLink(line.port, load_description("demo-binary").transport)
    link.open()
    return link


def read_all(link: SerialLink, count: int) -> bytes:
    data = b""
    deadline = time.monotonic() + 5
    while len(data) < count and time.monotonic() < deadline:
        data += link.read(0.2)
    return data


def test_a_listener_hears_and_can_ask(line: NetworkLine) -> None:
    """Bytes go both ways, through real pyserial on a real socket."""
    link = listen(line)
    assert line.write(b"hello")
    heard = read_all(link, 5)
    link.write(b"ask")
    asked = line.read(2)
    link.close()

    assert heard == b"hello"
    assert asked == b"ask"


def test_nobody_listens(line: NetworkLine) -> None:
    """Without a listener nothing is sent, and nothing breaks."""
    assert not line.write(b"hello")
    assert line.read(0.01) == b""


def test_an_unplug_is_a_lost_link_and_the_port_stays(line: NetworkLine) -> None:
    """After the cable is put back the same address answers."""
    link, before = listen(line), line.port
    line.write(b"x")
    read_all(link, 1)
    line.unplug()
    with pytest.raises(LinkLost):
        read_all(link, 1)
    link.close()
    line.plug()
    again = listen(line)
    line.write(b"back")

    assert line.port == before
    assert read_all(again, 4) == b"back"
    again.close()


def test_a_new_listener_takes_the_place_of_the_old(line: NetworkLine) -> None:
    """A recorder that was killed does not keep the line busy."""
    old = listen(line)
    line.write(b"1")
    new = listen(line)
    line.write(b"2")

    assert read_all(new, 1) == b"2"
    old.close()
    new.close()


def test_a_taken_port_is_told() -> None:
    """Another program on the port gives one line and a way out."""
    with socket.create_server((HOST, 0)) as other, \
            pytest.raises(SourceUnavailable, match="choose another with --tcp"):
        NetworkLine(other.getsockname()[1]).plug()
