"""What the paths say otherwise of a boat, and of a pack that drives nothing.

The paths are written for a vehicle on wheels; what differs stands here alone, by the address of a
card or a path.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, Final

from ..label_shelf import BOAT, HOUSE
from .card import Card, CheckPath
from .fitting import LIVE, rungs

#: Fields that change; ``None`` leaves the card out.
Changes = Mapping[str, Any] | None

_POSTS: Final = "the pack's plus post"
_BOAT: Final[Mapping[str, Changes]] = {
    "stuck": {"title": "It gives no thrust"},
    "stuck/wheels-up": {
        "steps": ("Tie the boat up fast, bow and stern; nobody in the water.",
                  "Throttle at zero, main switch open before anything is disconnected; wait as the "
                  "manual says.", "Take a picture of the wiring before you touch it."),
        "caution": "The propeller may start by itself when the fault clears: hands, lines and "
                   "clothes well clear of propeller and shaft. Out of the water it is run only "
                   "as its maker allows."},
    "stuck/control-ladder": {
        "steps": ("Meter on DC volts, black probe on the pack's minus post.",
                  "Key on, stop cord in place, throttle a little ahead by a helper: the circuit "
                  "must be asked to work.",
                  "Probe the point that the card asks for; it halves what is left."),
        "readings": rungs(_POSTS, "behind the main fuse", "behind the stop switch",
                          "behind the key switch", "behind the throttle switch",
                          "the coil's feed")},
    "stuck/charger": {
        "caution": "Shore power can kill: unplug it before you open anything. No cell that has sat "
                   "below its least voltage is charged again. Never bypass the board. A pack that "
                   "smells, is swollen, wet or hot: move away, do not charge."},
    "power-up/contactor": {
        "caution": "If the propeller creeps, or the open studs show zero, a contact may be welded: "
                   "stop and disconnect. Do not tap it and carry on."},
    "power-up/sign": {
        "steps": ("Tied up fast, one short push of the throttle.",
                  "The volts fall when the pack gives: that settles the sign."),
        "caution": "Nobody in the water; lines and hands clear of the propeller."},
    "gauge/high": {
        "steps": ("A steady run with a helper at the helm, or a gentle pull on good lines.",
                  "Type the clamp's figure of that moment. Out of the pack is minus, or type it "
                  "without a sign: packhand knows which way it flowed."),
        "caution": "Keep clear of shaft and propeller; somebody else keeps the look-out."},
    "baseline/capacity": {
        "steps": ("A steady load of a fifth to a third of the capacity, or one day's trips, down "
                  "to where the board or the maker's cell limit ends it, whichever is first.",
                  "Charge again soon, after a short rest."),
        "caution": "Do the last of it tied up: the pack will switch off, and the propeller stands. "
                   "Do not leave it empty overnight."},
}
_HOUSE: Final[Mapping[str, Changes]] = {
    "stuck": {"title": "Nothing works"},
    "stuck/wheels-up": {
        "steps": ("Unplug shore power, and switch panels and other chargers off.",
                  "Switch the converter off before anything is disconnected; wait as its manual "
                  "says.", "Take a picture of the wiring before you touch it."),
        "caution": "Behind a converter, and on shore power, there is mains voltage, which can "
                   "kill: that side is for a licensed electrician."},
    "stuck/control-ladder": None,
    "stuck/power-ladder": {
        "question": "Where do the volts end on the way to the loads?",
        "steps": ("Meter on DC volts, black probe on the pack's minus post.",
                  "A load switched on: the circuit must be asked to work.",
                  "A click does not prove the contacts: measure behind them."),
        "good": "Every point shows the pack's volts, up to the converter.",
        "readings": rungs(_POSTS, "behind the main fuse", "behind the main switch",
                          "the converter's plus stud")},
    "fitting/parts": {"question": "Do breaker, fuse, cable, converter and charger suit the new "
                                  "volts?"},
    "fitting/frame": {"question": "Is the chassis free of volts?"},
    "power-up/precharge": {
        "question": "Does the converter fill gently?",
        "steps": ("Meter across the open main switch: the volts fall as the converter's capacitors "
                  "fill through its pre-charge resistor.",
                  "Close it when the rest is under a twentieth of the pack's volts."),
        "good": "It falls within seconds. If it stays, there is no pre-charge: a bang and burnt "
                "contacts are what follows. Parts reckons the resistor.",
        "caution": f"{LIVE} A pre-charge resistor that is always fitted keeps the capacitors live "
                   "with the switch open: let them down before touching."},
    "power-up/contactor": None,
    "power-up/sign": {
        "steps": ("Switch one big load on for ten seconds, with the charger off.",
                  "The volts fall when the pack gives: that settles the sign.")},
    "gauge/zero": {
        "steps": ("Everything off and unplugged, main switch open.",
                  "Zero the clamp right before, jaws clean and closed, one conductor in it.")},
    "gauge/high": {
        "steps": ("One big steady load on, such as a kettle on the converter; chargers off.",
                  "Type the clamp's figure of that moment. Out of the pack is minus, or type it "
                  "without a sign: packhand knows which way it flowed."),
        "caution": LIVE},
    "baseline/capacity": {
        "steps": ("A steady load of a fifth to a third of the capacity, chargers off, down to "
                  "where the board or the maker's cell limit ends it, whichever is first.",
                  "Charge again soon, after a short rest."),
        "caution": "The pack will switch off, and with it what hangs on it: fridge, pumps, alarm, "
                   "medical devices. Do not leave it empty overnight."},
    "baseline/resistance": {
        "steps": ("Switch a big load on and off a dozen times on a warm day.",)},
}
_OF_KIND: Final[Mapping[str, Mapping[str, Changes]]] = {BOAT: _BOAT, HOUSE: _HOUSE}


def told_of(path: CheckPath, kind: str) -> CheckPath:
    """A path in the words for a kind of vehicle, without the cards that it has no use for."""
    changes = _OF_KIND.get(kind, {})
    cards = tuple(_card(card, changes.get(f"{path.key}/{card.key}", {})) for card in path.cards)
    return replace(path, cards=tuple(card for card in cards if card),
                   **(changes.get(path.key) or {}))


def _card(card: Card, changes: Changes) -> Card | None:
    return None if changes is None else replace(card, **changes)
