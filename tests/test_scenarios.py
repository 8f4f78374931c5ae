"""The first ten minutes: fifteen situations, each held by a test that carries its number."""

from __future__ import annotations

import re
from pathlib import Path

#: What a person does, by number.
SITUATIONS = {
    1: "starts it without hardware or network", 2: "rehearses with the invented season",
    3: "plugs in the cable of an unknown display", 4: "types readings until the bytes are known",
    5: "presses the pedal once", 6: "types amps, percent and hours", 7: "brings a foreign table",
    8: "drives for the first time, with marks", 9: "opens the pages on a phone",
    10: "pulls the cable in the middle of a drive", 11: "types breaker, cable and coil",
    12: "types millivolts and a temperature of a joint", 13: "types what the seller said",
    14: "shares with a forum", 15: "cuts the power in the middle of a log",
}


def test_each_situation_is_held_by_a_test() -> None:
    """No number is missing, and none is made up."""
    found = {int(number) for path in Path(__file__).parent.rglob("test_*.py")
             for number in re.findall(r"pytest\.mark\.scenario\((\d+)\)", path.read_text("utf-8"))}

    assert found == set(SITUATIONS)
