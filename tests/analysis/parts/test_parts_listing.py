"""Reading a parts list: what is typed, and what is wrong with it in one line."""

from __future__ import annotations

import tomllib
from dataclasses import fields

import pytest

from analysis.parts.breaker import Breaker
from analysis.parts.cable import Cable
from analysis.parts.listing import KINDS, PartsList, cables_of, read_parts_list
from collector.errors import DescriptionError

PACK = "[pack]\ncells = 16\n"
LEAD = "[lead_acid]\ncells = 24\nrated_ah = 100\nrated_h = 20\n"
BREAKER = '[[breaker]]\nname = "main"\nrating_a = 50\n'


def read(text: str) -> PartsList:
    return read_parts_list(tomllib.loads(text), "parts.toml")


def test_what_is_not_typed_stays_unknown() -> None:
    """No default stands in for a nameplate."""
    listed = read(PACK + BREAKER)
    [breaker] = listed.parts

    assert isinstance(breaker, Breaker)
    assert breaker.marked_v_dc is None
    assert breaker.interrupt_a is None
    assert listed.pack.charge_end_v is None
    assert listed.lead_acid is None
    assert not listed.invented


def test_every_kind_of_key_is_read() -> None:
    """Numbers, whole numbers, texts, flags, sizes, choices, tables."""
    listed = read(PACK + BREAKER + """
        is_polarised = true
        percent_at_c = { 40 = 100, "60.5" = 85 }
        calibrated_c = -5
        [[cable]]
        name = "thick"
        size = "2/0 AWG"
        length_m = 2
        insulation_c = 105
        [lead_acid]
        cells = 24
        kind = "AGM"
        rated_ah = 100
        rated_h = 20
    """)
    breaker, cable = listed.parts

    assert isinstance(breaker, Breaker)
    assert breaker.is_polarised
    assert breaker.percent_at_c == {40.0: 100.0, 60.5: 85.0}
    assert breaker.calibrated_c == -5.0
    assert isinstance(cable, Cable)
    assert cable.size.label == "2/0 AWG"
    assert cable.insulation_c == 105
    assert cables_of(listed.parts) == {"thick": cable}
    assert listed.lead_acid is not None
    assert listed.lead_acid.kind == "AGM"


@pytest.mark.parametrize(("text", "said"), [
    (PACK, "parts.toml: no part is described — write [[breaker]], [[fuse]], "),
    (BREAKER, "parts.toml, pack, cells: is missing — a whole number is needed"),
    ("[pack]\ncells = 0\n" + BREAKER, "parts.toml, pack, cells: 0 — allowed is 1 or more"),
    ('[pack]\ncells = "16"\n' + BREAKER, "parts.toml, pack, cells: '16' — a whole number"),
    (PACK + '[[breaker]]\nname = "main"\n',
     "parts.toml, breaker main, rating_a: is missing — a number is needed"),
    (PACK + "[[breaker]]\nrating_a = 50\n", "parts.toml, breaker 1, name: is missing — text"),
    (PACK + BREAKER + "marked_v = 48\n",
     "parts.toml, breaker main, marked_v: unknown key — did you mean marked_v_dc? known here: "),
    (PACK + BREAKER + "marked_v_dc = -48\n",
     "parts.toml, breaker main, marked_v_dc: -48 — a number above 0 is needed"),
    (PACK + BREAKER + "marked_v_dc = nan\n", "marked_v_dc: nan — a finite number is needed"),
    (PACK + BREAKER + "marked_v_dc = true\n", "marked_v_dc: True — a number is needed"),
    (PACK + BREAKER + "is_polarised = 1\n", "is_polarised: 1 — true or false is needed"),
    (PACK + BREAKER + "percent_at_c = { hot = 85 }\n",
     "percent_at_c: 'hot' = 85 — write degrees = percent"),
    (PACK + BREAKER + "percent_at_c = { 60.5 = 85 }\n", "percent_at_c: '60' = {'5': 85} — write"),
    (PACK + BREAKER + "percent_at_c = { 60 = 850 }\n", "percent_at_c: '60' = 850 — write"),
    (PACK + BREAKER + 'protects = "thin"\n',
     "parts.toml, main, protects: no cable 'thin' — cables: none is described"),
    (PACK + 2 * '[[cable]]\nname = "x"\nsize = "6 AWG"\nlength_m = 1\n',
     "parts.toml, cable x, name: two cables have it — give each a name of its own"),
    (PACK + '[[cable]]\nname = "x"\nlength_m = 1\n',
     "parts.toml, cable x, size: is missing — text is needed"),
    (PACK + '[[cable]]\nname = "x"\nsize = "thick"\nlength_m = 1\n',
     "parts.toml, cable x, size: not a size — 'thick' is not a size; write '6 AWG'"),
    (PACK + '[[cable]]\nname = "x"\nsize = "6 AWG"\nlength_m = 1\ninsulation_c = 100\n',
     "insulation_c: 100 — allowed: 60, 75, 80, 90, 105, 125, 200"),
    (PACK + '[[gauge]]\nname = "x"\nempty_v = 50\nfull_v = 50\n',
     "parts.toml, gauge x: the keys do not go together — full_v must be above empty_v"),
    (PACK + LEAD + "exponent = 2.5\n",
     "parts.toml, lead_acid: the keys do not go together — an exponent of 2.50 (typed)"),
    (PACK + LEAD + "second_ah = 50\n", "second_ah needs"),
    (PACK + LEAD + "second_ah = 50\nsecond_h = 10\n",
     "two capacities of one rate give no exponent"),
    (PACK + LEAD + "usable_pct = 120\n",
     "parts.toml, lead_acid, usable_pct: 120 — at most 100 is allowed"),
    (PACK + "[lead_acid]\ncells = 24\n", "parts.toml, lead_acid: the keys do not go together — "),
    (PACK + BREAKER + "[brake]\n", "parts.toml, brake: unknown key — did you mean breaker?"),
    (PACK + '[breaker]\nname = "main"\nrating_a = 50\n', "a list is needed"),
])
def test_a_mistake_is_one_line_with_file_key_and_remedy(text: str, said: str) -> None:
    """Where, what was found, what is allowed."""
    with pytest.raises(DescriptionError) as wrong:
        read(text)

    assert said in str(wrong.value)
    assert "\n" not in str(wrong.value)


@pytest.mark.parametrize("kind", KINDS)
def test_every_key_of_every_kind_is_offered(kind: str) -> None:
    """A mistyped key lists all that could have been meant, typed or not."""
    required = {"name": '"x"', "rating_a": "1", "marked_v": "1", "resistance_ohm": "1",
                "end_v": "1", "current_a": "1", "input_max_v": "1", "input_min_v": "1",
                "pack_v": "9", "minus_to_frame_v": "0", "plus_to_frame_v": "1",
                "output_w": "1", "load_w": "1", "cutoff_v": "1", "length_m": "1",
                "size": '"6 AWG"'}
    names = {field.name for field in fields(KINDS[kind])}
    keys = "".join(f"{key} = {value}\n" for key, value in required.items() if key in names)
    with pytest.raises(DescriptionError) as wrong:
        read(f"{PACK}[[{kind}]]\n{keys}qqqq = 1\n")

    assert all(name in wrong.value.remedy for name in names)
