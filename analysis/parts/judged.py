"""A whole parts list judged at the pack's figures, in words and as JSON."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from .breaker import Breaker, judge_breaker
from .cable import Cable, judge_cable
from .cautions import INFORMS, pack_caution
from .charger import Charger, judge_charger
from .coil import Coil, judge_coil
from .conversion import Comparison, Side, compare
from .converter import Converter, judge_converter
from .cutoff import Cutoff, judge_cutoff
from .frame_leakage import FrameLeakage, judge_frame_leakage
from .fuse import Fuse, judge_fuse
from .gauge import Gauge, judge_gauge
from .listing import Part, PartsList, cables_of
from .pack import PackFigures
from .precharge import Precharge, judge_precharge
from .verdict import Judged

SCHEMA: Final = "packhand.parts/1"
_JUDGES: Final[Mapping[type, Callable[[Any, PackFigures], Judged]]] = {
    Cable: judge_cable, Coil: judge_coil, Precharge: judge_precharge, Charger: judge_charger,
    Converter: judge_converter, Gauge: judge_gauge, Cutoff: judge_cutoff,
    FrameLeakage: judge_frame_leakage,
}


@dataclass(frozen=True, slots=True)
class JudgedParts:
    """Every part of a list with its verdict."""

    pack: PackFigures
    parts: tuple[Judged, ...]
    #: Lead against lithium; a sentence where a figure is missing; ``None`` where nobody asked.
    comparison: Comparison | str | None
    invented: bool

    @property
    def words(self) -> tuple[str, ...]:
        """At what volts and amps, then the parts by what to do with them."""
        amps = self.pack.rms_10_min_a
        load = f"{amps.text} over the worst ten minutes" if amps else "amps not known yet"
        groups: dict[str, list[str]] = {}
        names = Counter(part.name for part in self.parts)
        for part in sorted(self.parts, key=lambda one: _ORDER.index(one.verdict)):
            kind = f" ({part.kind})" if names[part.name] > 1 else ""
            groups.setdefault(part.action, []).append(part.name + kind)
        told = [f"{action[0].upper()}{action[1:]}: {', '.join(those)}."
                for action, those in groups.items()]
        compared = [self.comparison.words] if isinstance(self.comparison, Comparison) else []
        made_up = ["Invented data."] if self.invented else []
        return (*made_up, f"Parts at {self.pack.highest_v.text} and {load}.", *told, *compared)

    @property
    def cautions(self) -> tuple[str, ...]:
        return INFORMS, pack_caution(self.pack.highest_v.value)

    def as_json(self) -> dict[str, Any]:
        compared = self.comparison
        return {
            "schema": SCHEMA, "invented": self.invented, "words": " ".join(self.words),
            "pack": self.pack.as_json(), "parts": [part.as_json() for part in self.parts],
            "lead_against_lithium": compared.as_json() if isinstance(compared, Comparison) else (
                None if compared is None else {"value": None, "reason": compared}),
            "cautions": list(self.cautions),
        }

    def lines(self) -> list[str]:
        """The whole answer as text: words, cautions, each part with its arithmetic."""
        return [*self.words, "", *self.cautions,
                *(line for part in self.parts for line in ("", *_part_lines(part))),
                *_comparison_lines(self.comparison)]


_ORDER: Final = ("no", "cannot tell yet", "yes")


def judge_parts(listed: PartsList, pack: PackFigures) -> JudgedParts:
    """Every part of a list at the pack's figures."""
    cables = cables_of(listed.parts)
    judged = tuple(_judge(part, pack, cables) for part in listed.parts)
    compared = compare(listed.lead_acid, pack, listed.vehicle) if listed.lead_acid else None
    return JudgedParts(pack, judged, compared, listed.invented)


def _judge(part: Part, pack: PackFigures, cables: Mapping[str, Cable]) -> Judged:
    if isinstance(part, Breaker):
        return judge_breaker(part, pack, cables.get(part.protects))
    if isinstance(part, Fuse):
        return judge_fuse(part, pack, cables.get(part.protects))
    return _JUDGES[type(part)](part, pack)


def _part_lines(part: Judged) -> list[str]:
    lines = [f"{part.name} ({part.kind}). Keep it? {part.verdict}: {part.action}"]
    for one in part.checks:
        lines.append(f"  {one.question} {one.verdict}")
        lines += [f"      {line}" for line in one.arithmetic]
        if one.acceptable_if:
            lead = "acceptable with" if one.verdict == "no" else "next"
            lines.append(f"      {lead}: {one.acceptable_if}")
    return lines + [f"  Caution: {caution}" for caution in part.cautions]


def _comparison_lines(compared: Comparison | str | None) -> list[str]:
    if compared is None:
        return []
    if isinstance(compared, str):
        return ["", f"{compared[0].upper()}{compared[1:]}."]
    return ["", "Lead acid against lithium, at this vehicle's draw:",
            *(f"  {name}: {_side_text(side)}" for name, side in (
                ("lead acid", compared.lead), ("lithium", compared.lithium))),
            *(f"      {line}" for line in compared.arithmetic),
            *(f"  Caution: {caution}" for caution in compared.cautions)]


def _side_text(side: Side) -> str:
    parts = [f"usable {side.usable_wh.text}", f"{side.volts[0]:.0f} to {side.volts[1]:.1f} V"]
    if side.mass_kg is not None:
        parts.append(f"{side.mass_kg:g} kg")
    if side.range_km is not None:
        parts.append(f"range {side.range_km.text}")
    return ", ".join(parts)
