"""A page that puts one question to the whole logbook: asks, shows how far it is, then draws."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass
from typing import Any, Final, Generic, TypeVar

from dash import Dash, Input, Output, State, dcc, html
from dash.development.base_component import Component

from analysis.asking.book import Asked, Book

from .elements import VERDICT, aside, teach
from .shell import Place
from .store import Store
from .workings import Worked

Found = TypeVar("Found")
#: A page that waits asks again this often. [ms]
WAIT_MS: Final = 700


@dataclass(frozen=True, slots=True)
class Question(Generic[Found]):
    """What a page asks, and how it shows the answer."""

    #: Begins the ids of the page's parts.
    name: str
    #: The question, for a place in the page (its query holds what a person chose).
    ask: Callable[[Book, Place], Asked[Found]]
    #: Answer, store and place -> what is shown.
    draw: Callable[[Found, Store, Place], list[Component]]
    #: Parts of the query that change the answer.
    choices: tuple[str, ...] = ()

    def block(self, store: Store, place: Place, between: Component | None = None) -> Component:
        """The part of a page that holds the answer, and asks again until it stands.

        ``between`` stands before the verdict and is never drawn anew: what is typed there stays.
        """
        worked = self.work(store, place)
        answer, ending = _apart(self.content(worked, store, place))
        return html.Div([
            html.Div(answer, id=f"{self.name}-answer"), between,
            html.Div(ending, id=f"{self.name}-ending"),
            dcc.Interval(id=f"{self.name}-wait", interval=WAIT_MS,
                         disabled=not worked.is_waiting),
            dcc.Store(id=f"{self.name}-query", data=place.query),
        ])

    def register(self, app: Dash, store: Store) -> None:
        """The callback that asks again."""
        name = self.name

        @app.callback(Output(f"{name}-answer", "children"), Output(f"{name}-ending", "children"),
                      Output(f"{name}-wait", "disabled"), Input(f"{name}-wait", "n_intervals"),
                      State(f"{name}-query", "data"), prevent_initial_call=True)
        def again(_: int, query: dict[str, Any]) -> tuple[list[Component], list[Component], bool]:
            place = Place(query={str(key): str(value) for key, value in query.items()})
            worked = self.work(store, place)
            return *_apart(self.content(worked, store, place)), not worked.is_waiting

    def work(self, store: Store, place: Place) -> Worked[Found]:
        """The answer as far as it is known."""
        key: Hashable = (self.name, *(place.query.get(choice, "") for choice in self.choices))
        return store.workings.ask(key, lambda book: self.ask(book, place))

    def content(self, worked: Worked[Found], store: Store, place: Place) -> list[Component]:
        """The answer, or how far it is, or why there is none."""
        if worked.answer is None:
            if worked.lacks_logs:
                return [no_log()]
            return [teach(worked.problem or reading_words(worked))]
        told = self.draw(worked.answer, store, place)
        if worked.is_waiting:
            told = [aside(f"The logbook has changed. {reading_words(worked)}"), *told]
        if worked.left_out:
            told.append(_left_out(worked.left_out))
        return told


def _apart(shown: list[Component]) -> tuple[list[Component], list[Component]]:
    """What stands before the verdict; the verdict and what follows it."""
    at = next((n for n, part in enumerate(shown)
               if getattr(part, "className", "") == VERDICT), len(shown))
    return shown[:at], shown[at:]


def no_log() -> Component:
    """What a page says that needs a log, and how to come by one."""
    return teach(["There is no log yet. Record one on the ", dcc.Link("Bench", href="/bench"),
                  ", or take one in under ", dcc.Link("Bring a file", href="/bring"), "."])


def reading_words(worked: Worked[Any]) -> str:
    """How far the reading of the logbook has come."""
    if worked.to_do:
        return f"Reading the logbook: log {worked.done} of {worked.to_do}."
    return "Reading the logbook."


def _left_out(lines: tuple[str, ...]) -> Component:
    return html.Details([html.Summary(f"Left out: {len(lines)}"),
                         html.Ul([html.Li(line) for line in lines])], className="why")
