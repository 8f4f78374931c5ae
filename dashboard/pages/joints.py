"""Heat & joints: millivolts and warmth read by hand, met with the amps of that minute, ranked."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from typing import Final

from dash import Dash, html
from dash.development.base_component import Component

from analysis.asking.book import Asked, Book
from analysis.asking.joints import ask_joints
from analysis.cells.joint_notes import JointReport, NotedJoint
from analysis.cells.joints import ACT_MOHM
from analysis.cells.joints_text import CAUTION, all_good
from analysis.estimate import Answer, Estimate, NoEstimate, Verdict

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
    story,
    table,
    teach,
    title,
    verdict,
)
from ..figures.ranges import Ranged, Reference, height_px, ranges
from ..markup import data
from ..quantities import NBSP, Units, number, scale, shown
from ..question_page import Question
from ..shell import Place
from ..store import Store
from ..wording import ending_in, worded
from .diary import LOST

PATH: Final = "/joints"
TITLE: Final = "Heat & joints"
GROUP: Final = "Pack"

TEACH: Final = ("No joint is read yet. While it records under a steady load, on stands or "
                "tied up, with a helper at pedal or throttle, hold a meter across a joint and type "
                "its millivolts.")
TAPE: Final = ("Bare bright metal reads far too cold by infra-red: aim at dull tape or paint, from "
               "close by, after ten minutes at steady amps.")
#: What can be typed here: kind of note, label, example.
READINGS: Final = (("joint-millivolts", "Millivolts across it", "119 mV"),
                   ("surface-temperature", "Warmth by infra-red", "74 °C"),
                   ("torque", "Tightened to", "12 Nm"))
#: Between these a joint is as its like. [times]
ALIKE: Final = (0.8, 1.25)
JOULE: Final = "Ohm's law and Joule's law; bounds of 0.2 and 0.5 mΩ are common practice, no source"


def ask(book: Book, _: Place) -> Asked[JointReport]:
    return ask_joints(book)


def draw(report: JointReport, store: Store, _: Place) -> list[Component]:
    units, joints = store.units, report.joints
    if not joints:
        return [teach(TEACH), caution(CAUTION), _forms(units), verdict(
            "cannot tell yet", "No joint was read.", "millivolts across the main minus lug")]
    return [
        sentence(opening(joints[0])),
        *(story(told) for told in map(mended, joints) if told),
        facts(_facts(joints[0], report, units)),
        section("Joints, the hottest first", _picture(joints), _table(joints, units)),
        section("Read a joint", caution(CAUTION), aside(TAPE), _forms(units)),
        verdict(*ending_in(ending(joints), units)),
    ]


QUESTION: Final = Question("joints", ask, draw)


def layout(store: Store, place: Place) -> Component:
    return html.Div([title(TITLE), QUESTION.block(store, place)], className="page joints")


def register(app: Dash, store: Store) -> None:
    QUESTION.register(app, store)


def opening(first: NotedJoint) -> str:
    """The hottest joint: its resistance, its watts, against its like."""
    name, ohms = first.joint.joint, first.joint.resistance_mohm
    if isinstance(ohms, NoEstimate):
        return f"The {name} cannot be told yet: {ohms.reason}."
    told = f"The {name} has {number(ohms.value, 2)}{NBSP}mΩ"
    times = first.joint.times_usual
    if math.isfinite(times):
        told += (", as much as others of its kind" if ALIKE[0] < times < ALIKE[1] else
                 f", {number(times, 1)} times as much as others of its kind")
    if isinstance(first.heat_then_w, Estimate):
        told += (f": {number(first.heat_then_w.value, 1)}{NBSP}W of heat at the "
                 f"{number(abs(first.current_a), 0)}{NBSP}A of its reading")
    return f"{told}."


def mended(joint: NotedJoint) -> str:
    """What making it anew did; empty where it never was, or was not read before and after."""
    before, now = joint.before_mohm, joint.joint.resistance_mohm
    if before is None or isinstance(now, NoEstimate):
        return ""
    return (f"The {joint.joint.joint} was made anew: {number(before.value, 2)}{NBSP}mΩ before, "
            f"{number(now.value, 2)}{NBSP}mΩ since.")


def _facts(first: NotedJoint, report: JointReport, units: Units) -> list[Fact]:
    given = (Given("typed", f"{number(first.millivolts, 1)}{NBSP}mV", "typed"),
             Given("amps of that moment", f"{number(abs(first.current_a), 1)}{NBSP}A", "measured"))
    found = [_fact("Resistance", first.joint.resistance_mohm, "mΩ", 2,
                   Why("R = millivolts ÷ amps; the slope where the amps differ", given, JOULE))]
    if math.isfinite(report.worst_rms_a):
        worst = Given("worst ten minutes, RMS", f"{number(report.worst_rms_a, 0)}{NBSP}A",
                      "measured")
        found.append(_fact("Heat over the worst ten minutes", first.joint.heat_w, "W", 1,
                           Why("P = R × I²", (worst,), JOULE)))
    if math.isfinite(first.surface_c):
        found.append(Fact("Its surface", shown("temp_1_c", units).text(first.surface_c),
                          _warmer(first, units), "typed"))
    return found


def _fact(label: str, answer: Estimate | NoEstimate, unit: str, digits: int,
          told: Why | None = None) -> Fact:
    if isinstance(answer, NoEstimate):
        return Fact(label, "cannot tell yet", f"{answer.reason}; {answer.next}", "worked out")
    return Fact(label, f"{number(answer.value, digits)}{NBSP}{unit}",
                f"between {number(answer.low, digits)} and {number(answer.high, digits)}, "
                f"{100 * answer.coverage:.0f}{NBSP}% sure", "worked out", told)


def _warmer(joint: NotedJoint, units: Units) -> str:
    """Above its like, in the person's degrees."""
    if math.isnan(joint.warmer_k):
        return "read its twin within half an hour to compare"
    factor = shown("temp_1_c", units).factor
    degrees = number(abs(joint.warmer_k) * factor, 0)
    way = "warmer" if joint.warmer_k >= 0 else "cooler"
    return f"{degrees}{NBSP}°{units.temperature} {way} than others of its kind"


