"""What is left: amp-hours, hours at the mean of the last minutes, distance at the drive's rate."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np

from ..estimate import Answer, Estimate, NoEstimate
from ..one_log.percent import PercentAgreement
from ..one_log.rolling import rolling_mean
from ..telemetry import Telemetry
from .words import MEAN_WINDOW_S, STILL_A

#: Windows whose mean amps are told. [s]
WINDOWS_S: Final = {"1 min": 60.0, "5 min": 300.0, "15 min": 900.0}


@dataclass(frozen=True, slots=True)
class Remaining:
    """What is left at the end of a log."""

    usable_ah: Answer
    #: At the mean of the last five minutes. [h]
    time_h: Answer
    range_km: Answer
    #: Mean amps over the last minutes, positive in; by window, where the log is long enough.
    mean_current_a: Mapping[str, float] = field(default_factory=dict)

    def as_json(self) -> dict[str, Any]:
        return {"time_h": self.time_h.as_json(), "range_km": self.range_km.as_json(),
                "usable_ah": self.usable_ah.as_json(), "mean_current_a": dict(self.mean_current_a)}


def find_remaining(telemetry: Telemetry, agreement: PercentAgreement | None,
                   wh_per_km: Answer, mean_volts: float,
                   capacity_ah: float | None = None) -> Remaining:
    """What is left at the end of a log.

    Parameters
    ----------
    telemetry
        Amps in packhand's sign.
    agreement
        ``percent.compare_percent`` of the same log.
    capacity_ah
        The pack's capacity, if known; else what the display reckons with. [Ah]
    """
    usable = usable_ah(telemetry, agreement, capacity_ah)
    means = last_means_a(telemetry)
    return Remaining(usable, _hours(usable, means), _range_km(usable, wh_per_km, mean_volts), means)


def usable_ah(telemetry: Telemetry, agreement: PercentAgreement | None,
              capacity_ah: float | None = None) -> Answer:
    """Amp-hours left: as displayed, or percent times capacity."""
    if "charge_left_ah" in telemetry:
        left = telemetry["charge_left_ah"]
        value = float(left[np.isfinite(left)][-1])
        return Estimate(value, value * 0.9, value * 1.1, "Ah")
    if agreement is None:
        return NoEstimate("amps and percent are needed together, or amp-hours left",
                          "log both amps and percent")
    capacity = _capacity(agreement, capacity_ah)
    if isinstance(capacity, NoEstimate):
        return capacity
    percent, step = agreement.end_pct, max(agreement.step_points, 1.0)
    percent = max(0.0, percent)  # a display that counts below empty still means empty
    return Estimate(percent * capacity.value / 100, max(0.0, percent - step) * capacity.low / 100,
                    (percent + step) * capacity.high / 100, "Ah")


def _capacity(agreement: PercentAgreement, capacity_ah: float | None) -> Answer:
    if capacity_ah is None:
        return agreement.implied_capacity_ah
    # A rating is met to about a tenth either way (common practice, no source).
    return Estimate.around(capacity_ah, 0.1 * capacity_ah, "Ah")


def last_means_a(telemetry: Telemetry) -> dict[str, float]:
    """Mean amps over the last 1, 5 and 15 minutes, positive in; those that the log covers."""
    end_s = float(telemetry.elapsed_s[-1])
    tail = telemetry.between(end_s - max(WINDOWS_S.values()) - 60.0)
    means = {}
    for name, window_s in WINDOWS_S.items():
        mean, seen = rolling_mean(tail, "current_a", window_s)
        known = np.flatnonzero(np.isfinite(mean))
        if len(known) and seen[known[-1]] >= 0.9 * window_s:
            means[name] = float(mean[known[-1]])
    return means


def _hours(usable: Answer, means: Mapping[str, float]) -> Answer:
    if isinstance(usable, NoEstimate):
        return usable
    if not means:
        return NoEstimate("the log is shorter than a minute", "log longer")
    mean_a = means.get(f"{MEAN_WINDOW_S / 60:.0f} min", next(iter(means.values())))
    if -mean_a <= STILL_A:
        return NoEstimate("nothing flowed out over the last minutes", "ask again while driving")
    hours = usable.scaled(-1 / mean_a, "h")
    # The means of the windows differ as the use does: their range is part of the answer.
    out = [-a for a in means.values() if -a > STILL_A]
    return Estimate(hours.value, min(hours.low, usable.low / max(out)),
                    max(hours.high, usable.high / min(out)), "h")


def _range_km(usable: Answer, wh_per_km: Answer, mean_volts: float) -> Answer:
    if isinstance(wh_per_km, NoEstimate):
        return wh_per_km
    if isinstance(usable, NoEstimate):
        return usable
    if wh_per_km.low <= 0:
        return NoEstimate("this drive took no energy on balance", "log a drive on the level")
    value = usable.value * mean_volts / wh_per_km.value
    # One drive tells another's rate to about 16 % rms, so a 95 % interval is twice that.
    return Estimate(value, max(0.0, usable.low * mean_volts / wh_per_km.high * 0.68),
                    usable.high * mean_volts / wh_per_km.low * 1.32, "km")
