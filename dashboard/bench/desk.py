"""Everything on the bench of one logbook, behind one door."""

from __future__ import annotations

from pathlib import Path

from collector.clock import Clock
from collector.clock_doubt import clock_doubt
from collector.errors import PackhandError
from collector.logbook import Logbook

from ..invented_book import VEHICLES, beside
from .brought import Brought
from .correcting import Correcting
from .learning import Learning
from .listening import Listening
from .second_book import SecondBook


class Desk:
    """What a person at the machine may do; refused over the network."""

    def __init__(self, root: Path) -> None:
        self.root = root
        #: Whether only this machine can reach the pages.
        self.is_open = True
        self.listening = Listening(root)
        self.learning = Learning(root)
        self.brought = Brought(root)
        self.correcting = Correcting(root)
        flatbed = root.with_name(f"{root.name}-rehearsal")
        #: By vehicle.
        self.rehearsals = {vehicle: SecondBook(beside(flatbed, vehicle), vehicle)
                           for vehicle in VEHICLES}

    def clock_doubt(self) -> str:
        """Why the computer's clock may be wrong; empty where nothing speaks against it."""
        try:
            return clock_doubt(Logbook(self.root), Clock().now()[0])
        except PackhandError:  # the page Pack & limits says why
            return ""

    def check_open(self) -> None:
        """Raises ``PackhandError`` if the pages are open to the network."""
        if not self.is_open:
            raise PackhandError("bench", "open at the machine itself only",
                                "start the pages without --lan")
