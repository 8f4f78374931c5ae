"""Invented logs of a four-cell iron-phosphate pack, as simple as the rules they test.

A cell's volts follow a curve that is steep at both ends and flat between; amps are shown in steps
of 0.1 A with a little noise.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np

from analysis.digest import LogDigest, digest_log
from analysis.season.summary import PARTS_NEEDED
from analysis.telemetry import Floats, Telemetry

CAPACITY_AH = 100.0
START = datetime(2026, 4, 2, 8, tzinfo=UTC)
#: Share of charge left, and rested volts.
_LEFT = np.array([0.0, 0.01, 0.02, 0.04, 0.06, 0.10, 0.15, 0.95, 0.98, 1.0])
_VOLTS = np.array([2.75, 2.95, 3.02, 3.10, 3.15, 3.22, 3.27, 3.34, 3.40, 3.60])
_OHM = 0.001


def cell_v(left: Floats, amps: Floats) -> Floats:
    """Volts of a cell by its share of charge and the amps."""
    return np.interp(left, _LEFT, _VOLTS) + _OHM * amps


def telemetry(amps: Floats, left: float, *, hours: float = 0.0, zero_a: float = 0.0,
              temp_c: float = 20.0, step_s: float = 10.0) -> Telemetry:
    """A log of these amps, beginning with a share of charge left.

    Parameters
    ----------
    hours
        When it begins, after ``START``.
    zero_a
        What the shown amps are too high by.
    """
    share = left + np.concatenate(([0.0], np.cumsum((amps[1:] + amps[:-1]) / 2))) * (
        step_s / 3600 / CAPACITY_AH)
    lowest = cell_v(share, amps)
    noise = np.random.default_rng(0).normal(0, 0.04, len(amps))
    columns = {"current_a": np.round(amps + zero_a + noise, 1), "voltage_v": 4 * lowest + 0.006,
               "temp_1_c": np.full(len(amps), temp_c)}
    columns |= {f"cell_{n:02d}_v": lowest + 0.001 * (n - 1) for n in range(1, 5)}
    sign = {"convention": "negative_is_discharge", "decided_by": "person"}
    return Telemetry(START + timedelta(hours=hours), np.arange(len(amps)) * step_s, columns,
                     meta={"pack": "main", "sign": sign})


def steady(amps: float, hours: float, rest_s: float = 900.0, step_s: float = 10.0) -> Floats:
    """Steady amps for some hours, rests before and behind."""
    rest = np.zeros(round(rest_s / step_s))
    return np.concatenate([rest[:12], np.full(round(hours * 3600 / step_s), amps), rest])


def digest(log: Telemetry, name: str = "log") -> LogDigest:
    return digest_log(log, name, parts=PARTS_NEEDED)


def charged_full(hours: float = 0.0, zero_a: float = 0.0, left: float = 0.5) -> LogDigest:
    """A charge at 20 A from a share of charge to full."""
    return digest(telemetry(steady(20.0, (1 - left) * CAPACITY_AH / 20), left, hours=hours,
                            zero_a=zero_a), "charge")


def run_empty(hours: float = 6.0, zero_a: float = 0.0, temp_c: float = 20.0) -> LogDigest:
    """A discharge at 25 A from full to empty."""
    return digest(telemetry(steady(-25.0, CAPACITY_AH / 25), 1.0, hours=hours, zero_a=zero_a,
                            temp_c=temp_c), "test")


def later(one: LogDigest, hours: float) -> LogDigest:
    """The same log at another time."""
    head = replace(one.head, start_s=one.start_s + 3600 * hours, end_s=one.end_s + 3600 * hours)
    return replace(one, head=head)
