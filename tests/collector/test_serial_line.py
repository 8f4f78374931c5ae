"""The serial link on a real pseudo-terminal, and each failure told apart."""

import os
import socket
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from collector.errors import LinkLost, SourceUnavailable
from collector.monitors import load_description
from collector.monitors.schema import Transport
from collector.record import Sample
from collector.simulator.terminal import PseudoTerminal
from collector.sources import serial_ports
from collector.sources.described import DescribedSource
from collector.sources.serial_line import SerialLink
from tests.permissions import without_privileges

pytestmark = pytest.mark.skipif(os.name == "nt", reason="needs pseudo-terminals")


@pytest.fixture
def line(tmp_path: Path) -> Iterator[PseudoTerminal]:
    terminal = PseudoTerminal(tmp_path / "port")
    terminal.plug()
    yield terminal
    terminal.unplug()


@pytest.fixture
def link(line: PseudoTerminal) -> Iterator[SerialLink]:
    opened = SerialLink(line.port, Transport())
    opened.open()
    yield opened
    opened.close()


def test_bytes_come_as_sent_and_in_one_piece(line: PseudoTerminal, link: SerialLink) -> None:
    """All 256 values pass unchanged; what is sent together is read together."""
    line.write(bytes(range(256)) * 4)

    assert link.read(10.0) == bytes(range(256)) * 4
    assert link.read(0.01) == b""


def test_a_request_reaches_the_monitor(line: PseudoTerminal, link: SerialLink) -> None:
    """What is written arrives at the other end."""
    link.write(b"\x01\x03?")

    assert line.read(10.0) == b"\x01\x03?"


def test_a_pulled_plug_is_a_lost_link(line: PseudoTerminal, link: SerialLink) -> None:
    """Reading and writing both say so, in plain words, and closing still works."""
    line.unplug()
    with pytest.raises(LinkLost, match=r"port: (unplugged|Input/output error)"):
        link.read(0.1)
    with pytest.raises(LinkLost):
        link.write(b"x")
    link.close()
    link.close()


def test_a_replugged_line_opens_again(line: PseudoTerminal, link: SerialLink) -> None:
    """The same link can be used after a loss."""
    line.unplug()
    line.plug()
    link.open()
    line.write(b"hello")

    assert link.read(10.0) == b"hello"


def test_a_closed_link_is_lost(line: PseudoTerminal, link: SerialLink) -> None:
    """Reading a closed link is no crash."""
    link.close()
    with pytest.raises(LinkLost, match="not open"):
        link.read(0.1)


def test_a_busy_port_names_who_has_it(line: PseudoTerminal, link: SerialLink) -> None:
    """A second recorder on the same port is refused, and the holder is named."""
    with pytest.raises(SourceUnavailable, match=rf"busy: .*process {os.getpid()}.* — close"):
        SerialLink(line.port, Transport()).open()


@pytest.mark.parametrize(("port", "message"), [
    ("/dev/none-such", "no such port — 'packhand ports' lists what is there"),
    ("/dev/null", "not a serial port — 'packhand ports'"),
    ("/", "a file or folder, not a serial port"),
    (__file__, "a file or folder, not a serial port"),
    ("foo://bar", r"not an address \(.*foo.*\) — a port such as"),
])
def test_what_cannot_be_opened_is_told_apart(port: str, message: str) -> None:
    """Each cause has its own words and its own way out."""
    with pytest.raises(SourceUnavailable, match=message):
        SerialLink(port, Transport()).open()


def test_no_permission_names_the_group_to_join(
        line: PseudoTerminal, monkeypatch: pytest.MonkeyPatch) -> None:
    """The owning group and the command that joins it are in the message."""
    device = Path(os.path.realpath(line.port))
    device.chmod(0o060)
    group = device.group()
    monkeypatch.setenv("LOGNAME", "kim")
    with without_privileges(), pytest.raises(
            SourceUnavailable, match=rf"no permission — it belongs to the group '{group}': "
                                     rf"run 'sudo usermod -a -G {group} kim', then log out"):
        SerialLink(str(device), Transport()).open()


