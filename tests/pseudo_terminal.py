"""A serial line without hardware: a real pseudo-terminal under a name that stays."""

import contextlib
import os
import tty
from pathlib import Path


class PseudoTerminal:
    """The monitor's end of a line that can be pulled out and put back."""

    def __init__(self, link: Path) -> None:
        self.link = link
        self._ends: tuple[int, int] | None = None

    def plug(self) -> None:
        """Bring the line up; both ends stay open, or a lone reader would see an error."""
        ours, theirs = os.openpty()
        tty.setraw(theirs)
        self._ends = (ours, theirs)
        fresh = self.link.with_suffix(".new")
        fresh.symlink_to(os.ttyname(theirs))
        fresh.replace(self.link)

    def unplug(self) -> None:
        """Pull it: the name is gone, what was not read is lost."""
        if self._ends is not None:
            self.link.unlink()
            for end in self._ends:
                os.close(end)
            self._ends = None

    def send(self, data: bytes) -> None:
        """Say something."""
        assert self._ends is not None
        while data:
            data = data[os.write(self._ends[0], data):]

    def received(self) -> bytes:
        """What was asked since the last look, empty if nothing."""
        assert self._ends is not None
        os.set_blocking(self._ends[0], False)
        with contextlib.suppress(BlockingIOError):
            return os.read(self._ends[0], 4096)
        return b""
