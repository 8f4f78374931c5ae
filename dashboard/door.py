"""The door on the home network: a PIN that the terminal shows, and a cookie for whoever typed it.

Nothing is served to a browser without the cookie: no page, no asset, no answer to a callback. Both
PIN and cookie are new at each start. Six digits are enough because guessing is slow: after
``TRIES_MAX`` wrong PINs, from wherever they came, nobody is let in for ``PAUSE_S``.

Plain http can be overheard by others on the same network, and so can PIN and cookie; the page and
the terminal say so.
"""

from __future__ import annotations

import hmac
import secrets
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from html import escape
from typing import Final, Literal

from flask import Flask, Response, make_response, redirect, request
from werkzeug.wrappers import Response as AnyResponse

from .theme import stylesheet

DIGITS: Final = 6
#: Wrong PINs before the pause.
TRIES_MAX: Final = 5
#: How long nobody is let in then. [s]
PAUSE_S: Final = 60.0
COOKIE: Final = "packhand-door"
PATH: Final = "/door"

UNENCRYPTED: Final = ("This connection is not encrypted: whoever is on the same network can read "
                      "along. Use it at home, on a network of your own, never on an open one.")
PLAIN_HTTP: Final = ("A browser gives a page without encryption no place, does not keep the screen "
                     "awake for it and lets it send no notifications. Record speed with a GPS at "
                     "the monitor, set the phone's screen to stay on longer, and leave the page "
                     "open with its sound on.")

Answer = Literal["open", "wrong", "pause"]


@dataclass(frozen=True, slots=True)
class Key:
    """What opens the door of one run."""

    pin: str
    cookie: str

    @classmethod
    def new(cls) -> Key:
        return cls(f"{secrets.randbelow(10**DIGITS):0{DIGITS}d}", secrets.token_urlsafe(32))


class Door:
    """Lets in whoever knows the PIN. Safe to use from several threads."""

    def __init__(self, key: Key, clock: Callable[[], float] = time.monotonic) -> None:
        self._key = key
        self._clock = clock
        self._lock = threading.Lock()
        self._wrong = 0
        self._shut_until_s = -1e9

    def protect(self, server: Flask) -> None:
        """Guard every route. Call it after the check for requests from other sites."""
        server.before_request(self._stop_strangers)
        server.add_url_rule(PATH, "door", self._answer, methods=["POST"])

    def try_pin(self, typed: str) -> Answer:
        """Compare a typed PIN; during the pause the right one does not open either."""
        with self._lock:
            if self.wait_s() > 0:
                return "pause"
            if _same(typed, self._key.pin):
                self._wrong = 0
                return "open"
            self._wrong += 1
            if self._wrong < TRIES_MAX:
                return "wrong"
            self._wrong, self._shut_until_s = 0, self._clock() + PAUSE_S
            return "pause"

    def wait_s(self) -> float:
        """How long the pause still lasts. [s]"""
        return max(self._shut_until_s - self._clock(), 0.0)

    def _stop_strangers(self) -> Response | None:
        if _same(request.cookies.get(COOKIE, ""), self._key.cookie):
            return None
        if request.method == "POST" and request.path == PATH:
            return None
        return self._page("pause" if self.wait_s() > 0 else "open")

    def _answer(self) -> AnyResponse:
        told = self.try_pin("".join(request.form.get("pin", "").split()))
        if told != "open":
            return self._page(told)
        answer = redirect("/", 303)
        answer.set_cookie(COOKIE, self._key.cookie, httponly=True, samesite="Strict")
        return answer

    def _page(self, told: Answer) -> Response:
        """The page that asks for the PIN, with what became of the last try."""
        words = {"open": "", "wrong": "That is not the PIN. Look at the terminal once more.",
                 "pause": f"Too many wrong PINs. Wait {self.wait_s() + 0.5:.0f} seconds, then try "
                          "again."}[told]
        answer = make_response(_DOCUMENT.replace("{words}", escape(words)),
                               429 if told == "pause" else 401)
        if told == "pause":
            answer.headers["Retry-After"] = str(int(self.wait_s()) + 1)
        answer.headers["Cache-Control"] = "no-store"
        # Without a referrer browsers send "Origin: null" with a form, which the guard refuses.
        answer.headers["Referrer-Policy"] = "same-origin"
        return answer


def _same(one: str, other: str) -> bool:
    """Equal, in a time that does not tell how far."""
    return hmac.compare_digest(one.encode(), other.encode())


_DOCUMENT: Final = """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>PIN · packhand</title>
<link rel="icon" href="data:,">
<style>{paint}
*{box-sizing:border-box}
body{margin:0;background:var(--desk);color:var(--ink);font:17px/1.5 system-ui,sans-serif}
main{max-width:26em;margin:0 auto;padding:12vh 20px 24px}
h1{font:400 34px/1.2 Georgia,serif;margin:0 0 20px}
label{display:block;font-weight:600;margin-bottom:6px}
input,button{font:inherit;min-height:64px;width:100%;border-radius:3px;border:2px solid var(--ink)}
input{background:var(--paper);color:var(--ink);font-size:34px;letter-spacing:.3em;
text-align:center}
button{margin-top:12px;background:var(--ink);color:var(--paper);font-weight:600}
:focus-visible{outline:3px solid var(--in);outline-offset:2px}
p{margin:16px 0 0}p[role]{color:var(--mark);font-weight:600}
.small{font-size:15px;color:var(--muted)}
</style>
</head>
<body><main>
<h1>packhand</h1>
<form method="post" action="{path}">
<label for="pin">PIN from the terminal, six digits</label>
<input id="pin" name="pin" inputmode="numeric" pattern="[0-9 ]{6,7}" maxlength="7" required
autocomplete="off" autofocus>
<button>Open the pages</button>
</form>
<p role="alert">{words}</p>
<p class="small">{unencrypted}</p>
<p class="small">{plain}</p>
</main></body>
</html>""".replace("{paint}", stylesheet()).replace("{path}", PATH).replace(
    "{unencrypted}", UNENCRYPTED).replace("{plain}", PLAIN_HTTP)
