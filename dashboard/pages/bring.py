"""Bring a file: choose it, see how it reads, answer what it leaves open, take it in or back."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from dash import ALL, ClientsideFunction, Dash, Input, Output, State, ctx, dcc, html, no_update
from dash.development.base_component import Component

from collector.errors import PackhandError

from ..bench.brought import ANSWERS, ENDINGS, FILE_MAX
from ..bench.desk import Desk
from ..elements import aside, section, sentence, table, title
from ..markup import aria, data
from ..shell import Place
from ..store import Store

PATH: Final = "/bring"
TITLE: Final = "Bring a file"
GROUP: Final = "Kit"

TEACH: Final = ("Choose a table that you have: from another logger, a charger, a spreadsheet, or "
                "a track.")
LOST: Final = "Not taken: the pages do not answer. Is packhand still running?"
LARGE: Final = (f"More than {FILE_MAX // 1_000_000} MB: bring it in with 'packhand import' on a "
                "command line.")
#: Rows of the preview shown.
ROWS_MAX: Final = 5


def layout(store: Store, place: Place) -> Component:  # noqa: ARG001 - the page has one place
    return html.Div([
        title(TITLE), sentence(TEACH),
        aside("It is read here, on this machine. The file itself stays as it is."),
        html.Label(["A file", html.Div(id="bring-picker", **data(lost=LOST, large=LARGE))]),
        html.P("", id="bring-told", role="status", className="told"),
        html.Div(waiting(store.bench, {}), id="bring-preview"),
        html.Div(html.Button("Take the last import back", id="bring-undo", type="button"),
                 className="bring-undo"),
        html.P("", id="bring-undone", role="status", className="told"),
        dcc.Store(id="bring-waiting"), dcc.Store(id="bring-answers", data={}),
        dcc.Store(id="bring-attached"),
        dcc.Store(id="bring-endings", data=",".join(ENDINGS)),
    ], className="page bring")


def register(app: Dash, store: Store) -> None:
    app.clientside_callback(ClientsideFunction("bring", "attach"),  # type: ignore[no-untyped-call]
                            Output("bring-attached", "data"), Input("bring-endings", "data"))

    @app.callback(Output("bring-answers", "data"), Input({"answer": ALL, "says": ALL}, "n_clicks"),
                  Input({"typed": ALL}, "value"), State("bring-answers", "data"),
                  prevent_initial_call=True)
    def answer(_: Any, __: Any, known: dict[str, str]) -> Any:
        found = answered(ctx.triggered_id, ctx.triggered[0]["value"])
        return {**known, **found} if found else no_update

    @app.callback(Output("bring-preview", "children"), Input("bring-waiting", "data"),
                  Input("bring-answers", "data"), prevent_initial_call=True)
    def show(_: Any, answers: dict[str, str]) -> list[Component]:
        return waiting(store.bench, answers)

    @app.callback(Output("bring-preview", "children", allow_duplicate=True),
                  Input("bring-in", "n_clicks"), State("bring-answers", "data"),
                  prevent_initial_call=True)
    def bring_in(clicks: int | None, answers: dict[str, str]) -> Any:
        return taken(store.bench, answers) if clicks else no_update

    @app.callback(Output("bring-undone", "children"), Input("bring-undo", "n_clicks"),
                  prevent_initial_call=True)
    def undo(_: int) -> str:
        return undone(store.bench)


def answered(part: Any, value: Any) -> dict[str, str]:
    """What was pressed or typed, by option; nothing where that is no answer."""
    if not isinstance(part, dict) or not value:
        return {}
    option = str(part.get("answer") or part.get("typed") or "")
    return {option: str(part.get("says") or value)} if option in ANSWERS else {}


def waiting(bench: Desk, answers: Mapping[str, str]) -> list[Component]:
    """How the file that waits would read, or nothing."""
    name = bench.brought.waiting()
    if not name:
        return []
    try:
        bench.check_open()
        logs = bench.brought.preview(answers)["logs"]
    except PackhandError as error:
        return [section(name, html.P(str(error)))]
    first = logs[0]
    open_now = [doubt for doubt in first["doubts"] if doubt["must_ask"]]
    return [section(
        f"How {name} reads",
        aside(_counted(logs)),
        html.Ul([html.Li(words) for words in first["words"]], className="plain"),
        _first_rows(first["preview"]),
        aside(_sign(first["sign"])),
        *(_doubt(doubt, answers) for doubt in first["doubts"]),
        html.P("Answer this first; a wrong month would be silent." if open_now else
               "It becomes a log of its own and can be taken back."),
        html.Button("Take it in", id="bring-in", type="button", className="strong",
                    disabled=bool(open_now)))]


def _counted(logs: list[dict[str, Any]]) -> str:
    rows = sum(log["rows"] for log in logs)
    runs = f" in {len(logs)} runs, each a log" if len(logs) > 1 else ""
    left = sum(sum(log["dropped"]["rows"].values()) for log in logs)
    return f"{rows:,} rows{runs}; {left:,} rows left out."


def _sign(sign: Mapping[str, Any]) -> str:
    return str(sign.get("words") or "Which way minus flows cannot be told from this file.")


def _first_rows(rows: list[dict[str, Any]]) -> Component | None:
    if not rows:
        return None
    heads = list(rows[0])
    return table("The first rows as they would be kept", heads,
                 [[_shown(row[head]) for head in heads] for row in rows[:ROWS_MAX]])


def _shown(value: object) -> str:
    return f"{value:.6g}" if isinstance(value, float) else "" if value is None else str(value)


def _doubt(doubt: Mapping[str, Any], answers: Mapping[str, str]) -> Component:
    """A question with its answers, or a field where they are no short list."""
    option = str(doubt["option"]).removeprefix("--").partition(" ")[0]
    if option not in ANSWERS:
        return html.P(f"{doubt['question']} Taken: {doubt['taken']}.")
    chosen = answers.get(option) or (None if doubt["must_ask"] else doubt["taken"])
    if doubt["choices"]:
        return html.Fieldset([html.Legend(doubt["question"]), *(
            html.Button(choice.replace("-", " "), type="button",
                        id={"answer": option, "says": choice},
                        **aria(pressed="true" if choice == chosen else "false"))
            for choice in doubt["choices"])], className="doubt")
    return html.Label([doubt["question"], dcc.Input(
        id={"typed": option}, type="text", value=answers.get(option, ""), debounce=True,
        placeholder=str(doubt["taken"]), className="field")])


def taken(bench: Desk, answers: Mapping[str, str]) -> list[Component]:
    """Takes the waiting file in and says what became of it."""
    try:
        bench.check_open()
        logs = bench.brought.bring_in(answers)["logs"]
    except PackhandError as error:
        return [html.P(str(error), role="status")]
    stems = [log["log"].rpartition("/")[2].removesuffix(".parquet") for log in logs]
    return [html.P(f"{_logs(len(stems))} {'was' if len(stems) == 1 else 'were'} made:",
                   role="status"),
            html.Ul([html.Li(dcc.Link(stem, href=f"/drives/{stem}")) for stem in stems[:20]])]


def undone(bench: Desk) -> str:
    """Takes the last import back and says so."""
    try:
        bench.check_open()
        found = bench.brought.undo()
    except PackhandError as error:
        return str(error)
    return f"Taken back: {', '.join(found['files'])}; {_logs(len(found['undone']))} removed."


def _logs(count: int) -> str:
    return f"{count} log" + ("" if count == 1 else "s")
