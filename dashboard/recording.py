"""One log made ready to draw: amps in packhand's sign, channels reduced, gaps and marks found."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property
from typing import Any, Final, Self
from zoneinfo import ZoneInfo

import numpy as np

from analysis.drive.words import Moments, moments_of
from analysis.local_days import zone_named
from analysis.one_log.instrument import sign_of_log
from analysis.one_log.sign import SignFinding, apply_sign
from analysis.telemetry import Event, Floats, Telemetry
from analysis.timebase import Gap, gaps_of, observe

from .quantities import Units, shown
from .reduce import Channel, Curve, TimeAxis, area, line, ribbon, sides

#: Rows looked at to find which cell is lowest most often.
_POLLED: Final = 20_000
#: A mark of the log and one of the diary that are no further apart are the same. [s]
SAME_MARK_S: Final = 0.5
#: Channels that a person may want in other units, and the column that says how.
_CONVERTED: Final = {"temperature": "temp_1_c", "speed": "speed_m_s"}


@dataclass(frozen=True)
class Recording:
    """One log, ready to draw. The arrays are shared; nobody writes to them."""

    #: Amps positive into the pack, wherever the sign is settled.
    telemetry: Telemetry
    sign: SignFinding
    units: Units
    #: By name: amps, volts, percent, cell_low, cell_high, lowest, temperature, speed; in the
    #: log's units.
    channels: Mapping[str, Channel]
    #: Number of the cell that is lowest most often, 0 where single cells are not told.
    lowest_cell: int
    #: What a full pack holds, as the logbook says; ``None`` if it does not. [Ah]
    capacity_ah: float | None = None
    #: Marks that the diary holds of this time.
    noted: tuple[Event, ...] = ()

    @classmethod
    def of(cls, raw: Telemetry, units: Units, sign: SignFinding | None = None,
           capacity_ah: float | None = None) -> Self:
        """Settle the sign and reduce every quantity that is drawn.

        Parameters
        ----------
        raw
            Amps in the file's own sign.
        sign
            A finding made earlier; found anew by default.
        """
        finding = sign_of_log(raw) if sign is None else sign
        telemetry = apply_sign(raw, finding)
        lowest = _lowest_cell(telemetry)
        return cls(telemetry, finding, units, _channels(telemetry, lowest), lowest, capacity_ah)

    def shown_with(self, units: Units, noted: tuple[Event, ...]) -> Self:
        """The same recording in other units, with the diary's marks; the arrays are shared."""
        if (units, noted) == (self.units, self.noted):
            return self
        return replace(self, units=units, noted=noted)

    @property
    def duration_s(self) -> float:
        return float(self.telemetry.elapsed_s[-1])

    @property
    def is_invented(self) -> bool:
        return bool(self.telemetry.meta.get("invented"))

    @cached_property
    def zone(self) -> ZoneInfo:
        """The person's time zone; UTC where the log names none that this machine knows."""
        return zone_named(str(self.telemetry.meta.get("time_zone", "UTC")))

    def local(self, elapsed_s: float) -> datetime:
        """Local wall time of a moment."""
        return self.telemetry.at(elapsed_s).astimezone(self.zone)

    @cached_property
    def moments(self) -> Moments:
        """What sentences need, at each row."""
        return moments_of(self.telemetry, self.capacity_ah)

    @cached_property
    def gaps(self) -> tuple[Gap, ...]:
        """Stretches without any record, with their causes."""
        return gaps_of(self.telemetry, observe(self.telemetry))

    @property
    def marks(self) -> tuple[Event, ...]:
        """Moments the person marked; one that the diary holds too is told as it is named there."""
        logged = [event for event in self.telemetry.events if event.kind == "mark" and all(
            abs(event.elapsed_s - noted.elapsed_s) > SAME_MARK_S for noted in self.noted)]
        return tuple(sorted([*logged, *self.noted], key=lambda mark: mark.elapsed_s))

    @property
    def traces(self) -> list[str]:
        """Names of the traces that ``curves`` gives."""
        drawn = {"amps": ("out", "in", "out-area", "in-area"), "cell_low": ("ribbon",),
                 "cell_high": ()}
        return [trace for name in self.channels for trace in drawn.get(name, (name,))]

    def curves(self, start_s: float, end_s: float, columns: int) -> dict[str, Curve]:
        """What the strips show between two moments, by trace; only traces with figures."""
        drawn = {name: line(channel, start_s, end_s, columns)
                 for name, channel in self.channels.items() if not name.startswith("cell_")}
        for name in drawn.keys() & _CONVERTED.keys():
            entry, curve = shown(_CONVERTED[name], self.units), drawn[name]
            drawn[name] = Curve(curve.x, curve.y * entry.factor + entry.offset)
        if amps := drawn.pop("amps", None):
            out, into = sides(amps)
            drawn |= {"out": out, "in": into, "out-area": area(out), "in-area": area(into)}
        if "cell_low" in self.channels:
            drawn["ribbon"] = ribbon(self.channels["cell_low"], self.channels["cell_high"],
                                     start_s, end_s, columns)
        return drawn


