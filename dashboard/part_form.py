"""The form of one part, as the label says it; rare fields last and folded."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from dash import html
from dash.development.base_component import Component

from .part_fields import FORMS, PartField
from .typed_form import chosen_field, sent_form, typed_field

#: Where the forms are sent, and where one goes when they were kept.
ROUTE: Final = "/parts/list"
THEN: Final = "/parts"


def part_form(kind: str, at: int | None, typed: Mapping[str, Any],
              cables: Sequence[str]) -> Component:
    """Fields with what is known, and the buttons that keep the part or take it off the list.

    Parameters
    ----------
    at
        The part's place among those of its kind; ``None`` for a new one.
    typed
        By key; empty for a new part.
    cables
        Names of the cables that can be protected.
    """
    sent = {"part": kind, "at": "" if at is None else str(at), "was": str(typed.get("name", ""))
            if at is not None else ""}
    fields = [(field.is_rare, _field(field, typed.get(field.key), cables))
              for field in FORMS[kind].fields]
    rare = [shown for is_rare, shown in fields if is_rare and shown]
    return html.Div([
        sent_form([
            html.Div([shown for is_rare, shown in fields if shown and not is_rare],
                     className="part-fields"),
            html.Details([html.Summary("More that a label may say"),
                          html.Div(rare, className="part-fields")],
                         className="why") if rare else None,
        ], html.Button("Keep it", className="strong"), sent, ROUTE, THEN),
        sent_form([], html.Button("Take it off the list"), sent | {"strike": "yes"}, ROUTE, THEN)
        if at is not None else None,
    ], className="part-form")


def _field(field: PartField, value: Any, cables: Sequence[str]) -> Component | None:
    if field.kind == "cable" and not cables:
        return None
    chosen = {"yes or no": ("yes", "no"), "cable": tuple(cables)}.get(field.kind, field.options)
    words = _words(value)
    if chosen:
        return chosen_field(field.label, field.key, words, dict(zip(chosen, chosen, strict=True)))
    return typed_field(field.label, field.key, words, is_text=field.kind == "text")


def _words(value: Any) -> str:
    """A typed value as it was typed."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:.12g}" if isinstance(value, int | float) else str(value or "")
