"""Bench: ports, recording, learning an unknown monitor, proof of the sign, corrections."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final

from dash import ALL, Dash, Input, Output, State, ctx, dcc, html, no_update
from dash.development.base_component import Component

from analysis.phrases import press_words
from collector.errors import PackhandError

from ..bench.command import ask_command
from ..bench.correcting import CORRECTED
from ..bench.learning import BAUDS, baud_of
from ..bench.listening import monitors_of
from ..elements import aside, caution, section, sentence, table, teach, title, verdict
from ..quantities import scale
from ..shell import Place
from ..store import Store
from ..wording import capital

PATH: Final = "/bench"
TITLE: Final = "Bench"
GROUP: Final = "Kit"

#: The page asks this often how listening and learning go. [ms]
TICK_MS: Final = 1500
#: Seconds that a search for Bluetooth takes.
RADIO_S: Final = 4


def layout(store: Store, place: Place) -> Component:  # noqa: ARG001 - the page has one place
    if not store.bench.is_open:
        return html.Div([title(TITLE), teach("The bench is at the machine itself only: start the "
                                             "pages without --lan.")], className="page")
    return html.Div([
        title(TITLE), sentence(opening(store)),
        section("Ports", html.Button("Look for ports", id="look", type="button"),
                html.Div(id="ports", role="status")),
        section("Record", _clock(store), _record(store), html.Div(recording(store), id="recording",
                                                   role="status")),
        section("Learn an unknown monitor", _learn(store), html.Div(lesson(store), id="lesson",
                                                               role="status")),
        section("Corrections", html.Div(standing(store), id="standing"), _correct(),
                html.Div(id="corrected", role="status")),
        section("What minus means", sign(store)),
        dcc.Interval(id="bench-tick", interval=TICK_MS),
    ], className="page bench")


def opening(store: Store) -> str:
    """Whether something is being heard."""
    if store.bench.listening.is_on:
        return "A recording runs, begun here."
    if store.bench.learning.look().is_on:
        return "An unknown monitor is being learned."
    return "Nothing is being heard. Which port is the monitor on?"


def register(app: Dash, store: Store) -> None:
    @app.callback(Output("ports", "children"), Input("look", "n_clicks"),
                  prevent_initial_call=True)
    def look(_: int) -> list[Component]:
        return told(store, lambda: ports(ask_command("ports", f"--seconds={RADIO_S}")))

    @app.callback(Output("recording", "children"), Output("lesson", "children"),
                  Input("bench-tick", "n_intervals"), prevent_initial_call=True)
    def tick(_: int) -> tuple[list[Component], list[Component]]:
        return recording(store), lesson(store)

    _register_record(app, store)
    _register_learn(app, store)

    @app.callback(Output("corrected", "children"), Output("standing", "children"),
                  Input({"correct": ALL, "accept": ALL}, "n_clicks"),
                  Input({"take-back": ALL}, "n_clicks"), prevent_initial_call=True)
    def correct(*_: Any) -> Any:
        if not ctx.triggered[0]["value"]:  # a button that has just been put on the page
            return no_update, no_update
        return told(store, lambda: corrected(store, ctx.triggered_id)), standing(store)


def _register_record(app: Dash, store: Store) -> None:
    listening = store.bench.listening

    @app.callback(Output("recording", "children", allow_duplicate=True),
                  Input("record-start", "n_clicks"), State("record-monitor", "value"),
                  State("record-port", "value"), prevent_initial_call=True)
    def start(_: int, monitor: str, port: str | None) -> list[Component]:
        return told(store, lambda: [html.P(listening.start(str(monitor), port or ""))])

    @app.callback(Output("recording", "children", allow_duplicate=True),
                  Input("record-stop", "n_clicks"), prevent_initial_call=True)
    def stop(_: int) -> list[Component]:
        return told(store, lambda: [html.P(listening.stop())])


def _register_learn(app: Dash, store: Store) -> None:
    learning = store.bench.learning

    @app.callback(Output("learn-told", "children"), Input("learn-start", "n_clicks"),
                  State("learn-port", "value"), State("learn-baud", "value"),
                  prevent_initial_call=True)
    def start(_: int, port: str | None, baud: str | None) -> list[Component]:
        return told(store, lambda: [html.P(learning.start(port or "", baud_of(baud or "")))])

    @app.callback(Output("learn-told", "children", allow_duplicate=True),
                  Output("lesson", "children", allow_duplicate=True),
                  Input("learn-add", "n_clicks"), State("learn-volts", "value"),
                  State("learn-amps", "value"), State("learn-percent", "value"),
                  State("learn-degrees", "value"), prevent_initial_call=True)
    def add(_: int, *typed: str | None) -> tuple[list[Component], list[Component]]:
        words = told(store, lambda: [html.P(learning.add(
            [text or "" for text in typed], is_fahrenheit=store.units.temperature == "F"))])
        return words, lesson(store)

    @app.callback(Output("learn-told", "children", allow_duplicate=True),
                  Input("learn-keep", "n_clicks"), State("learn-name", "value"),
                  prevent_initial_call=True)
    def keep(_: int, name: str | None) -> list[Component]:
        return told(store, lambda: [html.P(learning.keep(name or ""))])


def told(store: Store, act: Callable[[], list[Component]]) -> list[Component]:
    """What an act says; a failure of the world in its own words."""
    try:
        store.bench.check_open()
        return act()
    except PackhandError as error:
        return [html.P(str(error))]


def ports(found: dict[str, Any]) -> list[Component]:
    """What can be listened to."""
    rows = [(port["port"], " ".join(filter(None, (port["title"], port["remedy"]))))
            for port in found["ports"]]
    rows += [(device["address"], f"{device['name'] or 'without a name'}, {device['rssi_dbm']} dBm")
             for device in found["bluetooth"]]
    if not rows:
        return [html.P("No port was found. Plug the adapter in and look again; a charging cable "
                       "without data lines shows nothing."), html.P(found["bluetooth_problem"])]
    return [table("Type one of these as the port", ("Port", "What it is"), rows),
            html.P(found["bluetooth_problem"])]


def _record(store: Store) -> Component:
    names = monitors_of(store.bench.root)
    return html.Div([
        html.Label(["Monitor", _typed("record-monitor", names)]),
        html.Label(["Port, such as /dev/ttyUSB0 or COM3", _typed("record-port")]),
        html.Button("Record", id="record-start", type="button", className="strong"),
        html.Button("Stop", id="record-stop", type="button"),
    ], className="chooser")


def _clock(store: Store) -> Component | None:
    """Whether the computer's clock can be right: what is recorded is dated by it."""
    doubt = store.bench.clock_doubt()
    return caution(f"{capital(doubt)}.") if doubt else None


