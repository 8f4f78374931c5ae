"""Whether the computer's clock can be right, by the logs that lie there already.

A small computer without a battery begins again in some year long past; a wrong date sorts a log
where nobody looks for it. Nothing can tell what time it really is, so a person is asked.
"""

from __future__ import annotations

from contextlib import suppress
from datetime import UTC, datetime
from typing import Final

from pyarrow import ArrowInvalid

from .logbook import Logbook
from .logfile import last_moment
from .moment import dated_logs

#: Years outside of which a clock was never set: this program's first year, and far ahead.
YEARS: Final = range(2026, 2100)
#: Two recorders that begin at once may differ by so much. [ms]
_SLACK_MS: Final = 60_000
#: A logbook in use is hardly left alone for longer. [ms] Chosen here.
_LONG_MS: Final = 366 * 86_400_000
_DO: Final = ("set the computer's clock, then begin again; a log that has a wrong date already is "
              "moved by 'packhand correct clock'")


def clock_doubt(book: Logbook, now_ms: int) -> str:
    """Why the clock may be wrong, and what to do; empty where nothing speaks against it."""
    if book.config().get("invented") is True:  # its days lie where they like
        return ""
    now = datetime.fromtimestamp(now_ms / 1000, UTC).astimezone()
    told = f"the computer's clock says {now:%Y-%m-%d %H:%M}"
    if now.year not in YEARS:
        return f"{told}: nobody has set it; {_DO}"
    last_ms = _last_ms(book)
    if last_ms is None or (now_ms >= last_ms - _SLACK_MS and now_ms - last_ms <= _LONG_MS):
        return ""
    last = datetime.fromtimestamp(last_ms / 1000, UTC).astimezone()
    so = "before the newest log ends, which is" if now_ms < last_ms else (
        f"{(now_ms - last_ms) / _LONG_MS:.0f} years after the newest log ended, on")
    return f"{told}, {so} {last:%Y-%m-%d %H:%M}: is it right? If not, {_DO}"


def _last_ms(book: Logbook) -> int | None:
    """When the newest finished log ended, by the corrected clock; ``None`` without one."""
    newest = next((dated for dated in dated_logs(book)
                   if dated.began_ms and not dated.entry.is_journal), None)
    if newest is None:
        return None
    with suppress(OSError, ArrowInvalid):  # whoever opens that log is told
        if last := last_moment(newest.entry.path):
            return int(last[0]) - newest.ahead_ms
    return None
