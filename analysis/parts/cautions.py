"""The usual cautions that stand beside the figures, and where they come from."""

from __future__ import annotations

from typing import Final

#: From here live parts are to be guarded against touch: 29 CFR 1910.303(g)(2)(i). [V]
GUARD_V: Final = 50.0

#: Once on every page and paper.
INFORMS: Final = (
    "This arithmetic informs; it protects nothing. The makers of pack and part, the local code and "
    "licensed practice decide.")
#: 29 CFR 1910.333(c)(8) for jewellery, 29 CFR 1910.335(a)(2)(i) for tools.
BARE_HANDS: Final = "Rings and watch off, insulated tools, glasses on; disconnect the pack first."
#: Common practice, no source.
BREAK_DC: Final = (
    "A device that cannot break the pack's volts may hold an arc instead of opening: it is not to "
    "be tried out under load.")
#: 33 CFR 183.455(b) for the place (gasoline boats; here for reference only).
NEAR_SOURCE: Final = (
    "Overcurrent protection belongs at the pack; the reference for boats asks for 7 in (178 mm).")
#: Common practice, no source.
CAPACITORS: Final = (
    "The controller's capacitors stay charged after switching off: measure, and let them down "
    "through a resistor before touching.")
#: Common practice, no source.
CONTACTS: Final = (
    "A click does not prove the contacts. A vehicle that creeps by itself may have a welded "
    "contact: stop and disconnect.")
#: Data sheets of cell makers; no standard found.
FROST: Final = "Do not charge iron phosphate with cells below 0 °C; the maker's figure rules."
#: 29 CFR 1910.178(g), 29 CFR 1926.441(a).
LEAD_GAS: Final = (
    "A lead bank gives off hydrogen while it charges: ventilate, no sparks or flames; acid calls "
    "for goggles, gloves and water at hand.")
#: Common practice, no source.
NO_TAP: Final = "Never tap part of the string for 12 V: its cells empty unequally."
#: Common practice, no source.
FRAME: Final = (
    "Both poles are live while you measure: one hand, insulated probes. No insulation tester of "
    "250 or 500 V while electronics are connected. Ask first whether an old 12 V accessory bonds "
    "the frame.")
#: Common practice, no source.
WHEELS: Final = (
    "More volts turn the motor faster: mind governed speed and brakes; a series-wound motor must "
    "never run free at full pedal.")


def pack_caution(highest_v: float | None) -> str:
    """What the pack's volts mean to a person who works on it.

    Shock guard from 29 CFR 1910.303(g)(2)(i); burns below 50 V from DOE-HDBK-1092-98, 10.8.2.
    """
    burns = "a tool across the terminals draws an arc that burns, at any of these volts"
    if highest_v is None:
        return f"Highest volts unknown; {burns}. {BARE_HANDS}"
    side = "above" if highest_v >= GUARD_V else "below"
    ask = "guard live parts against touch" if highest_v >= GUARD_V else "that is no licence"
    return (f"{highest_v:.1f} V is {side} the 50 V from which workplaces in the USA guard live "
            f"parts: {ask}; {burns}. {BARE_HANDS}")
