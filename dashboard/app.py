"""The application: pages, callbacks, the route for moments, the guard.

A page is added by one module in ``pages/`` and one line in ``PAGES``.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from functools import partial
from pathlib import Path
from typing import Final, cast

from dash import ClientsideFunction, Dash, Input, Output
from dash.development.base_component import Component
from flask import Response, abort, jsonify, request

from analysis.local_days import tell_days_in
from collector.errors import PackhandError

from . import part_form
from .bench.brought import FILE_MAX
from .door import Door
from .guard import hide_folder, protect
from .moments import block
from .pages import (
    begin,
    bench,
    bring,
    cells,
    checks,
    claims,
    compare,
    diary,
    display,
    drive,
    drives,
    fills,
    guide,
    joints,
    limits,
    now,
    papers,
    parked,
    parts,
    reach,
    seasons,
    share,
)
from .server import LOOPBACK, open_server
from .shell import DOCUMENT, Page, find_page, frame, menu, no_such_page
from .store import Store

#: Every page, in the order of the menu.
PAGES: Final = cast("tuple[Page, ...]", (
    now, guide, display, drives, drive, diary,
    fills, cells, seasons, joints, parked,
    reach, claims, compare,
    begin, checks, parts, limits, bench, bring,
    papers, share,
))


#: Requests that have sentences told; the others are files and figures.
TELLING: Final = ("/_dash-update-component", "/papers/")


def create_app(store: Store, host: str = "", door: Door | None = None) -> Dash:
    """The dashboard of one logbook, guarded, offline; ``host`` and ``door`` as in ``protect``."""
    # What the environment could switch on behind our back is said here, whatever the default.
    app = Dash(
        "packhand", assets_folder=str(Path(__file__).parent / "assets"), title="packhand",
        assets_ignore=r"theme-first\.js", serve_locally=True, update_title="",
        suppress_callback_exceptions=True, index_string=DOCUMENT, compress=False,
        enable_mcp=False, use_pages=False, use_async=False, include_pages_meta=False,
        assets_external_path="", url_base_pathname="/",
        meta_tags=[{"name": "viewport", "content": "width=device-width, initial-scale=1"},
                   {"name": "color-scheme", "content": "light dark"}])
    store.bench.is_open = door is None
    for rehearsal in store.bench.rehearsals.values():
        rehearsal.serve = serve_beside
    app.layout = frame(store.units, is_invented=store.is_invented)
    _register_shell(app, store)
    for page in PAGES:
        page.register(app, store)
    _register_moments(app, store)
    _register_forms(app, store)
    _register_files(app, store)
    app.server.before_request(lambda: tell_days(store))
    app.server.add_url_rule("/now.json", "now", lambda: jsonify(now.texts(store.look())))
    if door:
        hide_folder(app.server, store.logbook.root)
    protect(app, host, door)
    return app


def tell_days(store: Store) -> None:
    """Days are told where the logs were recorded, in all that a request has said."""
    if request.path.startswith(TELLING):
        tell_days_in(store.logbook.time_zone())


def serve_beside(root: Path, port: int = 0) -> str:
    """Serve another logbook's pages until the program ends; gives their address."""
    store = Store.at(root)
    server = open_server(create_app(store), port)
    store.begin_reading()
    threading.Thread(target=server.run, daemon=True).start()
    return f"http://{LOOPBACK}:{server.effective_port}/"


def _register_shell(app: Dash, store: Store) -> None:
    @app.callback(Output("page", "children"), Output("menu", "children"),
                  Output("page-title", "data"),
                  Input("place", "pathname"), Input("place", "search"))
    def show(path: str | None, search: str | None) -> tuple[Component, list[Component], str]:
        return open_page(store, path or "/", search or "")

    app.clientside_callback(ClientsideFunction("shell", "entitle"),  # type: ignore[no-untyped-call]
                            Output("page-titled", "data"), Input("page-title", "data"))


def open_page(store: Store, path: str, search: str) -> tuple[Component, list[Component], str]:
    """Content, menu and title of an address."""
    found = find_page(PAGES, path, search)
    if found is None:
        return no_such_page(), menu(PAGES, None), "packhand"
    page, place = found
    return page.layout(store, place), menu(PAGES, page), f"{page.TITLE} · packhand"


def _register_moments(app: Dash, store: Store) -> None:
    def moments(stem: str) -> Response:
        asked = request.args
        try:
            recording = store.recording(stem)
        except (PackhandError, OSError):
            abort(404)
        try:
            found = block(recording, float(asked["from"]), float(asked["step"]),
                          int(asked["count"]))
        except (KeyError, ValueError):
            abort(400)
        return jsonify(found)

    app.server.add_url_rule("/moments/<stem>", view_func=moments)


def _register_forms(app: Dash, store: Store) -> None:
    """What ``assets/diary.js`` sends: kept and told, or not kept and told why."""
    takers: dict[str, Callable[[Mapping[str, str]], str]] = {
        "/notes": lambda form: store.diary.keep(form, store.units),
        part_form.ROUTE: store.parts.take,
        limits.ROUTE: lambda form: store.labels.take(form, store.units)}

    def kept(take: Callable[[Mapping[str, str]], str]) -> tuple[Response, int]:
        try:
            words, code = take(request.form.to_dict()), 200
        except PackhandError as error:
            words, code = str(error), 422
        return jsonify({"words": words}), code

    for route, take in takers.items():
        app.server.add_url_rule(route, route, partial(kept, take), methods=["POST"])


def _register_files(app: Dash, store: Store) -> None:
    def brought() -> tuple[Response, int]:
        request.max_content_length = FILE_MAX
        try:
            store.bench.check_open()
            name = store.bench.brought.take(request.args.get("name", ""), request.stream)
            words, code = f"{name} is here.", 200
        except PackhandError as error:
            words, code = str(error), 422
        return jsonify({"words": words}), code

    app.server.add_url_rule("/brought", view_func=brought, methods=["PUT"])