def _picture(joints: Sequence[NotedJoint]) -> Component:
    rows = [row for joint in joints for row in rows_of(joint)]
    before = (" Before is the joint above it, before it was made anew."
              if any(joint.before_mohm for joint in joints) else "")
    return picture("joints-ranked", ranges(rows, "mΩ", Reference(ACT_MOHM, "make it anew")),
                   "Resistance of each joint with its interval, the hottest at the worst amps on "
                   f"top. Diamonds are joints that are not good.{before}", height_px(rows))


def rows_of(joint: NotedJoint) -> list[Ranged]:
    """The joint as it is, and as it was before it was made anew."""
    name, before = joint.joint.joint, joint.before_mohm
    found = [_row(name, joint.joint.resistance_mohm, is_told=joint.verdict == "no")]
    return [*found, _row("before", before, is_told=False)] if before else found


def _row(name: str, ohms: Answer, *, is_told: bool) -> Ranged:
    if isinstance(ohms, NoEstimate):
        return Ranged(name, math.nan, math.nan, math.nan)
    return Ranged(name, ohms.value, ohms.low, ohms.high, is_told)


def _table(joints: Sequence[NotedJoint], units: Units) -> Component:
    """A row for each joint; columns that nobody filled are left out."""
    warmth, torque = shown("temp_1_c", units), scale("Nm", units)
    columns: dict[str, list[str]] = {
        "Good?": [joint.verdict for joint in joints],
        "Now": [_milliohms(joint.joint.resistance_mohm) for joint in joints],
        "Before": [_milliohms(joint.before_mohm) or "not made anew" for joint in joints]
        if any(joint.before_mohm for joint in joints) else [],
        "Typed": [_typed(joint) for joint in joints],
        "Heat then": [_watts(joint) for joint in joints],
        "Surface": [warmth.text(joint.surface_c) if math.isfinite(joint.surface_c) else ""
                    for joint in joints],
        "Tightened to": [_size(torque.told(joint.torque_nm), torque.unit) for joint in joints],
        "Next": [worded(joint.next, units) for joint in joints]}
    filled = {head: cells for head, cells in columns.items() if any(cells)}
    rows = [[cell or "not read" for cell in cells]
            for cells in zip(*filled.values(), strict=True)]
    return table("As typed, with the amps that the log held at that moment; before is from before "
                 "it was made anew", ("Joint", *filled),
                 [(joint.joint.joint, *cells) for joint, cells in zip(joints, rows, strict=True)])


def _milliohms(answer: Answer | None) -> str:
    return f"{number(answer.value, 2)}{NBSP}mΩ" if isinstance(answer, Estimate) else ""


def _typed(joint: NotedJoint) -> str:
    """Millivolts and the amps they were met with."""
    amps = _size(abs(joint.current_a), "A")
    return " at ".join(filter(None, (_size(joint.millivolts, "mV"), amps)))


def _size(figure: float, unit: str) -> str:
    return f"{number(figure, 1)}{NBSP}{unit}" if math.isfinite(figure) else ""


def _watts(joint: NotedJoint) -> str:
    heat = joint.heat_then_w
    return f"{number(heat.value, 1)}{NBSP}W" if isinstance(heat, Estimate) else "cannot tell yet"


def _forms(units: Units) -> Component:
    """One form for each kind of reading; the amps are never asked for."""
    return html.Div([_form(kind, label, worded(example, units))
                     for kind, label, example in READINGS], className="joint-forms")


def _form(kind: str, label: str, example: str) -> Component:
    return html.Form([
        html.Label(["Joint", html.Span(" such as main minus lug", className="small"),
                    html.Textarea(name="joint", rows=1, maxLength=200, className="field",
                                  required=True)]),
        html.Label([label, html.Span(f" such as {example}", className="small"),
                    html.Textarea(name="value", rows=1, maxLength=200, className="field",
                                  required=True)]),
        html.Label(["When, if not now", html.Span(" such as 14:05", className="small"),
                    html.Textarea(name="at", rows=1, maxLength=200, className="field")]),
        html.Button("Keep it"),
        html.P("", className="told", role="status"),
    ], **data(notes=json.dumps({"kind": kind}), then=PATH, lost=LOST))


def ending(joints: Sequence[NotedJoint]) -> tuple[Verdict, str, str]:
    """Are the joints good, and what to do next."""
    bad = [joint for joint in joints if joint.verdict == "no"]
    open_still = [joint for joint in joints if joint.verdict == "cannot tell yet"]
    if bad:
        return "no", f"Not good: {', '.join(j.joint.joint for j in bad)}.", bad[0].next
    if open_still:
        return "cannot tell yet", (f"Open still: {', '.join(j.joint.joint for j in open_still)}."
                                   ), open_still[0].next
    return "yes", all_good(len(joints)), joints[0].next
