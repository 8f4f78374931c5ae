"""The conversation with a Modbus unit: what to ask next, and when a poll is whole.

A SunSpec device is walked first: a marker at one of three places, behind it a chain of models,
each with its number and its length, up to an end mark [1]_. Of a model there may be several, one
for each string or module. Then the areas are read round and round. A poll that was answered whole
gives one row; a poll with a hole gives none, so that no row holds figures of two moments.

The one who asks and the one who reads a capture follow the same conversation, so that a capture
read again gives the very rows that were recorded. No I/O and no clock.

.. [1] SunSpec Alliance, SunSpec Device Information Model Specification; models 802 to 805 from
   https://github.com/sunspec/models (Apache-2.0).
"""

from __future__ import annotations

from collections.abc import Generator
from typing import Final

from .fields import Row
from .registers import Area, Block, RegisterMap, Registers, consecutive

#: "SunS", which stands in front of the chain.
MARKER: Final = (0x5375, 0x6E53)
#: The number that ends the chain.
END_MODEL: Final = 0xFFFF
#: No device has more models; a chain that runs on is none.
MODELS_MAX: Final = 200

_Talk = Generator[Block, Registers | None, None]


class Poll:
    """Leads the conversation: ``request`` is what to ask, ``take`` gives it the answer."""

    def __init__(self, registers: RegisterMap) -> None:
        self._map = registers
        #: What hinders it, in words; empty where nothing does.
        self.problem = ""
        #: True where ``request`` begins a new round, for which the period is waited out.
        self.is_new = True
        self._row: Row | None = None
        self._areas: tuple[Area, ...] = (Area(registers.blocks),) if registers.blocks else ()
        self._begin(registers.bases)

    def take(self, answer: Registers | None) -> Row | None:
        """Go on with an answer, or without one (refused); a row if this made the poll whole."""
        self._row, self.is_new = None, False
        self.request = self._talk.send(answer)
        return self._row

    def restart(self) -> None:
        """Begin the round again; a chain that was found stays."""
        self._begin(self._map.bases)

    def follow(self, block: Block) -> bool:
        """Go along with a request that somebody else made; False if it is not understood."""
        bases = self._map.bases
        if block == self.request:
            return True
        if block in (markers := [_marker(base) for base in bases]):
            self._areas = ()
            self._begin(bases[markers.index(block):])
            return True
        if self._areas and block == self._areas[0].blocks[0]:
            self.restart()
            return True
        return False

    @property
    def is_marker(self) -> bool:
        """Whether the request looks for the SunSpec marker, which may be elsewhere."""
        return self.request in [_marker(base) for base in self._map.bases]

    def _begin(self, bases: tuple[int, ...]) -> None:
        self._talk = self._rounds(bases)
        self.is_new = True
        self.request = next(self._talk)

    def _rounds(self, bases: tuple[int, ...]) -> _Talk:
        while True:
            while not self._areas:
                self._areas = yield from self._walk(bases)
                bases, self.is_new = self._map.bases, not self._areas
            yield from self._round(self._areas)
            self.is_new = True

    def _walk(self, bases: tuple[int, ...]) -> Generator[
            Block, Registers | None, tuple[Area, ...]]:
        for base in bases:
            if (yield _marker(base)) == MARKER:
                return (yield from self._chain(base + 2))
        places = ", ".join(str(base) for base in self._map.bases)
        self.problem = f"no SunSpec marker at register {places}"
        return ()

    def _chain(self, address: int) -> Generator[Block, Registers | None, tuple[Area, ...]]:
        areas: list[Area] = []
        heard: list[int] = []
        while address < 0xFFFF and len(heard) < MODELS_MAX:
            head = yield Block(3, address, 2)
            if head is None or head[0] == END_MODEL:
                break
            model, length = head
            heard.append(model)
            if model in self._map.models and address + 2 + length <= 0x10000:
                areas.append(Area(consecutive(address, 2 + length), model))
            address += 2 + length
        wanted = ", ".join(str(model) for model in sorted(self._map.models))
        found = ", ".join(str(model) for model in heard) or "none"
        self.problem = "" if areas else f"models in its chain: {found}; none of {wanted}"
        return tuple(areas)

    def _round(self, areas: tuple[Area, ...]) -> _Talk:
        frames: dict[int, list[bytes]] = {}
        for area in areas:
            registers: Registers = ()
            for block in area.blocks:
                answer = yield block
                if answer is None:
                    self.problem = f"it refuses registers {block.words}"
                    return
                registers += answer
            if area.model and registers[0] != area.model:
                self.problem = f"model {area.model} is no longer where it was"
                self._areas = ()
                return
            frames.setdefault(area.model, []).extend(self._map.frames_of(area.model, registers))
        self.problem, self._row = "", self._map.read(frames)


def _marker(base: int) -> Block:
    return Block(3, base, 2)