def test_a_group_without_rights_is_not_recommended(line: PseudoTerminal) -> None:
    """Joining a group that may not use the port would not help."""
    device = Path(os.path.realpath(line.port))
    device.chmod(0o600)

    assert "may not use it either" in serial_ports.permission_remedy(device)


def test_a_monitor_behind_a_serial_server() -> None:
    """socket:// gives the same bytes in whole pieces; its end is a lost link."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
        link, is_open = SerialLink(f"socket://127.0.0.1:{port}", Transport()), threading.Event()

        def serve() -> None:
            with server.accept()[0] as connection:
                is_open.wait(10)  # opening a port throws away what was said before
                connection.sendall(b"0123456789" * 6)
                connection.recv(1)

        thread = threading.Thread(target=serve)
        thread.start()
        link.open()
        is_open.set()
        first = link.read(10.0)
        link.write(b"x")
        thread.join()
        with pytest.raises(LinkLost):
            link.read(10.0)
        link.close()

    assert first == b"0123456789" * 6


def test_a_server_that_lost_its_power_is_noticed() -> None:
    """The connection is probed by the system after ten quiet seconds."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        link = SerialLink(f"socket://127.0.0.1:{server.getsockname()[1]}", Transport())
        link.open()
        assert link._port is not None
        with socket.socket(fileno=os.dup(link._port.fileno())) as connection:
            is_probed = connection.getsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE)
            after_s = connection.getsockopt(socket.IPPROTO_TCP, socket.TCP_KEEPIDLE)
        link.close()

    assert (bool(is_probed), after_s) == (True, 10)


def test_nobody_behind_an_address_is_told() -> None:
    """A refused connection says so and names what to check."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
    with pytest.raises(SourceUnavailable, match=r"no connection \(.*refused.*\) — check the addr"):
        SerialLink(f"socket://127.0.0.1:{port}", Transport()).open()


def test_ports_are_listed_with_words(monkeypatch: pytest.MonkeyPatch, line: PseudoTerminal) -> None:
    """Free, in use and no permission are told apart without opening the port."""
    class Found:
        device = os.path.realpath(line.port)
        description = "USB adapter"

    monkeypatch.setattr(serial_ports.list_ports, "comports", lambda: [Found()])
    in_use = serial_ports.serial_ports()
    monkeypatch.setattr(serial_ports, "port_holder", lambda _: "")
    free = serial_ports.serial_ports()
    monkeypatch.setattr(os, "access", lambda *_: False)
    refused = serial_ports.serial_ports()

    assert [p[0].state for p in (in_use, free, refused)] == ["in use", "free", "no permission"]
    assert f"(process {os.getpid()}) first" in in_use[0].words
    assert free[0].words == f"{Found.device}: USB adapter, free"


class Adapter:
    """A serial adapter as the system lists it."""

    def __init__(self, device: str, serial_number: str) -> None:
        self.device, self.serial_number, self.vid, self.pid = device, serial_number, 1, 2


def test_another_adapter_at_the_same_port_is_told(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The port's name is the same; the adapter's own number is not, and is not written down."""
    numbers = iter(["A17", "A17", "B02"])
    monkeypatch.setattr(serial_ports.list_ports, "comports",
                        lambda: [Adapter(str(tmp_path / "port"), next(numbers))])
    link = LostAndFound(str(tmp_path / "port"))
    source = DescribedSource(link, load_description("demo-text"))
    source.open()
    events = [item.event for item in source.heard(threading.Event())
              if isinstance(item, Sample)]

    assert [event.partition(":")[0] for event in events] == [
        "link lost", "link back", "link lost", "link back", "changed"]
    assert not any("B02" in event for event in events)


class LostAndFound:
    """A link that is lost twice, and then at its end."""

    def __init__(self, name: str) -> None:
        self.name = name
        self._losses = 2

    def open(self) -> None:
        """It is there again at once."""

    def read(self, timeout_s: float) -> bytes:
        if not self._losses:
            raise EOFError
        self._losses -= 1
        raise LinkLost(self.name, f"unplugged within {timeout_s} s")

    def write(self, data: bytes) -> None:
        raise NotImplementedError(data)

    def close(self) -> None:
        """Nothing to let go."""
