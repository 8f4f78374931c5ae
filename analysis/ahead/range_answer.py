"""The answer of ``packhand range``: what is left, how sure, and what became of the claims."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from ..digest import LogDigest
from ..estimate import Answer, Badge, Estimate, NoEstimate
from ..one_log.use import LogUse
from ..phrases import hours_text
from ..season.capacity_now import capacity_at_reference
from .claim_grounds import full_charges, with_grounds
from .claims import (
    Claim,
    Judged,
    full_charge_hours,
    full_charge_range,
    held_peak,
    judge,
    judge_peak,
)
from .consumption import (
    RECENT_RUNS,
    RUNS_MIN,
    Conditions,
    Counted,
    Measure,
    Run,
    is_drive,
    runs_of,
    too_few,
    typical_rate,
)
from .range_ahead import Ahead, look_ahead
from .speed_bands import LogBands
from .usable_energy import PARTS_NEEDED as ENERGY_PARTS
from .usable_energy import (
    PERCENT_OFF,
    above_reserve,
    capacity_now_ah,
    displayed_percent,
    full_energy_wh,
    percent_now,
    telling_spans,
    usable_wh,
)
from .what_if import after_climb, at_pace, climb_energy_wh, hours_at, pace_cost

#: Parts of a digest that the answer needs.
PARTS_NEEDED: Final = (*ENERGY_PARTS, "bands")


@dataclass(frozen=True, slots=True)
class Wish:
    """What is known or assumed of the way ahead."""

    #: Kept in the pack. [points]
    reserve_pct: float = 10.0
    #: What the display shows now, if typed.
    percent: float | None = None
    #: ``None``: as on the last drive, load and wind usual.
    met: Conditions | None = None
    mass_kg: float | None = None
    rated_ah: float | None = None
    #: Peak that the board allows, as typed. [A]
    board_a: float | None = None
    #: Metres that the way ahead rises more than the usual ones; its speed. ``None``: as usual.
    climb_m: float | None = None
    speed_kmh: float | None = None
    #: Only drives on the way noted by this name count; all of them where it is empty.
    route: str = ""

    @property
    def lifted_kg(self) -> float | None:
        """The vehicle with what more than usual is on board."""
        extra = self.met.extra_load_kg if self.met else math.nan
        if self.mass_kg is None:
            return None
        return self.mass_kg + (extra if math.isfinite(extra) else 0.0)

    @property
    def words(self) -> str:
        """What is asked beyond the usual."""
        climb = f", after a climb of {self.climb_m:.0f} m" if self.climb_m else ""
        route = f", on the way “{self.route}”" if self.route else ""
        return route + climb + (f", at {self.speed_kmh:.0f} km/h" if self.speed_kmh else "")


@dataclass(frozen=True, slots=True)
class RangeAnswer:
    """What is left, in every measure that the logs support, and the verdicts on claims."""

    wish: Wish
    percent: Answer
    #: What the pack holds, and whether that is measured or the typed rating.
    capacity_ah: Answer
    capacity_is: Badge
    usable_wh: Answer
    #: Next drive's rate by energy, whatever the range rests on. [Wh/km]
    consumption: Answer
    #: By distance, by time, and in drives like the last ones.
    km: Ahead
    hours: Ahead
    drives: Ahead
    #: From full to empty at the usual consumption, or that of the noted way.
    full_range_km: Answer
    claims: tuple[Judged, ...]
    #: What the climb that was asked for takes; ``None`` if none was. [Wh]
    climb_wh: Answer | None = None
    #: What the speed that was asked for costs against the usual; ``None`` if none was. [parts]
    pace: Answer | None = None
    #: Names of the ways that drives were noted to have gone.
    ways: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """The opening sentence."""
        over = f"with {self.wish.reserve_pct:.0f} % kept in reserve{self.wish.words}"
        km, hours = self.km.left, self.hours.left
        if isinstance(km, Estimate):
            return f"About {km.value:.0f} km left ({km.low:.0f} to {km.high:.0f}), {over}."
        if isinstance(hours, Estimate):
            return (f"About {hours_text(hours.value)} of use left ({hours_text(hours.low)} to "
                    f"{hours_text(hours.high)}), {over}.")
        return f"Cannot tell yet: {km.reason}. Next: {km.next}."

    def as_json(self) -> dict[str, Any]:
        """The document of ``packhand range --json``."""
        return {
            "schema": "packhand.range/1", "words": self.words,
            "reserve_pct": self.wish.reserve_pct, "percent": self.percent.as_json(),
            "capacity_ah": self.capacity_ah.as_json() | {"badge": self.capacity_is},
            "usable_wh": self.usable_wh.as_json(),
            "consumption_wh_per_km": self.consumption.as_json(), "rate": self.km.rate.as_json(),
            "range_km": self.km.left.as_json(), "time_h": self.hours.left.as_json(),
            "drives_left": self.drives.left.as_json(),
            "full_range_km": self.full_range_km.as_json(),
            "climb_wh": self.climb_wh and self.climb_wh.as_json(),
            "pace_cost": self.pace and self.pace.as_json(), "ways": list(self.ways),
            "backtest": self.km.backtest.as_json() | {"of": "range_km"},
            "backtest_time": self.hours.backtest.as_json(),
            "claims": [judged.as_json() for judged in self.claims],
        }


def find_range(digests: Sequence[LogDigest], claims: Sequence[Claim] = (),
               wish: Wish | None = None,
               noted: Mapping[str, Conditions] | None = None) -> RangeAnswer:
    """What is left at the end of a logbook.

    Parameters
    ----------
    digests
        Of one pack, oldest first, with the parts in ``PARTS_NEEDED``.
    noted
        What was noted by hand of a log, by its file name.
    """
    wish, ways = wish or Wish(), _ways(digests, noted or {})
    route = next((way for way in ways if way.casefold() == wish.route.casefold()), wish.route)
    measured = capacity_now_ah(digests, None)
    is_measured = isinstance(measured, Estimate)
    capacity = measured if is_measured else capacity_now_ah(digests, wish.rated_ah)
    percent = displayed_percent(wish.percent) if wish.percent is not None else (
        percent_now(digests, capacity))
    full_wh, left = full_energy_wh(digests, capacity), above_reserve(percent, wish.reserve_pct)
    usable = usable_wh(full_wh, left)
    climb = climb_energy_wh(wish.climb_m, wish.lifted_kg) if wish.climb_m else None
    pace = pace_cost([d.of(LogBands) for d in digests if is_drive(d)],
                     wish.speed_kmh) if wish.speed_kmh else None

    def ahead(measure: Measure, counted: Counted) -> Ahead:
        of, unit = (usable, "Wh") if counted == "energy" else (left, "%")
        runs = runs_of(digests, measure, counted, noted, route)
        if missing := _too_few_on(route, runs):
            return Ahead.missing(missing)
        usual = look_ahead(runs, after_climb(of, climb) if climb else of, unit=measure,
                           rate_unit=f"{unit}/{measure}", met=wish.met, mass_kg=wish.mass_kg)
        return at_pace(usual, pace) if pace and measure != "h" else usual

    # Percent alone serves where no energy, or no capacity, is known.
    by_energy = ahead("km", "energy")
    counted: Counted = "energy" if isinstance(full_wh, Estimate) else "percent"
    km_runs = runs_of(digests, "km", counted, noted)
    way_runs = runs_of(digests, "km", counted, noted, route) if route else km_runs
    full = full_wh if counted == "energy" else Estimate.around(100.0, PERCENT_OFF, "%")
    km, hours = by_energy if counted == "energy" else ahead("km", counted), ahead("h", counted)
    if wish.speed_kmh:
        hours = replace(hours, left=hours_at(km.left, wish.speed_kmh))
    return RangeAnswer(
        wish, percent, capacity, "measured" if is_measured else "typed", usable, by_energy.rate,
        km, hours, ahead("drives", counted),
        _too_few_on(route, way_runs) or full_charge_range(way_runs, full)[0],
        tuple(_judged(claim, digests, km_runs, full, capacity, wish.board_a)
              for claim in claims), climb, pace,
        ways)


def _too_few_on(route: str, runs: Sequence[Run]) -> NoEstimate | None:
    """Why the runs on a noted way tell nothing; ``None`` if they do, or none is asked for."""
    return too_few(len(runs), route) if route and len(runs) < RUNS_MIN else None


def _ways(digests: Sequence[LogDigest], noted: Mapping[str, Conditions]) -> tuple[str, ...]:
    names = {noted[d.log].route for d in digests if d.log in noted and is_drive(d)}
    return tuple(sorted(names - {""}, key=str.casefold))


def _judged(claim: Claim, digests: Sequence[LogDigest], km_runs: Sequence[Run], full: Answer,
            capacity_ah: Answer, board_a: float | None) -> Judged:
    if claim.quantity == "range":
        found, count, battery = full_charge_range(km_runs, full)
        judged = judge(claim, found, runs=count, fixed=battery)
    elif claim.quantity == "consumption":
        runs = runs_of(digests, "km")
        judged = judge(claim, typical_rate(runs, "Wh/km"), runs=min(len(runs), RECENT_RUNS))
    elif claim.quantity == "capacity":
        judged = judge(claim, capacity_at_reference(telling_spans(digests)))
    elif claim.quantity == "peak":
        judged = judge_peak(claim, held_peak(d.of(LogUse) for d in digests), board_a)
    else:
        judged = judge(claim, full_charge_hours(full_charges(digests), capacity_ah))
    return with_grounds(judged, digests, km_runs, full)