def recording(store: Store) -> list[Component]:
    """Whether the recording begun here runs, or what became of it."""
    listening = store.bench.listening
    if listening.is_on:
        return [html.P(["Recording. ", dcc.Link("Now", href="/"), " shows what is heard."])]
    return [html.P(listening.told)] if listening.told else []


def _learn(store: Store) -> Component:
    return html.Div([
        aside("It only listens. Type what the display shows: once at rest, once while you "
              f"{press_words(store.vehicle_kind)}, once on the charger; three states tell more "
              "than ten readings in one. Leave open what it does not show."),
        caution("Whoever drives does not read the display: be two."),
        html.Div([
            html.Label(["Port", _typed("learn-port")]),
            html.Label(["Speed of the line, in baud", _typed("learn-baud", {
                str(baud): "" for baud in BAUDS}, str(BAUDS[0]))]),
            html.Button("Listen", id="learn-start", type="button"),
        ], className="chooser"),
        html.Div([
            html.Label(["Volts", _typed("learn-volts")]),
            html.Label(["Amps, with their sign", _typed("learn-amps")]),
            html.Label(["Percent", _typed("learn-percent")]),
            html.Label([f"Temperature, {scale('°C', store.units).unit}",
                        _typed("learn-degrees")]),
            html.Button("That is what it shows", id="learn-add", type="button",
                        className="strong"),
        ], className="chooser"),
        html.Div(id="learn-told", role="status"),
        html.Div([
            html.Label(["Name for it, such as shed-cart", _typed("learn-name")]),
            html.Button("Keep the description", id="learn-keep", type="button"),
        ], className="chooser"),
    ])


