"""Reads what ``make_packs`` left: logs as a monitor shows them, and what is true of them."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd

from analysis.telemetry import Floats, Telemetry

DATA: Final = Path(__file__).resolve().parents[1] / "data" / "witness"
START: Final = datetime(2026, 4, 2, 8, tzinfo=UTC)
WEEKS: Final = ("iron_phosphate_week_1", "iron_phosphate_week_2")
#: What the display counts its percent against. [Ah]
DISPLAY_AH: Final = 100.0


@dataclass(frozen=True)
class Log:
    """One log and its truth."""

    telemetry: Telemetry
    kind: str
    into_ah: float
    out_ah: float
    #: Of the whole pack over the drive's amps, the mean of steps before the drive and before the
    #: one that follows; NaN of charges. [mohm]
    pulse_1_s_mohm: float
    pulse_10_s_mohm: float


@cache
def truth_of(name: str) -> dict[str, Any]:
    told: dict[str, Any] = json.loads((DATA / "truth.json").read_text(encoding="utf-8"))[name]
    return told


@cache
def logs_of(name: str) -> tuple[Log, ...]:
    """The logs of one file, oldest first; amps positive into the pack."""
    table = pd.read_parquet(DATA / f"{name}.parquet")
    parts = [part for _, part in table.groupby("log")]
    percent, made, truths = 60.0, [], truth_of(name)["logs"]
    for k, (part, true) in enumerate(zip(parts, truths, strict=True)):
        amps = part["current_tenth_a"].to_numpy(float) / 10
        shown = percent + 100 * np.cumsum(amps) / 3600 / DISPLAY_AH
        percent = 100.0 if true["kind"] == "charge" else float(shown[-1])
        made.append(_log(part, amps, np.round(np.clip(shown, 0, 100)), true,
                         _pulses_mohm(truths[k:k + 2], truth_of(name)["drive_over_pulse"])))
    return tuple(made)


def _pulses_mohm(neighbours: list[dict[str, Any]], drive_over_pulse: list[float]) -> list[float]:
    """At 1 s and 10 s, from a drive and the log behind it."""
    if neighbours[0]["kind"] != "drive":
        return [np.nan, np.nan]
    drives = [true for true in neighbours if true["kind"] == "drive"]
    return [factor * float(np.mean([sum(true[name]) for true in drives])) for name, factor in zip(
        ("pulse_1_s_mohm", "pulse_10_s_mohm"), drive_over_pulse, strict=True)]


def _log(part: pd.DataFrame, amps: Floats, percent: Floats, true: dict[str, Any],
         pulses_mohm: list[float]) -> Log:
    columns = {"current_a": amps, "soc_pct": percent, "temp_1_c": np.full(len(part), 25.0),
               "voltage_v": part["voltage_hundredth_v"].to_numpy(float) / 100}
    columns |= {name.removesuffix("_mv") + "_v": part[name].to_numpy(float) / 1000
                for name in part if name.startswith("cell_")}
    telemetry = Telemetry(START + timedelta(seconds=true["start_s"]),
                          np.arange(float(len(part))), columns, meta={"pack": "witness"})
    return Log(telemetry, true["kind"], true["into_ah"], true["out_ah"], *pulses_mohm)
