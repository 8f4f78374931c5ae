"""Parts: breaker, fuse, cable and the rest at the pack's real volts and amps, sums shown."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

from dash import Dash, dcc, html
from dash.development.base_component import Component

from analysis.asking.book import Asked, Book
from analysis.asking.listed_parts import ListedParts, ask_listed_parts
from analysis.estimate import Badge, Verdict
from analysis.parts.cautions import BARE_HANDS, INFORMS, pack_caution
from analysis.parts.conversion import Comparison, Side
from analysis.parts.judged import JudgedParts
from analysis.parts.listing import PartsList
from analysis.parts.marked import marked_volts
from analysis.parts.pack import Figure, SeenPack
from analysis.parts.verdict import Check, Judged
from collector.errors import PackhandError

from ..elements import (
    Fact,
    Given,
    Why,
    aside,
    caution,
    facts,
    picture,
    section,
    sentence,
    table,
    teach,
    title,
    verdict,
)
from ..figures.ranges import Ranged, Reference, height_px, ranges
from ..part_fields import FORMS, in_plain_words
from ..part_form import part_form
from ..quantities import MILE_M, NBSP, Units, number, unbroken
from ..question_page import Question
from ..shell import Place
from ..store import Store

PATH: Final = "/parts"
TITLE: Final = "Parts"
GROUP: Final = "Kit"

TEACH: Final = "No part is listed yet. Type what the label of your breaker says."
HARDER: Final = ("Of what is typed and what your logs measured the harder figure counts; where "
                 "no highest volts are typed, 3.65 V for each cell.")
REPLACE: Final = "replace"
TEACH_PACK: Final = ("Type first how many cells the pack has in series: the highest volts follow "
                     "from that.")
#: Label of a figure of the pack, with the digits it is told with.
_SHOWN: Final = (("highest_v", "Highest volts", 1), ("lowest_v", "Lowest volts under load", 1),
                 ("rms_10_s_a", "Worst ten seconds", 0), ("rms_1_min_a", "Worst minute", 0),
                 ("rms_10_min_a", "Worst ten minutes", 0))


def ask(book: Book, _: Place) -> Asked[ListedParts]:
    return ask_listed_parts(book)


def draw(found: ListedParts, store: Store, _: Place) -> list[Component]:
    if found.listed is None or found.judged is None:
        pack = found.tables.get("pack", {})
        lacks_cells = isinstance(pack, dict) and "cells" not in pack
        return [teach(TEACH_PACK if lacks_cells else found.problem or TEACH),
                _ways(found.tables), caution(BARE_HANDS)]
    judged = found.judged
    told = sorted(judged.parts, key=lambda part: part.verdict == "cannot tell yet")
    shown = [
        sentence(opening(judged)), also(judged),
        facts(_facts(judged, found.listed, found.seen)),
        caution(pack_caution(judged.pack.highest_v.value)),
        _volts(found),
        *(_part(part, _place_of(part, judged.parts)) for part in told if part.verdict != "yes"),
        _kept(judged.parts),
        _compared(judged.comparison, store.units),
        section("Add a part, or what is known of the pack", _ways(found.tables)),
        verdict(*ending(judged)), aside(INFORMS),
    ]
    return [part for part in shown if part]


QUESTION: Final = Question("parts", ask, draw)


def layout(store: Store, place: Place) -> Component:
    kind = place.query.get("kind", "")
    inside = [_writing(store, kind, _number(place.query.get("at", "")))] if kind in FORMS else [
        QUESTION.block(store, place)]
    return html.Div([title(TITLE), *inside], className="page parts")


def register(app: Dash, store: Store) -> None:
    QUESTION.register(app, store)


def opening(judged: JudgedParts) -> str:
    """How many parts cannot stay, at which volts."""
    volts = f"At {number(judged.pack.highest_v.value, 1)}{NBSP}V"
    if not judged.parts:
        return f"{volts} no part is listed to be judged."
    bad = [part for part in judged.parts if part.verdict == "no"]
    replaced = [part.name for part in bad if part.action == REPLACE]
    of = f"{len(replaced) or len(bad)} of {len(judged.parts)} listed"
    if replaced:
        return f"{volts}, replace {of}: {_listed(replaced)}."
    if bad:
        how = "it is" if len(bad) == 1 else "they are"
        return f"{volts}, {of} cannot stay as {how}: {_listed([part.name for part in bad])}."
    open_ones = [part.name for part in judged.parts if part.verdict == "cannot tell yet"]
    if open_ones:
        return (f"{volts} no part is found wanting; not all is known yet of "
                f"{_listed(open_ones)}.")
    return f"{volts} each of the {len(judged.parts)} parts listed does, by its label."


def also(judged: JudgedParts) -> Component | None:
    """What to do with parts that cannot stay as they are and need not be replaced."""
    told = [f"{part.name}: {part.action}" for part in judged.parts
            if part.verdict == "no" and part.action != REPLACE]
    return aside(f"Also, {'; '.join(told)}.") if told else None


def ending(judged: JudgedParts) -> tuple[Verdict, str, str]:
    """Whether all may stay, and what to find out first."""
    found = {part.verdict for part in judged.parts}
    asked = [(part, one) for part in judged.parts for one in part.checks
             if one.verdict == "cannot tell yet"]
    then = (f"{asked[0][0].name}: {in_plain_words(asked[0][1].acceptable_if, asked[0][0].kind)}."
            if asked else "")
    if "no" in found:
        return "no", "Not every part may stay as it is; each says what would do instead.", then
    if asked or not found:
        return "cannot tell yet", "No part is found wanting, but not all is known.", then
    return "yes", "By their labels all parts do at these volts and amps.", ""


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _facts(judged: JudgedParts, listed: PartsList, seen: SeenPack | None) -> Iterable[Fact]:
    for name, label, digits in _SHOWN:
        figure = getattr(judged.pack, name)
        if isinstance(figure, Figure):
            told = (_given("typed", getattr(listed.pack, name, None), figure.unit, digits),
                    _given("measured", getattr(seen, name, None), figure.unit, digits))
            yield Fact(label, f"{number(figure.value, digits)}{NBSP}{figure.unit}",
                       figure.origin, figure.badge, Why(
                           HARDER, tuple(given for given in told if given),
                           "common practice, no source"))
    ohms = judged.pack.resistance_ohm
    if ohms:
        yield Fact("Resistance", f"{number(1000 * ohms.value, 0)}{NBSP}mΩ", ohms.origin, ohms.badge)


def _given(badge: Badge, value: float | None, unit: str, digits: int) -> Given | None:
    if value is None or not math.isfinite(value):
        return None
    return Given("parts list" if badge == "typed" else "your logs",
                 f"{number(value, digits)}{NBSP}{unit}", badge)


def _volts(found: ListedParts) -> Component | None:
    """What the labels allow against what the pack has."""
    if found.listed is None or found.judged is None:
        return None
    highest_v = found.judged.pack.highest_v.value
    rows = [Ranged(mark.name, mark.high_v, mark.low_v or mark.high_v, mark.high_v,
                   is_told=mark.high_v < highest_v) for mark in marked_volts(found.listed.parts)]
    if not rows:
        return None
    short = sum(row.is_told for row in rows)
    words = (f"Each mark is the most that a label allows. {short} of {len(rows)} stand left of the "
             f"{highest_v:.1f}{NBSP}V that this pack reaches; those are diamonds.")
    return picture("parts-volts", ranges(rows, "volts allowed", Reference(
        highest_v, f"{highest_v:.1f} V")), words, height_px(rows))


def _place_of(part: Judged, parts: Sequence[Judged]) -> int:
    """The part's place among those of its kind."""
    return [each for each in parts if each.kind == part.kind].index(part)


