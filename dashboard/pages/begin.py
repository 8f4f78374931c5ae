"""Begin: four ways in, for somebody with no hardware, a monitor, a file, or only a display."""

from __future__ import annotations

from typing import Any, Final

from dash import Dash, Input, Output, dcc, html
from dash.development.base_component import Component

from collector.errors import PackhandError

from ..elements import aside, sentence, title
from ..shell import Place
from ..store import Store

PATH: Final = "/begin"
TITLE: Final = "Begin"
GROUP: Final = "Kit"

OPENING: Final = "Four ways to begin; none needs the internet."
#: A page that builds asks again this often. [ms]
WAIT_MS: Final = 800


def layout(store: Store, place: Place) -> Component:  # noqa: ARG001 - the page has one place
    return html.Div([
        title(TITLE), sentence(OPENING),
        html.Ol([
            _way("Rehearse", "No hardware yet? An invented season of an invented vehicle, in a "
                 "logbook of its own: see what the pages tell before you own a log.",
                 html.Button("Rehearse", id="rehearse", type="button", className="strong"),
                 html.Div(rehearsing(store), id="rehearsing", role="status")),
            _way("Listen", "A monitor on a cable or by radio: see which ports there are, record, "
                 "or let packhand learn what nobody described.",
                 dcc.Link("Go to the Bench", href="/bench")),
            _way("Bring a file", "A table from another logger, a spreadsheet, a track: looked at "
                 "first, taken in only when you say so, and it can be taken back.",
                 dcc.Link("Choose a file", href="/bring")),
            _way("Type readings", "Only a display? Type what it shows and learn what minus, "
                 "percent and hours mean, and whether they agree.",
                 dcc.Link("Type what it shows", href="/display")),
        ], className="ways"),
        aside(["Something does not move, or the new pack is not in yet? ",
               dcc.Link("Checks", href="/checks"), " goes through it card by card."]),
        dcc.Interval(id="rehearse-wait", interval=WAIT_MS, disabled=True),
    ], className="page begin")


def register(app: Dash, store: Store) -> None:
    @app.callback(Output("rehearsing", "children"), Output("rehearse-wait", "disabled"),
                  Input("rehearse", "n_clicks"), Input("rehearse-wait", "n_intervals"),
                  prevent_initial_call=True)
    def rehearse(clicks: int | None, _: Any) -> tuple[list[Component], bool]:
        if clicks:
            begin(store)
        rehearsal = store.bench.rehearsal
        return rehearsing(store), bool(rehearsal.address or rehearsal.problem)


def _way(heading: str, words: str, *then: Component) -> Component:
    return html.Li([html.H2(heading), html.P(words), *then], className="way-in")


def begin(store: Store) -> None:
    """Start the rehearsal, or say why not."""
    try:
        store.bench.check_open()
    except PackhandError as error:
        store.bench.rehearsal.problem = str(error)
        return
    store.bench.rehearsal.begin()


def rehearsing(store: Store) -> list[Component]:
    """How far the rehearsal is, and where it is."""
    rehearsal = store.bench.rehearsal
    told: list[Component] = [html.P(rehearsal.words)] if rehearsal.words else []
    if rehearsal.address:
        told.append(html.P(html.A("Open the rehearsal", href=rehearsal.address, target="_blank")))
    return told
