"""Begin: four ways in, for somebody with no hardware, a monitor, a file, or only a display."""

from __future__ import annotations

from typing import Any, Final

from dash import Dash, Input, Output, ctx, dcc, html
from dash.development.base_component import Component

from collector.errors import PackhandError

from ..elements import aside, sentence, title
from ..invented_book import FLATBED, VEHICLES
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
            _way("Rehearse", "No hardware yet? An invented vehicle, in a logbook of its own: see "
                 "what the pages tell before you own a log. Which is most like yours?",
                 html.Ul([_vehicle(name, words) for name, words in VEHICLES.items()]),
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
        aside(["Nothing has to be set up first. With the amp-hours of the pack's label under ",
               dcc.Link("Pack & limits", href="/limits"), ", hours left are told from the first "
               "drive on."]),
        dcc.Interval(id="rehearse-wait", interval=WAIT_MS, disabled=True),
    ], className="page begin")


def register(app: Dash, store: Store) -> None:
    @app.callback(Output("rehearsing", "children"), Output("rehearse-wait", "disabled"),
                  *[Input(f"rehearse-{name}", "n_clicks") for name in VEHICLES],
                  Input("rehearse-wait", "n_intervals"), prevent_initial_call=True)
    def rehearse(*_: Any) -> tuple[list[Component], bool]:
        vehicle = str(ctx.triggered_id).removeprefix("rehearse-")
        if vehicle in VEHICLES:
            begin(store, vehicle)
        return rehearsing(store), not any(r.is_busy for r in store.bench.rehearsals.values())


def _vehicle(name: str, words: str) -> Component:
    return html.Li([html.Button(f"The {name}", id=f"rehearse-{name}", type="button",
                                className="strong" if name == FLATBED else ""),
                    html.P(words, className="small")])


def _way(heading: str, words: str, *then: Component) -> Component:
    return html.Li([html.H2(heading), html.P(words), *then], className="way-in")


def begin(store: Store, vehicle: str) -> None:
    """Start a vehicle's rehearsal, or say why not."""
    rehearsal = store.bench.rehearsals[vehicle]
    try:
        store.bench.check_open()
    except PackhandError as error:
        rehearsal.problem = str(error)
        return
    rehearsal.begin()


def rehearsing(store: Store) -> list[Component]:
    """How far each rehearsal is, and where it is."""
    told: list[Component] = []
    for rehearsal in store.bench.rehearsals.values():
        if rehearsal.words:
            told.append(html.P(rehearsal.words))
        if rehearsal.address:
            told.append(html.P(html.A(f"Open the {rehearsal.vehicle}'s rehearsal",
                                      href=rehearsal.address, target="_blank")))
    return told