def _part(part: Judged, at: int) -> Component:
    return section(f"{part.name}: {part.verdict}, {part.action}", *_sums(part, at))


def _kept(parts: Sequence[Judged]) -> Component | None:
    """Parts that may stay, each with its sums folded."""
    found = [html.Details([html.Summary(f"{part.name}: {part.verdict}, {part.action}"),
                           *_sums(part, _place_of(part, parts))], className="why")
             for part in parts if part.verdict == "yes"]
    return section("What may stay, by its label", *found) if found else None


def _sums(part: Judged, at: int) -> list[Component]:
    return [html.Ul([_check(one, part.kind) for one in part.checks], className="checks"),
            *(html.P(f"Caution. {words}", className="small") for words in part.cautions),
            dcc.Link("Change what is typed", href=f"{PATH}?kind={part.kind}&at={at}",
                     className="press")]


def _check(one: Check, kind: str) -> Component:
    lead = "Acceptable with" if one.verdict == "no" else "Next"
    then = in_plain_words(one.acceptable_if, kind)
    return html.Li([
        html.P([f"{one.question} ", html.Strong(f"{one.verdict[:1].upper()}{one.verdict[1:]}.")]),
        *(html.P(unbroken(in_plain_words(line, kind)), className="sum")
          for line in one.arithmetic),
        html.P(f"{lead}: {unbroken(then)}.", className="then") if then else None])


