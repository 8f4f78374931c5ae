"""The answer of ``packhand compare`` as a person reads it, and its table by speed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Final

from ..estimate import NoEstimate
from .compare import Comparison, Side
from .speed_bands import SpeedBand

_NO_BAND: Final = "-"


def compare_text(found: Comparison, old: Sequence[SpeedBand], new: Sequence[SpeedBand],
                 limits: str = "") -> str:
    """The text of ``packhand compare``; ``limits`` says which other changes limit the days."""
    lines = [found.words, *filter(None, [found.paired_words, limits]), "",
             _side_text("before", found.before, found.pairs),
             _side_text("after", found.after, found.pairs)]
    if not isinstance(found.change_pct, NoEstimate):
        lines.append(f"{'by chance':<9} {_chance(found.chance)}")
    lines += [f"mind      {each}" for each in found.confounders]
    if old and new:
        lines += ["", *_bands_text(old, new)]
    return "\n".join(lines)


def _chance(chance: float) -> str:
    figure = "less than 0.1 %" if chance < 0.001 else f"{100 * chance:.1f} %"
    return f"{figure} of getting a difference like this with no change"


def _side_text(name: str, side: Side, pairs: int) -> str:
    consumption = side.consumption
    if isinstance(consumption, NoEstimate):
        return f"{name:<9} cannot tell yet: {consumption.reason}"
    temp = f", at {side.temp_c:.0f} °C" if math.isfinite(side.temp_c) else ""
    speed = (f", {side.speed_m_s * 3.6:.1f} km/h while moving"
             if math.isfinite(side.speed_m_s) else "")
    return (f"{name:<9} {consumption.value:.0f} ± {consumption.half_width:.1f} "
            f"{consumption.unit} over {pairs} of {side.days} days{temp}{speed}")


def _bands_text(old: Sequence[SpeedBand], new: Sequence[SpeedBand]) -> list[str]:
    lines = ["by speed     before       after        of it in coils before, at least"]
    after = {band.from_kmh: band for band in new}
    for band in old:
        other = after.get(band.from_kmh)
        told = f"{other.wh_per_km:.0f} Wh/km" if other else _NO_BAND
        speed = f"{band.from_kmh:.0f}-{band.to_kmh:.0f} km/h"
        lines.append(f"{speed:<12} {f'{band.wh_per_km:.0f} Wh/km':<12} {told:<12} "
                     f"{100 * band.least_burnt:.0f} %")
    return [*lines, "The last column holds for a resistor speed control only. Slopes and loads are "
            "in these figures; the paired days above are the fair comparison."]


def bands_json(old: Sequence[SpeedBand], new: Sequence[SpeedBand]) -> dict[str, Any]:
    """The table by speed, both sides."""
    return {"speed_bands": {"before": [band.as_json() for band in old],
                            "after": [band.as_json() for band in new]}}
