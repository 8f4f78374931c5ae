"""The logbooks of Quillet Isle's three vehicles, each in a folder of its own.

A logbook holds one pack's world: its labels, its claims, its diary. So every vehicle has one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from ..logbook import CONFIG_NAME, Logbook
from ..meta import LogMeta, software
from ..monitors import load_description
from . import carrier, punt
from .daylog import DayLog, write_day_log
from .later_years import build_later_years
from .season import build_season
from .typed import type_in

#: Told with days done and days to do.
Progress = Callable[[int, int], None]

_CONFIG: Final = """\
# Invented: Quillet Isle, its {vehicle} and every figure in logs/ are made up by packhand's
# simulator.
invented = true

[units]
distance = "km"        # km or mi
temperature = "C"      # C or F

[[vehicle]]
name = "{vehicle}"
pack = "{vehicle} pack"
{vehicle_more}
[[pack]]
name = "{vehicle} pack"
cells = {cells}
rated_ah = {rated_ah:.0f}

[pack.limits]
continuous_a = {continuous_a}
peak_a = {peak_a}
peak_s = 10
cell_high_v = 3.60
cell_low_v = 2.70
charge_min_c = 0
bleed_a = 0.06

[[claim]]
date = {first}
{claim}"""
_CARRIER: Final = _CONFIG.format(
    vehicle="carrier", vehicle_more="mass_kg = 680          # with driver, without guests\n",
    cells=carrier.CELLS, rated_ah=carrier.RATED_AH, continuous_a=110, peak_a=180,
    first=carrier.FIRST,
    claim='text = "15 miles on a charge"\nquantity = "range"\nvalue = 15\nunit = "mi"\n')
_PUNT: Final = _CONFIG.format(
    vehicle="punt", vehicle_more='kind = "boat"\n', cells=punt.CELLS, rated_ah=punt.RATED_AH,
    continuous_a=80, peak_a=120, first=punt.FIRST,
    claim='text = "100 Ah"\nquantity = "capacity"\nvalue = 100\nunit = "Ah"\n')


@dataclass(frozen=True, slots=True)
class IsleBook:
    """One vehicle's logbook."""

    #: What it is, in plain words.
    words: str
    #: Folder, seed, and how many days of it; ``None`` for all.
    build: Callable[[Path, int, int | None, Progress], None]


def _flatbed(root: Path, seed: int, days: int | None, progress: Progress) -> None:
    """A season of recorded drives."""
    build_season(root, seed=seed, days=None if days is None else slice(days), progress=progress)
    type_in(root, seed)


def _veteran(root: Path, seed: int, days: int | None, progress: Progress) -> None:
    """The flatbed's season, and two more of typed days and tests."""
    build_season(root, seed=seed, days=None if days is None else slice(days), progress=progress)
    build_later_years(root, seed)
    type_in(root, seed)


def _monitor(vehicle: str, cells: int) -> dict[str, Any]:
    """The isle's binary frames with fewer cells in them: what stands behind the cells moves up."""
    own = load_description("demo-binary").as_tables()
    group = next(field for field in own["field"] if field["name"] == "cell_{n}_v")
    moved = int(group["length"]) * (int(group["count"]) - cells)

    def placed(part: dict[str, Any]) -> dict[str, Any]:
        if part is group:
            return {**part, "count": cells}
        return {**part, "at": part["at"] - moved} if part["at"] > group["at"] else part

    return {key: table for key, table in own.items() if key != "example"} | {
        "name": f"isle-{vehicle}", "title": f"The {vehicle}'s monitor",
        "framing": own["framing"] | {"max_length": own["framing"]["max_length"] - moved},
        "constant": [placed(part) for part in own["constant"]],
        "field": [placed(part) for part in own["field"]]}


def _craft(vehicle: str, config: str, cells: int,
           live_days: Callable[[int], Iterator[list[DayLog]]], count: int) -> Callable[
               [Path, int, int | None, Progress], None]:
    def build(root: Path, seed: int, days: int | None, progress: Progress) -> None:
        book = Logbook.create(root)
        (root / CONFIG_NAME).write_text(config, encoding="utf-8")
        meta = LogMeta(pack=f"{vehicle} pack", vehicle=vehicle, time_zone="UTC",
                       software=software(), invented=True,
                       monitor=_monitor(vehicle, cells),
                       origin={"simulated": vehicle, "seed": seed})
        most = count if days is None else min(days, count)
        for done, logs in zip(range(1, most + 1), live_days(seed), strict=False):
            for log in logs:
                write_day_log(book, meta, log)
            progress(done, most)
    return build


#: Every vehicle by name; the first is the one that is played live.
ISLE_BOOKS: Final[Mapping[str, IsleBook]] = {
    "flatbed": IsleBook("A cart for luggage: a season, 16 cells.", _flatbed),
    # A logbook apart: it ends two years later, and what is recorded live must come last.
    "veteran": IsleBook("The same cart after three seasons, most days only typed.", _veteran),
    "carrier": IsleBook("A people mover that brakes into its pack: two weeks, 12 cells.",
                        _craft("carrier", _CARRIER, carrier.CELLS, carrier.live_days,
                               (carrier.LAST - carrier.FIRST).days + 1)),
    "punt": IsleBook("A work boat, no wheels and no distance: four weeks, 8 cells.",
                     _craft("punt", _PUNT, punt.CELLS, punt.live_days,
                             (punt.LAST - punt.FIRST).days + 1)),
}
