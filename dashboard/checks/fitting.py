"""Paths before the first drive: a vehicle that will not move, the fitting, the first power-up."""

from __future__ import annotations

from typing import Final

from .card import Card, CheckPath, Reading

LIVE: Final = ("Live metal: rings and watch off, insulated tools, glasses on. The maker's manual "
               "and, where the law asks for one, a licensed electrician come first.")
WHEELS_UP: Final = ("Both driven wheels off the ground and the vehicle on stands: it may start by "
                    "itself when the fault clears. A series-wound motor with its wheels up gets "
                    "only a short, light touch of the pedal.")


def rungs(*points: str) -> tuple[Reading, ...]:
    """A reading of the volts at each point of a ladder."""
    return tuple(Reading("point-volts", point[:1].upper() + point[1:], point, "52.4")
                 for point in points)


STUCK: Final = CheckPath(
    "stuck", "It will not move", "Find where the volts end; change no part by guess.", (
        Card("wheels-up", "Is it safe to look for the fault?", (
            "Jack the driven wheels clear and put the vehicle on stands.",
            "Put the run/tow switch to tow before anything is disconnected, and wait as the manual "
            "says.", "Take a picture of the wiring before you touch it."),
            caution=WHEELS_UP),
        Card("control-ladder", "Where do the volts end on the way to the coil?", (
            "Meter on DC volts, black probe on the pack's minus post.",
            "Key on, pedal pressed lightly by a helper: the circuit must be asked to work.",
            "Probe the point that the card asks for; it halves what is left."),
            good="Every point shows the pack's volts, up to the coil.", caution=LIVE,
            readings=rungs("the pack's plus post", "behind the main fuse", "behind the run switch",
                            "behind the key switch", "behind the pedal switch", "the coil's feed"),
            judge="ladder"),
        Card("power-ladder", "Where do the volts end on the way to the motor?", (
            "The same, along the thick cables, with the contactor pulled in.",
            "A click does not prove the contacts: measure behind them."),
            good="Every point shows the pack's volts, up to the controller.", caution=LIVE,
            readings=rungs("the pack's plus post on the thick cable", "behind the breaker",
                            "behind the contactor", "the controller's plus stud"),
            judge="ladder"),
        Card("charger", "Does the charger refuse to start?", (
            "Measure the pack's posts with everything off.",
            "Many chargers wait for a least voltage before they start.",
            "If the posts show 0 V with a healthy pack, its board is off: wake it by the maker's "
            "way only."),
            good="The charger starts, and the display shows amps into the pack.",
            caution="No cell that has sat below its least voltage is charged again. Never bypass "
                    "the board. A pack that smells, is swollen, wet or hot: move away, do not "
                    "charge.",
            readings=(Reading("meter-volts", "Volts at the posts", "", "52.4"),)),
    ))

FITTING: Final = CheckPath(
    "fitting", "Before the new pack goes in", "What the old parts must stand at the new volts.", (
        Card("parts", "Do breaker, fuse, coil, cable and charger suit the new volts?", (
            "Read each nameplate; take a picture of it.",
            "Type what it says on Parts; the verdict shows its arithmetic."),
            see=("/parts", "Parts")),
        Card("frame", "Is the frame free of volts?", (
            "Pack connected, key off. Volts from the pack's minus post to clean metal of the "
            "frame, then from its plus post.",
            "One hand, insulated probes. Do it again on a wet day."),
            good="A floating pack shows less than 30 % of its volts to the frame (a lift-truck "
                 "service manual). More means dirt, damp or damage: a third reading with a "
                 "resistor tells how much.",
            caution=f"{LIVE} Ask first whether an old 12 V accessory bonds the frame. No "
                    "insulation tester of 250 or 500 V while electronics are connected.",
            readings=(Reading("meter-volts", "Volts across the whole pack", "", "54.4"),
                      Reading("frame-leakage", "Minus post to frame", "minus", "3.1"),
                      Reading("frame-leakage", "Plus post to frame", "plus", "4.0")),
            judge="leakage"),
        Card("torque", "Is each joint tight, and marked?", (
            "Lug flat on the pad, washers on top only.",
            "The maker's torque, by a torque wrench; by feel most people miss it.",
            "Draw a line over nut and stud, with the date. Again after the first day, week and "
            "month."),
            good="The line is unbroken at the next look.",
            caution="Main switch off. Too tight spoils a joint too.",
            readings=(Reading("torque", "Torque of the joint", "main minus", "12 Nm"),)),
    ))

POWER_UP: Final = CheckPath(
    "power-up", "First power-up", "The first minutes with the new pack, kept forever.", (
        Card("record", "Is the recording running?", (
            "Start the recording before you switch on: what happens first, happens once.",),
            see=("/", "Now")),
        Card("precharge", "Does the controller fill gently?", (
            "Meter across the open contactor, key on: the volts fall as the controller's "
            "capacitors fill.",
            "Wait until the rest is under a twentieth of the pack's volts before it closes."),
            good="It falls within seconds. If it stays, there is no pre-charge: a bang and a "
                 "welded contact are what follows. Parts reckons the resistor.",
            caution=f"{LIVE} A pre-charge resistor that is always fitted keeps the capacitors live "
                    "with the key off: let them down before touching.",
            readings=(Reading("point-volts", "Volts across the open contactor after 10 s",
                              "across the contactor", "1.2"),),
            see=("/parts", "Parts")),
        Card("contactor", "Does the contactor close cleanly?", (
            "Volts across its big studs: the pack's volts when open, near zero when it is closed "
            "and amps flow.",),
            good="Under 0.2 V at working amps (common practice, no source); more is a burnt "
                 "contact.",
            caution="If the vehicle creeps, or the open studs show zero, a contact may be welded: "
                    "stop and disconnect. Do not tap it and carry on.",
            readings=(Reading("point-volts", "Volts across the closed contactor, pulling",
                              "across the closed contactor", "0.05"),)),
        Card("sign", "What does minus mean?", (
            "One short press of the pedal with the brake held, or a slow start.",
            "The volts fall when the pack gives: that settles the sign."),
            good="Now says which way the amps flow, with the seconds that prove it.",
            see=("/", "Now")),
    ))
