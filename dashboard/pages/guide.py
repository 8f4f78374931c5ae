"""Guided drives: one large prompt at a time; the steps are detected from the amps."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from dash import Dash, Input, Output, State, dcc, html
from dash.development.base_component import Component

from analysis.one_log.guided import Driven, Sag, Step, follow, sag_of

from ..elements import Fact, Given, Why, aside, caution, facts, sentence, title, verdict
from ..live import LiveView
from ..quantities import NBSP, number
from ..shell import Place
from ..store import Store

PATH: Final = "/guide"
TITLE: Final = "Guided drive"
GROUP: Final = "Drive"

TICK_MS: Final = 1000
CAUTION: Final = ("A helper reads the prompts and the figures; the driver watches the road and "
                  "stops whenever it is wiser. Nothing is lost if a step is left out.")


@dataclass(frozen=True, slots=True)
class Prompt:
    """A step and the words for it."""

    step: Step
    words: str


@dataclass(frozen=True, slots=True)
class Guide:
    """A drive of several prompts."""

    title: str
    prompts: tuple[Prompt, ...]


GUIDES: Final[Mapping[str, Guide]] = {
    "sign": Guide("One press of the pedal: what does minus mean?", (
        Prompt(Step("stand", 8), "Stand still, foot off the pedal."),
        Prompt(Step("pull", 3), "Press the pedal and pull away."),
        Prompt(Step("stand", 8), "Stop, foot off the pedal."))),
    "test": Guide("A test drive: sag, resistance and how warm it gets", (
        Prompt(Step("stand", 10), "Stand still, foot off the pedal."),
        Prompt(Step("pull", 5), "Full pedal, up the drive or to the next tree."),
        Prompt(Step("ease", 5), "Ease off and roll on gently."),
        Prompt(Step("stand", 10), "Stop, foot off the pedal."),
        Prompt(Step("pull", 5), "Full pedal once more."),
        Prompt(Step("stand", 60), "Park, and leave everything as it is for a minute."))),
}


def layout(store: Store, place: Place) -> Component:
    guide = GUIDES.get(place.query.get("guide", ""))
    return html.Div([
        title(TITLE),
        *([html.Div(body(store.look(), guide, 0.0), id="guide-body"), caution(CAUTION),
           dcc.Interval(id="guide-tick", interval=TICK_MS),
           dcc.Store(id="guide-since", data=_now_s(store.look())),
           dcc.Store(id="guide-name", data=place.query["guide"])] if guide else _choose()),
    ], className="page guide")


def _choose() -> list[Component]:
    ways = [html.Li(dcc.Link(guide.title, href=f"{PATH}?guide={name}", className="path"))
            for name, guide in GUIDES.items()]
    return [sentence("Which drive shall it be?"), html.Ol(ways, className="paths")]


def register(app: Dash, store: Store) -> None:
    @app.callback(Output("guide-body", "children"), Input("guide-tick", "n_intervals"),
                  State("guide-name", "data"), State("guide-since", "data"),
                  prevent_initial_call=True)
    def tick(_: int, name: str, since_s: Any) -> list[Component]:
        is_told = isinstance(since_s, int | float)
        return body(store.look(), GUIDES.get(name, GUIDES["sign"]), since_s if is_told else 0.0)


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
        return html.P("Done. The drive goes on being recorded.", className="prompt", role="status")
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
