"""A whole list judged: the invented flatbed's on 27 March, in words and as JSON."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path

import pytest

from analysis.parts import cautions
from analysis.parts.cautions import pack_caution
from analysis.parts.judged import JudgedParts, judge_parts
from analysis.parts.listing import KINDS, read_parts_list
from analysis.parts.pack import pack_figures
from analysis.parts.verdict import Judged, check
from tests.analysis.made_parts import SEEN

SAMPLE = Path(__file__).resolve().parents[3] / "sample_logs" / "parts.toml"
#: Words that grant what no arithmetic can.
PROMISES = re.compile(r"\b(safe|safely|safety|OK|okay|harmless|guarantee\w*)\b", re.IGNORECASE)


def flatbed(is_measured: bool = False) -> JudgedParts:
    listed = read_parts_list(tomllib.loads(SAMPLE.read_text(encoding="utf-8")), SAMPLE.name)
    return judge_parts(listed, pack_figures(listed.pack, SEEN if is_measured else None))


def test_three_parts_of_the_flatbed_are_to_be_replaced() -> None:
    """36 V coil, breaker marked 48 V DC, 32 V fuse; nothing else is thrown out."""
    to_replace = {part.name for part in flatbed().parts if part.action == "replace"}

    assert to_replace == {"main solenoid", "main breaker", "accessory fuse"}
    assert "Replace: main breaker, accessory fuse, main solenoid." in flatbed().words


def test_a_setting_is_changed_and_a_gauge_not_believed() -> None:
    """A no is not always a new part."""
    actions = {part.name: part.action for part in flatbed().parts}

    assert actions["controller low volts"] == "change the setting"
    assert actions["old volt gauge"] == "do not read charge from it; count amp-hours"


@pytest.mark.parametrize("line", [
    "50 A x 80 % in the long run = 40.0 A; over ten minutes 35.0 A (typed, parts list)",
    "worst minute 75.0 A (typed, parts list); rated 50 A: 150 %",
    "at least 54.4 V / 16.0 mΩ (typed, parts list) = 3400 A; a lower bound",
    "50 A on battery cable, 6 AWG (13.3 mm²): reference 120 A",
    "(54.4 V / 36 V)² = 2.3 times its heat, pack full and resting",
    "(58.4 V / 36 V)² = 2.6 times its heat, while charging ends",
    "54.4 V² / 60 Ω = 49 W instead of 22 W",
    "allowed: 39.6 V (110 % of the marking, as usual)",
    "31 Ω in series, 11 W in it",
    # 0.491 ohm per 1000 ft over 2.4 m
    "1.2 m there and as much back: 3.86 mΩ at 75 °C",
    "worst 10 s: 77.0 A (typed, parts list) x 3.86 mΩ = 0.30 V",
    "0.30 V / 51.2 V = 0.6 %; usual on boats: at most 3 %",
    "worst 10 min: 35.0 A (typed, parts list); heat 4.7 W, 2.0 W a metre of cable",
    "2.5 mm² (more than 14 AWG), 2.5 m there and as much back: 42.77 mΩ at 75 °C",
    "R x C = 470 Ω x 9.4 mF = 4.4 s",
    "95 % after 3.0 x R x C = 13.2 s",
    "they take ½ C V² = 16.0 J",
    "it waits 15 s: 2.0 V are left across the contacts",
    "V² / R = (58.4 V)² / 470 Ω = 7.3 W and 124 mA",
    "55.2 V / 16 cells = 3.45 V a cell; the pack's charge end 58.4 V (typed, charge end)",
    "105 Ah / 25 A: 4.2 h at least",
    "most amps in: 60 W / (0.90 x 46.0 V) = 1.4 A",
    "60 W; 80 % of 120 W = 96 W",
    "standby: 24 h x 1.5 W / 51.2 V = 0.7 Ah a day",
    "scale: empty 47.6 V, full 50.6 V",
    "iron phosphate at 20 %: 52.0 V resting, the needle shows 100 %",
    "42 V / 16 cells = 2.62 V a cell",
    "16 x (2.70 + 0.1) V = 44.8 V",
    "x 16.0 mΩ it acts at 43.2 V of the rested pack, 2.70 V a cell",
    "up to 15 % of 53 V",
    "draw 22.0 A (typed, parts list) x 51.2 V / 46.8 V = 24 A from lead",
    "k = 1.25 (1.10 to 1.60) (published for flooded, which disagree): 131 (91 to 153) Ah",
    "lead acid: usable 3.1 (2.1 to 3.6) kWh, 42 to 58.8 V, 180 kg, range 25 (17 to 29) km",
    "lithium: usable 4.6 (4.3 to 4.8) kWh, 46 to 58.4 V, 48 kg, range 47 (44 to 49) km",
    "x 46.8 V x 50 % usable (lead's common practice: 50 %) = 3.1 (2.1 to 3.6) kWh",
    "consumption 97.9 Wh/km (worked out, 159 N on the level at 10 km/h, 45 % to the wheel)",
    "lead weighs +132 kg on 520 kg: rolling and climbing take up to 1.25 times as much",
    "full and resting: lead 50.6 V, lithium 54.4 V",
    "lead at 20 A gives off up to 0.22 m³/h of hydrogen: 22 m³/h of air keep it at 1 %",
])
def test_the_flatbeds_arithmetic_worked_by_hand(line: str) -> None:
    """What a person would check with a pocket calculator."""
    assert line in "\n".join(flatbed().lines())


def test_measured_figures_are_named_as_such() -> None:
    """With a logbook the words say at what was measured, and how often."""
    words = " ".join(flatbed(is_measured=True).words)

    assert "58.9 V (measured, 3 logs)" in words
    assert "35.0 A (typed, parts list)" in words


def test_invented_data_say_so_first() -> None:
    """In words and in the document."""
    assert flatbed().lines()[0] == "Invented data."
    assert flatbed().as_json()["invented"] is True


def test_nothing_is_ever_promised() -> None:
    """No answer, caution or remedy speaks of what arithmetic cannot grant."""
    texts = [*flatbed().lines(), *flatbed(is_measured=True).lines(),
             *(value for name, value in vars(cautions).items()
               if name.isupper() and isinstance(value, str))]

    assert [text for text in texts if PROMISES.search(text)] == []


def test_every_part_has_its_arithmetic_and_a_caution() -> None:
    """Each of all kinds; each question with a line of figures; each "no" with a remedy."""
    parts = flatbed().parts

    assert {part.kind for part in parts} == set(KINDS)
    assert all(part.cautions for part in parts)
    for one in (one for part in parts for one in part.checks):
        assert one.arithmetic
        assert bool(one.acceptable_if) == (one.verdict != "yes")


def test_the_document_is_json_with_its_keys() -> None:
    """Schema, words, pack, parts, comparison, cautions; no NaN."""
    document = json.loads(json.dumps(flatbed().as_json(), allow_nan=False))

    assert document["schema"] == "packhand.parts/1"
    assert {"words", "pack", "parts", "lead_against_lithium", "cautions"} <= document.keys()
    assert document["pack"]["highest_v"] == {
        "value": 58.4, "unit": "V", "badge": "typed", "origin": "charge end"}
    assert document["parts"][0].keys() == {
        "kind", "name", "verdict", "action", "checks", "cautions"}
    assert document["parts"][0]["checks"][0].keys() == {
        "question", "verdict", "arithmetic", "acceptable_if"}


def test_a_comparison_that_cannot_be_made_is_a_sentence() -> None:
    """In words, and in the document with its reason."""
    tables = tomllib.loads(SAMPLE.read_text(encoding="utf-8"))
    del tables["pack"]["mean_a"]
    listed = read_parts_list(tables, "parts.toml")
    judged = judge_parts(listed, pack_figures(listed.pack))

    assert judged.as_json()["lead_against_lithium"]["value"] is None
    assert any("cannot be compared yet: type mean_a" in line for line in judged.lines())


@pytest.mark.parametrize(("verdicts", "verdict", "action"), [
    (["yes", "cannot tell yet", "no"], "no", "replace"),
    (["yes", "cannot tell yet"], "cannot tell yet", "find out first"),
    (["yes", "yes"], "yes", "keep, at these figures"), ([], "cannot tell yet", "find out first")])
def test_the_worst_answer_is_the_parts(verdicts: list[str], verdict: str, action: str) -> None:
    """One no is enough; one open question keeps a yes away; without questions there is none."""
    is_met = {"yes": True, "no": False, "cannot tell yet": None}
    judged = Judged("fuse", "x", tuple(check("?", is_met[v], ("1 < 2",), "more")
                                       for v in verdicts), ())

    assert judged.verdict == verdict
    assert judged.action == action


def test_a_fault_that_can_be_mended_does_not_ask_for_a_new_part() -> None:
    """A fuse in the wrong place is moved; one that is wrong in itself too is replaced."""
    placed = check("near?", False, ("1 < 2",), "nearer", if_no="move it")
    wrong = check("volts?", False, ("32 < 58",), "more")

    assert Judged("fuse", "x", (placed,), ()).action == "move it"
    assert Judged("fuse", "x", (placed, wrong), ()).action == "replace"


def test_two_parts_of_one_name_are_told_apart() -> None:
    """By their kind, in the words."""
    listed = read_parts_list(tomllib.loads("""
        [pack]
        cells = 8
        [[cutoff]]
        name = "main"
        cutoff_v = 20
        [[coil]]
        name = "main"
        marked_v = 12
    """), "parts.toml")
    words = " ".join(judge_parts(listed, pack_figures(listed.pack)).words)

    assert "main (coil)" in words
    assert "main (cutoff)" in words


@pytest.mark.parametrize(("volts", "side"), [(58.4, "above"), (50.0, "above"), (43.8, "below")])
def test_the_pack_caution_knows_the_guarded_volts(volts: float, side: str) -> None:
    """From 50 V live parts are guarded (29 CFR 1910.303(g)(2)(i)); arcs burn below it too."""
    told = pack_caution(volts)

    assert f"{volts:.1f} V is {side}" in told
    assert "an arc that burns" in told
    assert "Rings and watch off" in told
