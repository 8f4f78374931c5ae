"""Papers: what can be handed over about the pack, each opened, downloaded or printed from here."""

from __future__ import annotations

from tempfile import TemporaryFile
from typing import Final
from urllib.parse import urlencode

from dash import Dash, dcc, html
from dash.development.base_component import Component
from flask import Response, abort, request, send_file

from analysis.asking.book import Asked, Book
from analysis.asking.evidence import Evidence, ask_evidence, period_of
from analysis.estimate import NoEstimate
from analysis.phrases import day_text
from collector.errors import LogbookError

from ..chooser import Chooser, Field, typed_number
from ..elements import aside, section, sentence, table, title, verdict
from ..guard import refuse_other_sites
from ..papers.as_html import POLICY
from ..papers.bundle import write_bundle
from ..papers.kinds import FORMS, KINDS
from ..papers.reminders import LAY_UP_PCT, as_calendar, reminders
from ..papers.told import capacity_sentence
from ..quantities import NBSP, Units, number, unbroken
from ..question_page import Question
from ..shell import Place
from ..store import Store

PATH: Final = "/papers"
TITLE: Final = "Papers"
GROUP: Final = "Papers"

CHOSEN: Final = ("from", "to", "log")
CHOOSER: Final = Chooser("papers", (
    Field("from", "First day, if not all", "date"), Field("to", "Last day, if not all", "date"),
    Field("log", "Log to draw, if not the last drive")), "Take these days")
CALENDAR: Final = "reminders.ics"
_MIME: Final = {".html": "text/html; charset=utf-8", ".pdf": "application/pdf",
                ".ics": "text/calendar; charset=utf-8"}
#: A paper together with the logs that it stands on.
BUNDLE: Final = ".zip"
#: Every document by its name in an address, with the kind of paper it is.
DOCUMENTS: Final = {f"{kind}{form}": kind for kind in KINDS for form in (*FORMS, BUNDLE)}


def ask(book: Book, place: Place) -> Asked[Evidence]:
    """Raises ``LogbookError`` if a day cannot be read."""
    try:
        period = period_of(*(place.query.get(name, "") for name in CHOSEN))
    except ValueError as error:
        raise LogbookError("The days", "not written as 2026-10-27", "type them so") from error
    return ask_evidence(book, period)


def draw(found: Evidence, _: Store, place: Place) -> list[Component]:
    now = found.season.capacity_now
    query = _query(place)
    return [
        sentence(f"{len(KINDS)} papers stand ready, from {_logs_words(found)}."),
        aside(capacity_sentence(found)),
        table("Each says how it was measured, with intervals, and what was not measured",
              ("Paper", "For whom", "As a page", "As a file", "With its logs"), [
                  (kind.title, kind.words, _open(name, kind.title, query),
                   _download(f"{name}.pdf", "PDF", kind.title, query),
                   _download(f"{name}{BUNDLE}", "Zip", f"{kind.title} with its logs", query))
                  for name, kind in KINDS.items()]),
        section("Reminders", html.P([
            "A full charge each week, joints each quarter, a clamp reading twice a year, the day "
            "to top up a laid-up pack: ",
            _download(CALENDAR, "Take them into a calendar", "", query)])),
        section("The evidence behind", aside([
            f"Each paper lists its {len(found.logs)} logs with their SHA-256. With its logs it is "
            f"one zip of about {_megabytes(found)}: the logs as they are and what you typed, "
            "places and names too. For strangers, ", dcc.Link("Share", href="/share"),
            " makes a copy without them."])),
        verdict("cannot tell yet", f"These logs do not tell what the pack holds: {now.reason}.",
                now.next)
        if isinstance(now, NoEstimate) else
        verdict("yes", f"These logs tell what the pack holds. {unbroken(found.season.fade.words)}",
                "test again in three months, by the same meter"),
    ]


QUESTION: Final = Question("papers", ask, draw, CHOSEN)


def layout(store: Store, place: Place) -> Component:
    return html.Div([title(TITLE), QUESTION.block(store, place, section(
        "Other days, or another log", CHOOSER.block(place)))], className="page papers")


def register(app: Dash, store: Store) -> None:
    QUESTION.register(app, store)
    CHOOSER.register(app)

    def document(name: str) -> Response:
        return send_document(store, name)

    app.server.add_url_rule("/papers/<name>", "document", document)


def send_document(store: Store, name: str) -> Response:
    """A paper or the calendar; any other name is none."""
    refuse_other_sites()
    if name not in DOCUMENTS and name != CALENDAR:
        abort(404)
    place = Place(query=request.args.to_dict())
    worked = QUESTION.work(store, place)
    if worked.answer is None:
        told = worked.problem or "Reading the logbook; try again in a moment."
        return Response(told, 404 if worked.problem else 503, mimetype="text/plain")
    form = name[name.rindex("."):]
    if name == CALENDAR:
        percent = typed_number(place, "percent")
        told = as_calendar(reminders(worked.answer, 1, LAY_UP_PCT if percent is None else percent),
                           worked.answer)
        return _file(told.encode(), form, name)
    if form == BUNDLE:
        return _bundle(worked.answer, name, store.units)
    return _file(FORMS[form](KINDS[DOCUMENTS[name]].make(worked.answer, store.units)), form, name)


def _bundle(found: Evidence, name: str, units: Units) -> Response:
    """The paper with its logs, from a file that goes when it is sent."""
    kind, file = DOCUMENTS[name], TemporaryFile()  # noqa: SIM115 - the server closes it
    try:
        write_bundle(file, kind, KINDS[kind].make(found, units), found)
    except OSError:
        file.close()
        return Response("A log has changed meanwhile; try again in a moment.", 503,
                        mimetype="text/plain")
    file.seek(0)
    return send_file(file, "application/zip", as_attachment=True, download_name=f"packhand-{name}")


def _logs_words(found: Evidence) -> str:
    """``544 logs between 2 April 2026 and 26 October 2026``."""
    first, last = day_text(found.season.start_s), day_text(found.season.end_s)
    count = f"{len(found.logs)} log" + ("" if len(found.logs) == 1 else "s")
    return f"{count} of {first}" if first == last else f"{count} between {first} and {last}"


def _megabytes(found: Evidence) -> str:
    size = sum(path.stat().st_size for path in found.files().values() if path.is_file())
    return f"{number(size / 1e6, 0 if size > 1e7 else 1)}{NBSP}MB"


def _file(data: bytes, form: str, name: str) -> Response:
    response = Response(data, content_type=_MIME[form])
    if form == ".html":
        response.headers["Content-Security-Policy"] = POLICY
    else:
        response.headers["Content-Disposition"] = f'attachment; filename="packhand-{name}"'
    return response


def _query(place: Place) -> str:
    chosen = {name: place.query[name] for name in CHOSEN if place.query.get(name)}
    return f"?{urlencode(chosen)}" if chosen else ""


def _open(name: str, words: str, query: str) -> Component:
    return html.A(["Open", html.Span(f" {words} in a new tab", className="unseen")],
                  href=f"/papers/{name}.html{query}", target="_blank", rel="noopener",
                  className="take")


def _download(name: str, words: str, more: str, query: str) -> Component:
    return html.A([words, html.Span(f" {more}", className="unseen")], download=f"packhand-{name}",
                  href=f"/papers/{name}{query}", className="take")
