"""Paths of a pack in use: the display, the first full charge, the baseline, winter and spring."""

from __future__ import annotations

from typing import Final

from .card import Card, CheckPath, Reading
from .fitting import LIVE

GAUGE: Final = CheckPath(
    "gauge", "Prove the display", "A display that reads 0.0 A hides small amps; prove it once.", (
        Card("zero", "What does it show when nothing flows?", (
            "Key off, everything unplugged, main switch open.",
            "Zero the clamp right before, jaws clean and closed, one conductor in it."),
            good="Clamp and display both show no more than a few tenths of an amp.",
            readings=(Reading("clamp-amps", "The clamp, nothing flowing", "main cable", "0.0 A"),)),
        Card("low", "Does it agree at a few amps?", (
            "Lights or another steady load on; wait ten seconds.",
            "Type what the clamp says: packhand adds what the display said at that moment."),
            good="Within a few percent. The pairs together tell zero and gain.",
            readings=(Reading("clamp-amps", "The clamp, a small steady load", "main cable",
                              "4.1 A"),)),
        Card("high", "Does it agree at working amps?", (
            "A steady climb with a helper, or brake gently against the motor.",
            "Type the clamp's figure of that moment. Out of the pack is minus, or type it without "
            "a sign: packhand knows which way it flowed."),
            good="Both pairs give one gain. The Bench lays a dated correction over the figures; "
                 "the raw ones stay.",
            caution="Keep clear of wheels and belts; somebody else watches the road.",
            readings=(Reading("clamp-amps", "The clamp, at working amps", "main cable", "48.0 A"),),
            see=("/bench", "Bench")),
        Card("volts", "Does it agree about the volts?", (
            "Meter across the pack's own posts, nothing flowing.",),
            good="Within a few tenths of a volt.", caution=LIVE,
            readings=(Reading("meter-volts", "The meter at the posts", "", "53.1"),)),
    ))

FIRST_FULL: Final = CheckPath(
    "first-full", "First full charge", "Does it reach full, and do the cells meet at the top?", (
        Card("charge", "Does the charger carry it to the top?", (
            "Record the whole charge; do not stop it early.",
            "Iron phosphate is full when the amps tail off at the charger's end volts, about a "
            "twentieth of the capacity (common practice, no source)."),
            good="Fills says who ended the charge: charger, board, one cell, or a person.",
            caution="No charging below 0 °C in the cells; the maker's figure rules. Stay near, on "
                    "a floor that does not burn.",
            see=("/fills", "Fills")),
        Card("top", "Do the cells meet at the top?", (
            "Leave it on the charger for some hours more: the board bleeds the highest cells.",
            "Do it again on other days before you judge a cell."),
            good="Cells tells a pack out of balance, which heals, from a small cell, which does "
                 "not.", see=("/cells", "Cells")),
    ))

BASELINE: Final = CheckPath(
    "baseline", "Baseline", "What is new for this pack: without it no later claim.", (
        Card("conditions", "Is the pack ready for a capacity test?", (
            "Between 15 and 25 °C for some hours.", "A full charge with its tail.",
            "Then an hour or two of rest."),
            readings=(Reading("full", "What says that it is full", "", "charger light is green"),
                      Reading("air-temperature", "Air", "", "19 °C"))),
        Card("capacity", "How much does it hold?", (
            "A steady load of a fifth to a third of the capacity, or one day's drives, down to "
            "where the board or the maker's cell limit ends it, whichever is first.",
            "Charge again soon, after a short rest."),
            good="Seasons counts from full to empty and tells the interval.",
            caution="Have a way home: the pack will switch off. Do not leave it empty overnight.",
            readings=(Reading("empty", "What ended it", "", "cut out at the gate"),),
            see=("/seasons", "Seasons")),
        Card("resistance", "How much does it sag?", (
            "A dozen firm pulls on a warm day are enough.",),
            good="Seasons brings it to 20 °C, so that a cold day is not taken for age.",
            see=("/seasons", "Seasons")),
        Card("claims", "What was promised?", (
            "Type what seller and label said, with the date, while the page still says it.",),
            see=("/claims", "Claims")),
    ))

LAY_UP: Final = CheckPath(
    "lay-up", "Laying it up", "A winter costs little if the pack is left half full and alone.", (
        Card("percent", "Is it half full, and cool?", (
            "Leave it between 40 and 60 % (common practice, no source), dry and cool, above the "
            "maker's least temperature.",),
            readings=(Reading("text", "Percent when laid up", "", "55 %"),)),
        Card("alone", "Is everything off?", (
            "Main switch open, converter and radio unplugged: they empty a pack in weeks.",
            "Clamp once with everything off."),
            good="Parked says on which day it would come down to 20 %.",
            readings=(Reading("clamp-amps", "The clamp, everything off", "main cable", "18 mA"),),
            see=("/parked", "Parked")),
        Card("monthly", "Who looks each month?", (
            "Papers writes a reminder for your calendar.",), see=("/papers", "Papers")),
    ))

SPRING: Final = CheckPath(
    "spring", "Spring check", "Cold or old? The same measurements as at the baseline tell.", (
        Card("look", "Is it dry, whole and unswollen?", (
            "Look and smell before you switch on; pull gently at each cable.",),
            caution="A pack that smells, is swollen, wet or hot: move away, outside, do not "
                    "charge."),
        Card("joints", "Is each joint still tight?", (
            "Look for broken marks; tighten to the maker's torque.",
            "Under a steady load, millivolts across each joint, post to lug."),
            good="Joints ranks them by milliohm and watts at your worst amps.", caution=LIVE,
            readings=(Reading("joint-millivolts", "Millivolts across the joint", "main minus",
                              "12 mV"),),
            see=("/joints", "Joints")),
        Card("full", "Does it still fill, with the cells together?", (
            "One full charge, recorded to the end.",), see=("/fills", "Fills")),
        Card("again", "What did the winter cost?", (
            "Repeat the capacity test at the temperature of the baseline.",),
            good="Seasons says whether the difference can be told from the error of measurement.",
            see=("/seasons", "Seasons")),
    ))
