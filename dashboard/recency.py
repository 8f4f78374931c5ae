"""The sentences of a live recording: how long, how much, how fresh."""

from __future__ import annotations

from datetime import date, datetime
from zoneinfo import ZoneInfo

from analysis.drive.words import STILL_A
from analysis.local_days import zone_named
from analysis.phrases import amps_size, hours_text

from .live import LiveView
from .quantities import NBSP
from .recording import Recording

TEACH = "Nothing is being recorded. Connect the monitor, then start on the Bench."


def live_sentence(view: LiveView) -> str:
    """What the recorder is doing, in one or two short sentences."""
    if view.state == "nothing":
        return TEACH
    if view.last is None:
        return ("The recording ended before anything was heard." if view.state == "ended"
                else "Recording. Nothing heard from the monitor yet.")
    at = view.last.astimezone(zone_of(view.recording)).strftime("%H:%M:%S")
    if view.state == "ended":
        return f"The recording ended at {at}, after {span_words(view.recorded_s)}."
    if view.state == "silent":
        return f"Nothing new since {at}. The recorder may have stopped."
    return (f"Recording for {span_words(view.recorded_s)}.{flow_words(view.recording)} "
            f"Last sample {age_words(view.age_s)}.")


def flow_words(recording: Recording | None) -> str:
    """The amps of the last sample, such as " 48 A out."; empty where there are none."""
    amps = recording.channels.get("amps") if recording else None
    if recording is None or amps is None or recording.sign.convention == "undecided":
        return ""
    last = float(amps.values[-1])
    if amps.axis.elapsed_s[-1] < recording.duration_s - 2 or abs(last) < STILL_A:
        return ""
    return f" {amps_size(last)} {'out' if last < 0 else 'in'}."


def age_words(age_s: float) -> str:
    """``0.4 s ago``, ``12 s ago``, ``3 min ago``."""
    if age_s < 9.95:
        return f"{age_s:.1f}{NBSP}s ago"
    return f"{age_s:.0f}{NBSP}s ago" if age_s < 120 else f"{hours_text(age_s / 3600)} ago"


def span_words(seconds: float) -> str:
    """``40 s``, ``12 min``, ``2 h 05``."""
    return f"{seconds:.0f}{NBSP}s" if seconds < 90 else hours_text(seconds / 3600)


def zone_of(recording: Recording | None) -> ZoneInfo:
    return recording.zone if recording else ZoneInfo("UTC")


def local_time(unix_s: float, zone: str) -> datetime:
    """A moment by the clock on the wall, in the zone that a log names."""
    return datetime.fromtimestamp(unix_s, zone_named(zone))


def date_words(day: date) -> str:
    """``2 April 2026``."""
    return f"{day.day} {day:%B %Y}"


def day_words(moment: datetime) -> str:
    """``Thursday 2 April 2026``."""
    return f"{moment:%A} {date_words(moment)}"