def _typed(identity: str, offered: Mapping[str, str] | None = None, value: str = "") -> Component:
    """A field to type in, with what may stand in it offered by the browser."""
    field = dcc.Input(id=identity, type="text", className="field", autoComplete="off", value=value,
                      list=f"{identity}-offered" if offered else "")
    if not offered:
        return field
    return html.Div([field, html.Datalist(
        [html.Option(words, value=name) for name, words in offered.items()],
        id=f"{identity}-offered")])


def lesson(store: Store) -> list[Component]:
    """What the learner knows by now, a line for each figure."""
    found = store.bench.learning.look()
    if not found.is_on:
        return []
    count = f"{found.readings} reading" + ("" if found.readings == 1 else "s")
    heard = f"{found.heard_bytes:,} bytes heard, {count} typed."
    return [html.P(f"{heard} {found.problem}"), html.Ul([html.Li(line) for line in found.lines],
                                                        className="plain")]


def sign(store: Store) -> Component:
    """The seconds that prove which way the amps of the newest drive flow; of the newest log while
    the logbook is still being read."""
    logs = store.logs()
    read = [(entry, summary) for entry, summary in logs if summary and not summary.problem]
    drives = [entry for entry, summary in read if summary.kind == "drive"]
    newest = next(iter(drives or [entry for entry, _ in read or logs]), None)
    if newest is None:
        return verdict("cannot tell yet", "There is no log yet.",
                       f"record, and {press_words(store.vehicle_kind)} once; that is proof enough")
    try:
        found = store.summary(newest.stem).sign
    except PackhandError as error:
        return html.P(str(error))
    told = (verdict("cannot tell yet", found.words)
            if found.convention == "undecided" else verdict("yes", f"It is settled. {found.words}"))
    which = "the newest drive" if drives else "the newest log"
    return html.Div([html.P(["By ", dcc.Link(which, href=f"/drives/{newest.stem}"), ":"]), told])


def _correct() -> Component:
    return html.Div([button for what, (by, _) in CORRECTED.items() for button in (
        html.Button(f"Hold the {what} against the {by}", type="button",
                    id={"correct": what, "accept": ""}),
        html.Button(f"Lay the correction over the {what}", type="button",
                    id={"correct": what, "accept": "yes"}))], className="chooser")


def standing(store: Store) -> list[Component]:
    """The corrections that stand, each with a button that takes it back."""
    try:
        found = store.bench.correcting.standing()
    except PackhandError as error:
        return [html.P(str(error))]
    if not found:
        return [html.P("No correction stands: figures are as the monitor told them.")]
    return [html.Ul([html.Li([
        words, " ", html.Button(["Take it back", html.Span(f": {words}", className="unseen")],
                                type="button", id={"take-back": number_of})])
        for number_of, words in found.items()], className="plain")]


def corrected(store: Store, pressed: Mapping[str, Any]) -> list[Component]:
    """What the pairs of readings say, the correction laid over the figures, or taken back."""
    if "take-back" in pressed:
        return [html.P(store.bench.correcting.take_back(int(pressed["take-back"])))]
    found = store.bench.correcting.propose(pressed["correct"], accept=pressed["accept"] == "yes")
    check, correction = found.get("check") or {}, found.get("correction")
    open_ = f"Cannot tell yet: {check.get('reason', '')}; {check.get('next', '')}."
    words = f"{check['words']}." if check.get("words") else open_
    if correction and pressed["accept"] == "yes":
        words += " It is laid over the figures; the logs stay as they are."
    return [html.P(words)]
