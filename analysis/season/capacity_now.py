"""What the pack holds now, by its spans of late: at 20 degC, or at the temperatures they had."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from ..estimate import Answer
from ..one_log.charge import Instrument
from .capacity import capacity_from_spans
from .spans import Span

#: Spans of the last so many days tell what the pack holds now.
RECENT_DAYS: Final = 120.0
_DAY_S: Final = 86400.0


def spans_of_late(spans: Sequence[Span], end_s: float) -> tuple[Span, ...]:
    """Those that ended within ``RECENT_DAYS`` before ``end_s``. [s, Unix time]"""
    return tuple(span for span in spans if end_s - span.end_s <= RECENT_DAYS * _DAY_S)


def capacity_as_counted(spans: Sequence[Span]) -> Answer:
    """Capacity at the temperatures that the spans had. [Ah, 95 %]"""
    return _joined(spans, [s.charge_ah for s in spans], [s.charge_sd for s in spans])


def capacity_at_reference(spans: Sequence[Span]) -> Answer:
    """Capacity at 20 degC; how well the cold's part is known widens it. [Ah, 95 %]"""
    charges = [s.at_reference_ah * s.share for s in spans]
    return _joined(spans, charges, [math.sqrt(max(
        (s.sd_ah * s.share) ** 2 - (s.at_reference_ah * s.share_sd) ** 2, 1e-6)) for s in spans])


def _joined(spans: Sequence[Span], charges_ah: list[float], charges_sd: list[float]) -> Answer:
    return capacity_from_spans(
        np.array([s.share for s in spans]), np.array(charges_ah),
        np.array([s.share_sd for s in spans]), np.array(charges_sd), instrument=Instrument())
