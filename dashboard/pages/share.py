"""Share: a copy of one log for strangers; what leaves is shown before it does."""

from __future__ import annotations

import math
import random
import secrets
from datetime import datetime
from typing import Final, cast
from urllib.parse import urlencode

from dash import Dash, html
from dash.development.base_component import Component
from flask import Response, abort, request

from analysis.estimate import Verdict
from collector.errors import PackhandError

from ..chooser import typed_number
from ..elements import section, sentence, teach, title, verdict
from ..guard import refuse_other_sites
from ..quantities import NBSP
from ..question_page import no_log
from ..sharing.cleaning import Choice, PlaceChoice
from ..sharing.copy import Shared, make_copy
from ..shell import Place
from ..store import Store
from ..summaries import Summary

PATH: Final = "/share"
TITLE: Final = "Share"
GROUP: Final = "Papers"

#: Logs that can be chosen here; 'packhand share' takes any.
LISTED: Final = 40
RADIUS_M: Final = 500.0
#: What is chosen -> its label, and its values and how each is called; the first is the usual one.
CHOICES: Final = {
    "place": ("Place", {"cut": "No positions", "area": "The area, to a kilometre",
                        "shape": "The track, moved and turned",
                        "trim": "True places, none near home"}),
    "clock": ("Clock", {"true": "As it was", "shifted": "Begins on 1 January 2000"}),
    "words": ("The monitor's words", {"no": "Stay behind", "yes": "Leave too"}),
    "form": ("File", {"parquet": "For packhand", "csv": "For a spreadsheet"}),
}
#: What a choice of place may tell.
TELLING: Final = {
    "area": "the area leaves, to a kilometre",
    "shape": "the track's shape leaves, and who knows the roads can lay it over a map",
    "trim": "positions away from your usual places leave"}


def layout(store: Store, place: Place) -> Component:
    logs = {entry.stem: _log_words(entry.stem, summary)
            for entry, summary in store.logs()[:LISTED]}
    if not logs:
        return html.Div([title(TITLE), no_log()], className="page")
    chosen = place.query.get("log") or next(iter(logs))
    # The preview and the file are made with the same chance, so that the one shows the other.
    place = Place(query={**place.query, "log": chosen, "chance": secrets.token_hex()})
    try:
        shared = copy_of(store, place.query)
    except (PackhandError, OSError) as error:
        return html.Div([title(TITLE), teach(f"This log cannot be shared: {error}"),
                         _form(logs, place)], className="page")
    return html.Div([title(TITLE), *_preview(shared, place), _form({chosen: chosen} | logs, place),
                     verdict(*_ending(shared, place))], className="page")


def _log_words(stem: str, summary: Summary | None) -> str:
    """``26 Oct 2026, 17:00, charge``."""
    if summary is None or not summary.start:
        return stem
    start = datetime.fromisoformat(summary.start)
    return f"{start.day} {start:%b %Y, %H:%M}, {summary.kind}"


def copy_of(store: Store, query: dict[str, str]) -> Shared:
    """The copy as chosen; raises ``LogbookError`` if there is no such log."""
    radius = typed_number(Place(query=query), "radius")
    place = query.get("place", "")
    choice = Choice(cast(PlaceChoice, place if place in CHOICES["place"][1] else "cut"),
                    radius if radius and 0 < radius < math.inf else RADIUS_M,
                    query.get("clock") == "shifted", query.get("words") == "yes")
    form = ".csv" if query.get("form") == "csv" else ".parquet"
    chance = random.Random(query["chance"]) if query.get("chance") else None
    return make_copy(store.logbook, [query.get("log", "")], choice, form, chance)


def register(app: Dash, store: Store) -> None:
    def copy() -> Response:
        refuse_other_sites()
        try:
            data = copy_of(store, request.args.to_dict()).as_zip()
        except (PackhandError, OSError):
            abort(404)
        headers = {"Content-Disposition": 'attachment; filename="packhand-copy.zip"'}
        return Response(data, content_type="application/zip", headers=headers)

    app.server.add_url_rule("/share/copy.zip", "copy", copy)


def _preview(shared: Shared, place: Place) -> list[Component]:
    size = sum(map(len, shared.files.values())) / 1000
    kept = {name: value for name, value in place.query.items()
            if name in (*CHOICES, "log", "radius", "chance")}
    return [
        sentence(f"{len(shared.files)} file{'s' if len(shared.files) > 1 else ''} of "
                 f"{size:.0f}{NBSP}kB and one text would leave. Nothing is sent from here."),
        section("What leaves, with the text below", html.Ul(
            [html.Li(line.strip()) for line in shared.leaves if not line.startswith("about.txt")],
            className="lines")),
        section("What stays behind", html.Ul([html.Li(line) for line in shared.stays],
                                             className="lines")),
        section("The text, to paste where you ask", html.Pre(shared.text, className="letter",
                                                             tabIndex=0)),
        html.P(html.A("Download the copy", href=f"/share/copy.zip?{urlencode(kept)}",
                      download="packhand-copy.zip", className="take")),
    ]


def _ending(shared: Shared, place: Place) -> tuple[Verdict, str, str]:
    """Does it tell who and where?"""
    if place.query.get("words") == "yes":
        return ("cannot tell yet", "Whether it tells who you are: the monitor's words leave too.",
                "read the words above; a serial number may be among them")
    if shared.tells_place:
        return ("cannot tell yet", "Whether it tells where you are: "
                f"{TELLING[place.query['place']]}.", "choose no positions if you are in doubt")
    return ("no", "It does not tell who or where: no position, no name, no typed word is in it.",
            "read what leaves once more before you hand it on")


def _form(logs: dict[str, str], place: Place) -> Component:
    """A plain form: what is chosen becomes the page's address."""
    fields = [_select("log", "Log", logs, place)]
    fields += [_select(name, label, values, place) for name, (label, values) in CHOICES.items()]
    return section("Choose", html.Form([
        *fields, html.Button("Show what leaves", type="submit", className="strong")],
        action=PATH, method="GET", className="chooser"))


def _select(name: str, label: str, values: dict[str, str], place: Place) -> Component:
    chosen = place.query.get(name, "")
    return html.Label([label, html.Select(
        [html.Option(told, value=value, selected=value == chosen) for value, told in
         values.items()], name=name, className="field")])
