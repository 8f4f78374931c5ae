"""A message bus of our own, so that Bluetooth can be played without a radio and without rights.

On Linux, programs reach Bluetooth over the system's D-Bus. A private ``dbus-daemon`` with the
same kind of bus stands in for it; ``DBUS_SYSTEM_BUS_ADDRESS`` leads a program there.
"""

from __future__ import annotations

import contextlib
import shutil
import subprocess
import tempfile
from pathlib import Path
from typing import Final, Self

from ..errors import SourceUnavailable

#: The variable by which a program is led to another system bus.
ADDRESS_VARIABLE: Final = "DBUS_SYSTEM_BUS_ADDRESS"

_CONFIG: Final = """\
<!DOCTYPE busconfig PUBLIC "-//freedesktop//DTD D-Bus Bus Configuration 1.0//EN"
 "http://www.freedesktop.org/standards/dbus/1.0/busconfig.dtd">
<busconfig>
  <type>system</type>
  <listen>unix:path={socket}</listen>
  <auth>EXTERNAL</auth>
  <policy context="default">
    <allow own="*"/>
    <allow send_destination="*" eavesdrop="true"/>
    <allow receive_sender="*" eavesdrop="true"/>
    <allow user="*"/>
  </policy>
</busconfig>
"""


class PrivateBus:
    """A ``dbus-daemon`` of our own, from ``start`` to ``stop``."""

    def __init__(self) -> None:
        self._folder = tempfile.mkdtemp(prefix="packhand-bus-")
        #: What a client needs to find it.
        self.address = ""
        self._daemon: subprocess.Popen[str] | None = None

    def start(self) -> Self:
        """Start it, and wait until it can be reached.

        Raises
        ------
        SourceUnavailable
            If this computer has no ``dbus-daemon``, or it does not start.
        """
        program = shutil.which("dbus-daemon")
        if program is None:
            raise SourceUnavailable("dbus-daemon", "not on this computer",
                                    "Bluetooth can be played on Linux with D-Bus only")
        config = Path(self._folder) / "bus.conf"
        config.write_text(_CONFIG.format(socket=Path(self._folder) / "bus"), encoding="utf-8")
        self._daemon = subprocess.Popen(
            [program, f"--config-file={config}", "--nofork", "--nopidfile", "--print-address=1"],
            stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        if self._daemon.stdout is not None:
            self.address = self._daemon.stdout.readline().strip()
        if not self.address:
            self.stop()
            raise SourceUnavailable("dbus-daemon", "does not start", "look into the system's log")
        return self

    def end(self) -> None:
        """End the daemon; it may be started again at the same address."""
        daemon, self._daemon = self._daemon, None
        if daemon is not None:
            daemon.terminate()
            daemon.wait(timeout=10)
            if daemon.stdout is not None:
                daemon.stdout.close()

    def stop(self) -> None:
        """End the daemon and remove its files; may be called twice."""
        self.end()
        with contextlib.suppress(OSError):
            shutil.rmtree(self._folder)

    def __enter__(self) -> Self:
        return self.start()

    def __exit__(self, *exc_info: object) -> None:
        self.stop()
