"""Guided drives: one large prompt at a time; the steps are detected from the amps."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from dash import Dash, Input, Output, State, dcc, html
from dash.development.base_component import Component

from analysis.one_log.guided import Driven, Sag, follow, sag_of

from ..elements import Fact, Given, Why, aside, caution, facts, sentence, title, verdict
from ..guides import SPEECHES, Guide
from ..live import LiveView
from ..quantities import NBSP, number
from ..shell import Place
from ..store import Store

PATH: Final = "/guide"
TITLE: Final = "Guided drive"
GROUP: Final = "Drive"

TICK_MS: Final = 1000
def layout(store: Store, place: Place) -> Component:
    speech = SPEECHES[store.vehicle_kind]
    guides = speech.guides()
    guide = guides.get(place.query.get("guide", ""))
    return html.Div([
        title(TITLE),
        *([html.Div(body(store.look(), guide, 0.0), id="guide-body"), caution(speech.caution),
           dcc.Interval(id="guide-tick", interval=TICK_MS),
           dcc.Store(id="guide-since", data=_now_s(store.look())),
           dcc.Store(id="guide-name", data=place.query["guide"])] if guide else _choose(guides)),
    ], className="page guide")


def _choose(guides: Mapping[str, Guide]) -> list[Component]:
    ways = [html.Li(dcc.Link(guide.title, href=f"{PATH}?guide={name}", className="path"))
            for name, guide in guides.items()]
    return [sentence("Which one shall it be?"), html.Ol(ways, className="paths")]


def register(app: Dash, store: Store) -> None:
    @app.callback(Output("guide-body", "children"), Input("guide-tick", "n_intervals"),
                  State("guide-name", "data"), State("guide-since", "data"),
                  prevent_initial_call=True)
    def tick(_: int, name: str, since_s: Any) -> list[Component]:
        is_told = isinstance(since_s, int | float)
        guides = SPEECHES[store.vehicle_kind].guides()
        return body(store.look(), guides.get(name, guides["sign"]), since_s if is_told else 0.0)


def _now_s(view: LiveView) -> float:
    """The last moment of the recording, Unix time; 0 before its first sample. [s]"""
    return view.last.timestamp() if view.last else 0.0


def body(view: LiveView, guide: Guide, since_s: float) -> list[Component]:
    """The prompt that is due, the steps behind and before it, and what came of the pulls."""
    if view.recording is None or view.state == "ended":
        return [sentence("Nothing is being recorded, so no step can be seen."),
                aside(["Start a recording on the ", dcc.Link("Bench", href="/bench"), "."])]
    log = view.recording.telemetry
    amps, volts = log["current_a"], log["voltage_v"]
    steps = [prompt.step for prompt in guide.prompts]
    done = follow(steps, log.elapsed_s, amps, since_s - log.start.timestamp())
    sags = [sag_of(before, pull, log.elapsed_s, amps, volts)
            for before, pull, step in zip(done, done[1:], steps[1:], strict=False)
            if step.kind == "pull"]
    return [_prompt(guide, done), _steps(guide, len(done)),
            facts([_fact(n, sag) for n, sag in enumerate(sags, start=1) if sag]),
            _ending(guide, done, view)]


def _prompt(guide: Guide, done: tuple[Driven, ...]) -> Component:
    if len(done) == len(guide.prompts):
        return html.P("Done. It goes on being recorded.", className="prompt", role="status")
    due = guide.prompts[len(done)]
    return html.P([due.words, html.Span(f" {due.step.seconds:.0f}{NBSP}s", className="unit")],
                  className="prompt", role="status")


def _steps(guide: Guide, done: int) -> Component:
    return html.Ol([html.Li([prompt.words, html.Span(
        " done" if n < done else " now" if n == done else "", className="badge")])
        for n, prompt in enumerate(guide.prompts)], className="prompts")


def _fact(n: int, sag: Sag) -> Fact:
    why = Why("(volts standing − volts pulling) ÷ (amps pulling − amps standing)", (
        Given("standing", f"{number(sag.from_v, 2)}{NBSP}V at {number(sag.from_a, 1)}{NBSP}A",
              "measured"),
        Given("pulling", f"{number(sag.to_v, 2)}{NBSP}V at {number(sag.to_a, 1)}{NBSP}A",
              "measured")), "Ohm's law")
    return Fact(f"Pull {n}", f"{number(sag.from_v - sag.to_v, 2)}{NBSP}V sag",
                f"at {number(sag.to_a, 0)}{NBSP}A: about {number(sag.mohm, 0)}{NBSP}mΩ, joints and "
                "cables included", "worked out", why)


def _ending(guide: Guide, done: tuple[Driven, ...], view: LiveView) -> Component:
    sign = view.recording.sign if view.recording else None
    if sign and sign.convention not in ("undecided", "unsigned"):
        return verdict("yes", sign.words, "" if len(done) == len(guide.prompts) else "go on")
    return verdict("cannot tell yet", "What minus means is not proved yet.",
                   "one pull from a standstill")
