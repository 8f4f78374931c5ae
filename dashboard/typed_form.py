"""Forms that ``assets/diary.js`` sends as they are typed: fields, a button, what came of it."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Final, Literal, cast

from dash import html
from dash.development.base_component import Component

from .markup import data

LOST: Final = "Not kept: the pages do not answer. Is packhand still running?"
#: What a question that nobody answered is called.
NOT_SAID: Final = "not said"
#: The longest words taken for one field.
FIELD_MAX: Final = 200


def one_line(words: str) -> str:
    """What was typed, on one line, without what no pen can write."""
    return "".join(c for c in " ".join(words.split()) if c.isprintable())[:FIELD_MAX]


def sent_form(inside: Sequence[Component | None], button: Component, sent: Mapping[str, str],
              route: str, then: str) -> Component:
    """A form with its button and the line that tells what came of it.

    Parameters
    ----------
    sent
        What goes with the fields.
    route, then
        Where it is sent, and where one goes when it was kept.
    """
    return html.Form([*inside, button, html.P("", className="told", role="status")],
                     **data(notes=json.dumps(dict(sent)), path=route, then=then, lost=LOST))


def chosen_field(label: str, key: str, chosen: str, choices: Mapping[str, str],
                 hint: str = "") -> Component:
    """One word of several, each as it is told; or none."""
    options = [html.Option(told, value=word, selected=word == chosen)
               for word, told in {"": NOT_SAID, **choices}.items()]
    return html.Label([*_labelled(label, hint), html.Select(options, name=key)])


def typed_field(label: str, key: str, words: str, *, is_text: bool = False,
                hint: str = "") -> Component:
    """One line to type; the hint says where to find what is asked for."""
    mode = cast(Literal["text"], "text" if is_text else "decimal")
    return html.Label([
        *_labelled(label, hint),
        html.Textarea(words, name=key, rows=1, maxLength=FIELD_MAX, className="field",
                      inputMode=mode)])


def _labelled(label: str, hint: str) -> list[Component | str]:
    return [label, html.Span(f" {hint}", className="small")] if hint else [label]