def _compared(found: Comparison | str | None, units: Units) -> Component | None:
    if found is None:
        return None
    if isinstance(found, str):
        return section("Lead acid against lithium", aside(f"{found[:1].upper()}{found[1:]}."))
    return section(
        "Lead acid against lithium",
        aside(f"At this draw lead acid gives about {unbroken(found.lead.usable_wh.text)}, lithium "
              f"about {unbroken(found.lithium.usable_wh.text)}."),
        table("Both at this vehicle's draw; the ends are those of published ranges, not an "
              "interval of measurement", ("Bank", "Usable", "Volts", "Weight", "Range"),
              [_side("Lead acid", found.lead, units), _side("Lithium", found.lithium, units)]),
        html.Details([html.Summary("Why"), *(html.P(unbroken(line), className="sum")
                                             for line in found.arithmetic)], className="why"),
        *(caution(words) for words in found.cautions))


def _side(name: str, side: Side, units: Units) -> tuple[str, ...]:
    low_v, high_v = side.volts
    far = side.range_km
    if far and units.distance == "mi":
        far = far.times(1000 / MILE_M, "mi")
    return (name, unbroken(side.usable_wh.text), f"{low_v:.0f} to {high_v:.1f}{NBSP}V",
            f"{side.mass_kg:g}{NBSP}kg" if side.mass_kg is not None else "not typed",
            unbroken(far.text) if far else "consumption not known")


def _ways(tables: Mapping[str, Any]) -> Component:
    """A way to each form; a table that stands once is changed rather than added."""
    def words(kind: str) -> str:
        return FORMS[kind].words[:1].upper() + FORMS[kind].words[1:]

    return html.Ul([html.Li(dcc.Link(words(kind), href=f"{PATH}?kind={kind}", className="press"))
                    for kind in sorted(FORMS, key=lambda kind: kind not in tables)],
                   className="part-ways")


def _writing(store: Store, kind: str, at: int | None) -> Component:
    """The form of one part."""
    try:
        typed = store.parts.typed(kind, at) if at is not None or not FORMS[kind].is_many else {}
        cables = store.parts.cables()
    except PackhandError as error:
        return html.Div([teach(str(error)), dcc.Link("Back to the parts", href=PATH)])
    known = str(typed.get("name", "")) if at is not None else ""
    return html.Div([
        sentence(f"What the label of {known or FORMS[kind].words} says."),
        aside("Leave out what it does not say: the answer then tells how to find it. Figures "
              "that your logs measured count where they are harder than what is typed."),
        caution(BARE_HANDS),
        part_form(kind, at if typed else None, typed, cables),
        dcc.Link("Back to the parts", href=PATH, className="press"),
    ])


def _number(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 4 else None
