"""The learner: how an unknown monitor's bytes say what its display shows.

``learn`` takes a raw capture and a handful of typed readings; nothing here opens a file or a
port. ``stream`` joins the capture, ``cutting`` finds frames and their check, ``candidates`` every
place and type that agrees with what was typed, ``choice`` decides or says that it cannot,
``description`` writes the result as a monitor description.
"""

from __future__ import annotations

from .lesson import Lesson, learn
from .readings import Reading, parse_readings

__all__ = ["Lesson", "Reading", "learn", "parse_readings"]