def _channels(telemetry: Telemetry, lowest: int) -> dict[str, Channel]:
    lows, highs = cell_bounds(telemetry)
    sources = {
        "amps": telemetry["current_a"], "volts": telemetry["voltage_v"],
        "percent": telemetry["soc_pct"], "cell_low": lows, "cell_high": highs,
        "lowest": telemetry[f"cell_{lowest:02d}_v"] if lowest else np.empty(0),
        "temperature": warmest_c(telemetry), "speed": telemetry["speed_m_s"],
    }
    reducer = _Reducer(telemetry)
    return {name: channel for name, values in sources.items()
            if len(values) and (channel := reducer.channel(values)) is not None}


class _Reducer:
    """Makes channels, sharing the time axis among quantities that have a figure in every row."""

    def __init__(self, telemetry: Telemetry) -> None:
        self._telemetry = telemetry
        self._full: TimeAxis | None = None

    def channel(self, values: Floats) -> Channel | None:
        """A channel, ``None`` if the column holds no figure."""
        there = np.isfinite(values)
        if not there.any():
            return None
        if there.all():
            self._full = self._full or self._axis(values)
            return Channel.on(self._full, values)
        return Channel.on(self._axis(values), values[there])

    def _axis(self, values: Floats) -> TimeAxis:
        observed = observe(self._telemetry.having(drawn=values), "drawn")
        return TimeAxis.of(observed.time_s, observed.gap_steps + 1)


def cell_bounds(telemetry: Telemetry) -> tuple[Floats, Floats]:
    """Volts of the lowest and of the highest cell at each sample; both NaN where one is."""
    if not telemetry.cells:
        lows, highs = telemetry["cell_min_v"], telemetry["cell_max_v"]
        told = np.isfinite(lows) & np.isfinite(highs)
        return np.where(told, lows, np.nan), np.where(told, highs, np.nan)
    lows = highs = telemetry[telemetry.cells[0]]
    for name in telemetry.cells[1:]:
        lows, highs = np.fmin(lows, telemetry[name]), np.fmax(highs, telemetry[name])
    return lows, highs


def warmest_c(telemetry: Telemetry) -> Floats:
    """The warmest of the pack's sensors at each sample."""
    names = [name for name in telemetry.columns if name.startswith("temp_")]
    if not names:
        return telemetry["temp_1_c"]
    warmest = telemetry[names[0]]
    for name in names[1:]:
        warmest = np.fmax(warmest, telemetry[name])
    return warmest


def _lowest_cell(telemetry: Telemetry) -> int:
    names = telemetry.cells
    if not names:
        return 0
    stride = max(len(telemetry) // _POLLED, 1)
    volts = np.stack([telemetry[name][::stride] for name in names])
    whole = np.isfinite(volts).all(axis=0)
    if not whole.any():
        return 0
    counts = np.bincount(np.argmin(volts[:, whole], axis=0), minlength=len(names))
    return int(names[int(np.argmax(counts))][5:7])


def rated_ah(config: Mapping[str, Any], meta: Mapping[str, Any]) -> float | None:
    """What the logbook says that the log's pack holds when full. [Ah]

    The pack named in the log's metadata, or the only one there is.
    """
    told = config.get("pack", [])
    packs = [pack for pack in (told if isinstance(told, list) else [told])
             if isinstance(pack, dict)]
    named = [pack for pack in packs if pack.get("name") == meta.get("pack")]
    chosen = named or (packs if len(packs) == 1 else [])
    rated = chosen[0].get("rated_ah") if chosen else None
    return float(rated) if isinstance(rated, int | float) and rated > 0 else None
