"""The card to tape to the dash: what the display's figures mean, from the pack's own record."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from analysis.asking.evidence import Evidence
from analysis.drive.usual_amps import UsualAmps
from analysis.estimate import Estimate, NoEstimate
from analysis.phrases import amps_size, day_text, hours_text, press_words, type_label

from ..quantities import number, unbroken
from ..shell import INVENTED
from ..wording import capital
from .paper import Block, Paper, Section, Table, Words

#: Percent that the card works out hours for.
PERCENTS: Final = (100, 50, 20)
#: Kept in the pack when turning round. [points] (common practice, no source)
RESERVE_PCT: Final = 10
_STARTS: Final = (100, 80, 60, 40)

CUT_OUT: Final = (
    "Brake, stop where it is safe, key off. Wait a minute, key on, pull gently: too many amps or "
    "one low cell is the usual cause. Note the time, the percent and what you did. If it cuts out "
    "again, do not try on: walk, or be towed the way the vehicle's maker says.")
CAUTION: Final = ("Hot smell, smoke, hiss or a swollen pack: get out and away, call for help. "
                  "Never bypass the management board. The maker's papers come first.")


def card(evidence: Evidence) -> Paper:
    """One page, A6; what no log tells is said."""
    return Paper(
        f"Your display: {evidence.pack or 'the pack'}",
        f"From {len(evidence.logs)} logs up to {day_text(evidence.season.end_s)}.",
        (Section("", (Words(sign_words(evidence), "sentence"),)),
         Section("What the hours are worth", tuple(_hours(evidence))),
         Section("Where to turn round", tuple(_turning())),
         Section("When it cuts out", (Words(CUT_OUT), Words(CAUTION, "caution")))),
        INVENTED if evidence.is_invented else "", "packhand informs; it protects nothing.", "A6")


def sign_words(evidence: Evidence) -> str:
    """Which sign is out, as the newest logs are read."""
    ways = {way for way in evidence.conventions if way != "undecided"}
    if ways == {"negative_is_discharge"}:
        return "Minus amps flow out of the pack: you are using it. Plus amps fill it."
    if ways == {"positive_is_discharge"}:
        return "Plus amps flow out of the pack: you are using it. Minus amps fill it."
    press = capital(press_words(evidence.vehicle_table.get("kind")))
    return f"{press}: the sign that shows then means out of the pack."


def _hours(evidence: Evidence) -> Iterator[Block]:
    usual, held = evidence.usual, evidence.season.capacity_now
    if isinstance(usual, NoEstimate):
        yield Words(f"Cannot be told yet: {usual.reason}.")
        return
    held_ah = held.value if isinstance(held, Estimate) else evidence.rated_ah
    if held_ah is None:
        yield Words(f"Cannot be told yet: {type_label('the rated amp-hours', 'rated_ah')}.")
        return
    yield Table("", ("You see", *(f"from {percent} %" for percent in PERCENTS)), tuple(
        (f"{amps_size(amps)}, {name}",
         *(unbroken(hours_text(percent / 100 * held_ah / amps)) for percent in PERCENTS))
        for name, amps in _kinds(usual)), (3, 1.4, 1.3, 1.3))
    badge = "measured" if isinstance(held, Estimate) else "typed"
    yield Words(unbroken(
        f"Until empty, at {number(held_ah, 0)} Ah ({badge}). The display's own hours follow the "
        f"amps of the last moments: on a hill they fall, downhill they leap. Most seen: "
        f"{amps_size(usual.most_a)}."), "small")


def _kinds(usual: UsualAmps) -> tuple[tuple[str, float], ...]:
    return ("usual", usual.usual_a), ("hard pull", usual.hard_a)


def _turning() -> Iterator[Block]:
    yield Table("", ("Started at", *(f"{start} %" for start in _STARTS)), (
        ("turn at", *(f"{turn_at(start):.0f} %" for start in _STARTS)),), (2, 1, 1, 1, 1))
    yield Words(f"Same way back, {RESERVE_PCT} % kept. Home is uphill, the load heavier or the "
                "wind against you: turn sooner.", "small")


def turn_at(start_pct: float, reserve_pct: float = RESERVE_PCT) -> float:
    """Percent at which half of what may be used is gone: ``(start + reserve) / 2``."""
    return (start_pct + reserve_pct) / 2
