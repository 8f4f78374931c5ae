"""Who may ask the pages, and what the pages may do.

The server listens on this machine only, unless its person opens it to the home network behind a
PIN. Even so, any web page open in the browser could try to reach it: by another name that resolves
to this machine (answered 400), or by a request sent from there (answered 403). What the pages
themselves may load or send is held by a content policy: nothing from outside, no script that is
not ours.
"""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from dash import Dash
from flask import Flask, Response, abort, request

from .door import Door

HOSTS: Final = ("127.0.0.1", "localhost")
#: The largest request body; the pages send a few hundred bytes. [bytes]
BODY_MAX: Final = 200_000
_READING: Final = ("GET", "HEAD", "OPTIONS")

_HEADERS: Final = {
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "X-Frame-Options": "DENY",
}


def protect(app: Dash, host: str = "", door: Door | None = None) -> None:
    """Guard every route of an app. Call it after the last callback is registered.

    Parameters
    ----------
    host
        An address of the home network that may be asked, besides this machine's own names.
    door
        Whom to ask for the PIN first.
    """
    server: Flask = app.server
    hosts = [*HOSTS, host] if host else list(HOSTS)
    server.config.update(TRUSTED_HOSTS=hosts, MAX_CONTENT_LENGTH=BODY_MAX)
    policy = content_policy(app.csp_hashes())
    server.before_request(refuse_foreign)
    if door:
        door.protect(server)

    @server.after_request
    def add_headers(response: Response) -> Response:
        for name, value in (_HEADERS | {"Content-Security-Policy": policy}).items():
            response.headers.setdefault(name, value)
        return response


def refuse_foreign() -> None:
    """End a request that changes something, or is large, unless this site sent it itself.

    A local program that names no origin is let through: it could read the files anyway.
    """
    _ = request.host_url  # raises for another host, before any other answer is made
    if (request.content_length or 0) > BODY_MAX:
        abort(413)
    if request.method not in _READING:
        refuse_other_sites()


def refuse_other_sites() -> None:
    """End a request that another site had this browser send; files made for a person ask so."""
    own = request.host_url.rstrip("/")
    site, origin = request.headers.get("Sec-Fetch-Site"), request.headers.get("Origin")
    if site not in (None, "same-origin", "none") or origin not in (None, own):
        abort(403)


def hide_folder(server: Flask, root: Path) -> None:
    """Name files within the logbook only, where others on the network read along.

    Errors name a file with its whole path, which tells whose machine it is and where on it.
    """
    swaps = [swap for folder in (root.absolute(), root) if len(folder.parts) > 1
             for words, instead in ((f"{folder}{os.sep}", ""), (str(folder), folder.name))
             for swap in zip(_spelled(words), _spelled(instead), strict=True)]

    @server.after_request
    def hide(response: Response) -> Response:
        if response.mimetype in ("application/json", "text/plain"):
            told = response.get_data()
            for words, instead in swaps:
                told = told.replace(words, instead)
            response.set_data(told)
        return response


def _spelled(text: str) -> list[bytes]:
    """A text as it stands in plain words, and in JSON as Flask and as Dash write it."""
    told = [text, *(json.dumps(text, ensure_ascii=is_ascii)[1:-1] for is_ascii in (True, False))]
    escaped = [words.replace("/", r"\u002f").replace("<", r"\u003c").replace(">", r"\u003e")
               for words in told]
    return [words.encode() for words in (*told, *escaped)]


def content_policy(script_hashes: Sequence[str]) -> str:
    """The content policy with the hashes of Dash's own inline scripts."""
    scripts = " ".join(["'self'", *script_hashes])
    return "; ".join([
        "default-src 'none'", f"script-src {scripts}", "style-src 'self' 'unsafe-inline'",
        "img-src 'self' data:", "font-src 'self'", "connect-src 'self'", "base-uri 'none'",
        "form-action 'self'", "frame-ancestors 'none'", "object-src 'none'",
    ])
