"""Every fill of a logbook: was it full, who stopped it, and when was the pack at its top before."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import takewhile
from typing import Final

from ..digest import LogDigest
from ..estimate import Verdict
from ..incidents.charge_stop import HEADROOM, LogStops
from ..incidents.fills import Fill, LogFills
from ..limits import Limits
from ..one_log.anchors import LogAnchors
from .day_use import DAY_S

#: Parts of the digests that fills need.
FILL_PARTS: Final = ("fills", "anchors", "stops")
#: A full anchor belongs to the fill that ends so close to it. [s]
NEAR_S: Final = 120.0

#: How a fill ended -> who stopped it; ``{cell}`` is the highest one.
_WHO: Final = {
    "tail": "the charger, by its tail",
    "first_cell": "the board, for cell {cell}",
    "cold": "the board, for the cold",
    "cut_short": "a hand, a clock or the mains",
    "unseen": "nobody saw",
}
#: How a fill ended -> what to do next.
_NEXT: Final = {
    "tail": "leave it on after full now and then, so that the board can bleed",
    "first_cell": "leave the charger on for hours after it stops, several times, and look whether "
                  "the tail comes back",
    "cold": "warm the pack before charging, as its maker says",
    "cut_short": "leave the charger on until the amps fall away by themselves",
    "unseen": "leave the recorder on until the charger has stopped",
}


@dataclass(frozen=True, slots=True)
class FillCard:
    """One fill, judged."""

    #: The log's file name.
    log: str
    #: Unix time. [s]
    start_s: float
    end_s: float
    fill: Fill
    #: Was the pack full at its end?
    is_full: Verdict
    #: Since the pack, or its fullest cell, was at the top before; NaN if no log tells. [days]
    since_top_days: float
    #: Of the log, by its IANA name.
    time_zone: str = "UTC"
    #: Whether the pack, or its fullest cell, came to the top.
    is_at_top: bool = False

    @property
    def who(self) -> str:
        """Who stopped it."""
        return _WHO[self.fill.ending].format(cell=self.fill.order[0] if self.fill.order else "?")



@dataclass(frozen=True, slots=True)
class Fills:
    """The fills of one pack."""

    #: Newest first.
    cards: tuple[FillCard, ...]
    #: Since the pack, or its fullest cell, was last at the top, to the end of the last log; NaN if
    #: no log tells. [days]
    since_top_days: float
    #: End of the last log. [Unix s]
    end_s: float
    #: Whether braking ever pushed amps into the full pack: then it must not always be filled.
    brakes_into_full: bool = False

    @property
    def next(self) -> str:
        """What to do after the last fill; as a season says it where braking needs headroom."""
        ending = self.cards[0].fill.ending
        wants_headroom = self.brakes_into_full and ending in ("tail", "cut_short")
        return HEADROOM if wants_headroom else _NEXT[ending]

    @property
    def alike(self) -> int:
        """How many of the latest fills in a row ended as the last one did."""
        if not self.cards:
            return 0
        last = self.cards[0]
        return sum(1 for _ in takewhile(lambda card: card.who == last.who, self.cards))


def find_fills(digests: Sequence[LogDigest], limits: Limits | None = None) -> Fills:
    """Every fill, judged.

    A fill is full if it ended by its tail, or if the volts say so where a person or a clock
    stopped it. A single cell at its limit is not a full pack, though it is a moment at the top.

    Parameters
    ----------
    digests
        Of one pack, with ``FILL_PARTS``; at least one.
    limits
        What was typed of the board; without its lowest temperature for charging no fill was
        stopped for the cold.
    """
    ordered = sorted(digests, key=lambda digest: digest.start_s)
    tops = sorted(digest.start_s + anchor.elapsed_s for digest in ordered
                  for anchor in digest.of(LogAnchors).anchors if anchor.kind == "full")
    cards = [_card(digest, fill, tops, limits or Limits()) for digest in ordered
             for fill in digest.of(LogFills).fills if fill.ending != "regeneration"]
    end_s = max(digest.end_s for digest in ordered)
    cards.sort(key=lambda card: -card.end_s)
    return Fills(tuple(cards), _since(tops, end_s), end_s, any(
        "regeneration" in digest.of(LogStops).endings for digest in ordered))


def _card(digest: LogDigest, fill: Fill, tops: Sequence[float], limits: Limits) -> FillCard:
    start_s, end_s = digest.start_s + fill.start_s, digest.start_s + fill.end_s
    is_at_top = any(start_s <= top <= end_s + NEAR_S for top in tops)
    if fill.ending == "cut_short" and not is_at_top and fill.end_c <= limits.charge_min_c:
        fill = replace(fill, ending="cold")
    return FillCard(digest.log, start_s, end_s, fill, _is_full(fill, is_at_top=is_at_top),
                    _since(tops, start_s), digest.head.time_zone, is_at_top)


def _is_full(fill: Fill, *, is_at_top: bool) -> Verdict:
    if fill.ending == "tail":
        return "yes"
    if fill.ending in ("first_cell", "cold"):
        return "no"
    if is_at_top:
        return "yes"
    return "cannot tell yet" if fill.ending == "unseen" else "no"


def _since(tops: Sequence[float], moment_s: float) -> float:
    before = [top for top in tops if top <= moment_s]
    return (moment_s - before[-1]) / DAY_S if before else math.nan
