"""Labelled fields whose values become the query of the page's address.

What a person chose can so be kept as a bookmark, and the page is drawn from its address alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final, Literal, cast
from urllib.parse import urlencode

from dash import Dash, Input, Output, State, dcc, html, no_update
from dash.development.base_component import Component

from .shell import Place

Kind = Literal["number", "date", "text"]
#: Longest text taken from a field.
LENGTH_MAX: Final = 200


@dataclass(frozen=True, slots=True)
class Field:
    """One thing to choose."""

    #: Its name in the query.
    name: str
    #: With the unit: ``Percent when it is laid up``.
    label: str
    kind: Kind = "text"
    usual: str = ""
    #: Of no use here; shown all the same where it was filled in.
    is_idle: bool = False


@dataclass(frozen=True, slots=True)
class Chooser:
    """Fields and the button that takes them over."""

    #: Begins the ids.
    name: str
    fields: tuple[Field, ...]
    button: str = "Work it out"

    def block(self, place: Place) -> Component:
        """The fields, filled with what was chosen before."""
        return html.Div([
            *(self._field(field, place.query.get(field.name, field.usual))
              for field in self.fields),
            html.Button(self.button, id=f"{self.name}-go", type="button", className="strong"),
        ], className="chooser", role="group")

    def href(self, path: str, place: Place, **chosen: str) -> str:
        """The page's address with what was chosen before, but for some fields."""
        kept = {field.name: place.query[field.name] for field in self.fields
                if field.name in place.query}
        return f"{path}?{urlencode(kept | chosen)}"

    def register(self, app: Dash) -> None:
        """The callback that puts the fields into the address."""

        @app.callback(Output("place", "search", allow_duplicate=True),
                      Input(f"{self.name}-go", "n_clicks"),
                      *(State(self._id(field), "value") for field in self.fields),
                      prevent_initial_call=True)
        def choose(clicks: int | None, *values: Any) -> Any:
            if not clicks:  # a button that has just been put on the page calls, too
                return no_update
            chosen = {field.name: str(value)[:LENGTH_MAX]
                      for field, value in zip(self.fields, values, strict=True)
                      if value not in (None, "")}
            return f"?{urlencode(chosen)}" if chosen else ""

    def _id(self, field: Field) -> str:
        return f"{self.name}-{field.name}"

    def _field(self, field: Field, value: str) -> Component:
        return html.Label([field.label, dcc.Input(
            id=self._id(field), type="text", value=value, className="field",
            inputMode=cast(Any, "decimal" if field.kind == "number" else "text"),
            placeholder="2026-10-27" if field.kind == "date" else "", autoComplete="off")],
            hidden=field.is_idle and not value)


def typed_number(place: Place, name: str) -> float | None:
    """A figure of the query; a decimal comma is one too. ``None`` if there is none."""
    text = place.query.get(name, "").strip().replace(",", ".")
    try:
        value = float(text)
    except ValueError:
        return None
    return value if abs(value) < float("inf") else None
