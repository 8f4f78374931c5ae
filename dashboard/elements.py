"""What pages are made of: the sentence, figures with their badge and their why, the verdict.

Every figure on a page says where it comes from (measured, worked out, typed or claimed), and can
be asked why: with which formula, from what, after whom.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import plotly.graph_objects as go
from dash import dcc, html
from dash.development.base_component import Component

from analysis.estimate import Answer, Badge, Estimate, NoEstimate, Verdict

from .markup import data
from .quantities import NBSP, SIGNS, number, unbroken
from .sheet import graph
from .wording import capital

#: Class of the part that a page ends with.
VERDICT: Final = "verdict"
Children = str | Component | Sequence[str | Component]


@dataclass(frozen=True, slots=True)
class Given:
    """One thing that a figure was worked out from."""

    name: str
    figure: str
    badge: Badge


@dataclass(frozen=True, slots=True)
class Why:
    """How a figure came about."""

    #: In words and symbols, one line.
    formula: str
    given: tuple[Given, ...] = ()
    #: A standard, a book, a paper; or "common practice, no source".
    source: str = ""


@dataclass(frozen=True, slots=True)
class Fact:
    """One row: what it is, the figure, the small print, where it comes from, and why."""

    label: str
    figure: str
    more: str
    badge: Badge
    why: Why | None = None


def title(words: str) -> Component:
    """The page's heading of the first level."""
    return html.H1(words, className="page-title")


def sentence(words: str) -> Component:
    """The fact that a page opens with."""
    return html.P(unbroken(words), className="sentence")


def story(words: str) -> Component:
    """What was found, told in full."""
    return html.P(capital(unbroken(words)), className="story")


def next_step(words: str) -> Component:
    """The next cheapest measurement, or what to do."""
    return html.P(["Next: ", linked(stopped(unbroken(words)))], className="then")


#: Pages that the analysis sends a person to, by their titles.
NAMED: Final[Mapping[str, str]] = {"Pack & limits": "/limits", "Parts": "/parts",
                                     "Seasons": "/seasons", "Reach": "/reach",
                                     "Compare": "/compare"}
_SENT: Final = re.compile(rf"(?<=under )({'|'.join(NAMED)})\b")


def linked(words: str) -> str | Component:
    """A sentence in which a page that one is sent to, such as ``under Parts``, can be pressed."""
    if not _SENT.search(words):
        return words
    return html.Span([dcc.Link(part, href=NAMED[part]) if part in NAMED else part
                      for part in _SENT.split(words)])


def stopped(words: str) -> str:
    """The words with a stop at their end."""
    return words if words.endswith((".", "?", "!")) else f"{words}."


def aside(words: Children) -> Component:
    """What goes with the sentence, smaller."""
    return html.P(linked(words) if isinstance(words, str) else words, className="aside")


def section(heading: str, *content: Component | None) -> Component:
    """A part of a page under a heading of the second level."""
    parts = [part for part in content if part is not None]  # an empty one is still to be filled
    return html.Section([html.H2(heading), *parts], className="part")


def facts(rows: Iterable[Fact]) -> Component:
    """Figures side by side."""
    return html.Dl([_fact(row) for row in rows], className="facts")


def _fact(fact: Fact) -> Component:
    return html.Div([
        html.Dt([fact.label, html.Span(f" {fact.badge}", className="badge")]),
        html.Dd([html.Span(fact.figure, className="fact-figure"),
                 html.Span(linked(fact.more), className="fact-more"),
                 *([why(fact.label, fact.why)] if fact.why else [])])])


def fold(words: str, *content: Component) -> Component:
    """What is there for whoever wants it, behind its name."""
    return html.Details([html.Summary(words), *content], className="fold")


def why(label: str, told: Why) -> Component:
    """A fold that shows the inputs, the formula and the source of a figure."""
    rows = [html.Li([f"{given.name}: {given.figure}",
                     html.Span(f" {given.badge}", className="badge")]) for given in told.given]
    return html.Details([
        html.Summary(["Why", html.Span(f" {label}", className="unseen")]),
        html.P(told.formula, className="formula"),
        html.Ul(rows) if rows else None,
        html.P(f"After: {told.source}.", className="small") if told.source else None,
    ], className="why")


def answer_fact(label: str, answer: Answer, digits: int | None = None, *,
                badge: Badge = "worked out", told: Why | None = None) -> Fact:
    """A row for an estimate with its interval, or for the reason why there is none."""
    if isinstance(answer, NoEstimate):
        return Fact(label, "cannot tell yet", f"{answer.reason}; {answer.next}", badge, told)
    places = digits_for(answer.half_width) if digits is None else digits
    unit = SIGNS.get(answer.unit, answer.unit)
    return Fact(label, f"{number(answer.value, places)}{NBSP}{unit}",
                between(answer, places), badge, told)


def between(answer: Estimate, digits: int | None = None) -> str:
    """An interval in words: ``between 98 and 102, 95 % sure``."""
    places = digits_for(answer.half_width) if digits is None else digits
    return (f"between {number(answer.low, places)} and {number(answer.high, places)}, "
            f"{100 * answer.coverage:.0f}{NBSP}% sure")


def digits_for(half_width: float) -> int:
    """Decimals that an interval of this half width deserves: one significant digit of it.

    JCGM 100:2008, 7.2.6, allows at most two.
    """
    if not half_width > 0:
        return 1
    places = 0
    while half_width * 10**places < 1 and places < 4:
        places += 1
    return places


def verdict(found: Verdict, words: str, then: str = "") -> Component:
    """How a page ends: yes, no or cannot tell yet; how sure; the next cheapest measurement."""
    return html.Div([
        html.P([html.Strong(f"{capital(found)}. "), unbroken(words)]),
        next_step(then) if then else None,
    ], className=VERDICT)


def teach(words: Children) -> Component:
    """What an empty page says: the one thing to do next."""
    return html.P(words, className="sentence")


def caution(words: str) -> Component:
    """What can hurt, and whom to ask."""
    return html.P([html.Strong("Caution. "), words], className="hurts", role="note")


def picture(identity: str, figure: go.Figure, caption: str, height_px: int = 280) -> Component:
    """A graph on paper; the caption says in a sentence what it shows."""
    return html.Figure([
        html.Div(graph(identity, figure), className="picture",
                 style={"height": f"{height_px}px"}),
        html.Figcaption(caption, className="caption"),
    ], className="paper")


def table(caption: str, heads: Sequence[str], rows: Iterable[Sequence[Children]]) -> Component:
    """A table; on a phone each row becomes a block that names its figures."""
    return html.Table([
        html.Caption(caption, className="small"),
        html.Thead(html.Tr([html.Th(head, scope="col") for head in heads])),
        html.Tbody([html.Tr([
            html.Th(row[0], scope="row"),
            *(html.Td(linked(cell) if isinstance(cell, str) else cell,
                      **data(head=head.rstrip("?")))
              for head, cell in zip(heads[1:], row[1:], strict=True))]) for row in rows]),
    ], className="rows")
