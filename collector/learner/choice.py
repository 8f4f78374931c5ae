"""From many candidates to one answer, or to an honest "cannot tell yet"."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np

from .candidates import Candidate, full_scale
from .codings import Form

#: How much likelier the best candidate has to be than the next one. [log10]
MARGIN: Final = 1.5
#: At most so many unrelated columns may be expected to agree as well. [log10]
CHANCE: Final = -1.3
#: For temperatures one in ten will do: what a display shows of them is nearly always sent. Chosen
#: here, and tried on figures that were not sent. [log10]
_CHANCE_OF_WARMTH: Final = -1.0
#: Finer steps that follow the counted charge worse by no more than this are part of percent, and
#: by more than that are something else. [log10]
_SAME_SUPPORT: Final = 0.3
_NOISE: Final = 1.0


@dataclass(frozen=True)
class Family:
    """Candidates that say the same in every frame: several wordings of one answer."""

    members: tuple[Candidate, ...]
    #: The plainest wording that has room for all that the quantity may do.
    chosen: Candidate

    @property
    def score(self) -> float:
        return max(member.score for member in self.members)


@dataclass(frozen=True)
class Verdict:
    """What is known about one quantity."""

    column: str
    #: The best first.
    families: tuple[Family, ...]
    #: Unrelated columns expected to agree with the readings, and with the rest of the capture,
    #: as well as the best one. [log10]
    log10_chance: float
    is_decided: bool

    @property
    def chosen(self) -> Candidate | None:
        return self.families[0].chosen if self.is_decided else None


def families(candidates: Iterable[Candidate],
             need: Callable[[Candidate], tuple[float, float]]) -> list[Family]:
    """Candidates grouped by what they say, the likeliest group first.

    ``need`` is the lowest and the highest figure that a wording has to have room for.
    """
    groups: dict[bytes, list[Candidate]] = {}
    for candidate in candidates:
        key = np.round(candidate.values, 6).astype(np.float64) + 0.0
        groups.setdefault(key.tobytes(), []).append(candidate)
    # The plainest with room enough.
    found = [Family(tuple(group), min(group, key=lambda c: (_lacking(c, *need(c)), *_plainness(c))))
             for group in groups.values()]
    return sorted(found, key=lambda family: -family.score)


def decide(column: str, tried: float, ranked: list[Family]) -> Verdict:
    """Decided where the best family is likelier than the next, and than chance, by far.

    ``tried`` is the number of hypotheses whose trace could have been this quantity, each by how
    usual it is.
    """
    if not ranked:
        return Verdict(column, (), 0.0, False)
    ranked = _withoutechoes(column, ranked)
    best = ranked[0]
    strength = min(best.chosen.support, 4.0) - max(best.chosen.cost, 0.0)
    log10_chance = float(np.log10(tried)) + min(m.log10_p for m in best.members) - strength
    margin = best.score - ranked[1].score if len(ranked) > 1 else np.inf
    chance = _CHANCE_OF_WARMTH if column.startswith("temp_") else CHANCE
    is_decided = bool(margin >= MARGIN and log10_chance < chance)
    return Verdict(column, tuple(ranked), log10_chance, is_decided)


def _withoutechoes(column: str, ranked: list[Family]) -> list[Family]:
    """Without families that say the same as a better one in coarser or finer steps.

    Fewer bits of the same bytes are one; the other is percent beside amp-hours left of a pack
    that holds 100: the whole-number one of a single byte is what displays show.
    """
    best, is_whole = ranked[0], False
    if column == "soc_pct":
        whole = [family for family in ranked[:4] if _is_whole_beside(family, best)]
        best, is_whole = (whole[0], True) if whole else (_in_full(best, ranked), False)
    return [best] + [family for family in ranked if family is not best and not (
        echoes(family, best) if is_whole else _is_same_reading(family, best) or (
            column == "soc_pct" and _adds_noise(family, best)))]


def _in_full(best: Family, ranked: list[Family]) -> Family:
    """The finest percent of the same bytes whose last bits follow the counted charge as well."""
    finer = [family for family in ranked if _is_same_reading(best, family)
             and family.chosen.support > best.chosen.support - _SAME_SUPPORT]
    return min(finer, key=lambda family: abs(family.chosen.scale), default=best)


def _adds_noise(family: Family, best: Family) -> bool:
    """Whether finer steps of the same bytes follow the counted charge worse: a flag is in them."""
    return _is_same_reading(best, family) and (
        family.chosen.support < best.chosen.support - _NOISE)


def _is_same_reading(family: Family, best: Family) -> bool:
    """Whether a family reads the same bytes, no finer, and says the same in nearly all frames."""
    one, other = family.chosen, best.chosen
    if not one.spot.bytes & other.spot.bytes or not echoes(family, best):
        return False
    return abs(one.scale) >= abs(other.scale)


def _is_whole_beside(family: Family, best: Family) -> bool:
    """Whole percent in one byte, or written out, that agrees with the best in other bytes."""
    one, other = family.chosen, best.chosen
    form = one.spot.form
    # A zero byte beside it could make it a wider figure: then nothing tells it is percent.
    is_alone = all(m.spot.form is None or m.spot.form.length == 1 or m.spot.form.mask
                   for m in family.members)
    is_short = form is None or form.coding == "digits" or (
        form.length == 1 and not form.mask and is_alone)
    return is_short and bool((one.values == np.round(one.values)).all()) and (
        family is best or not one.spot.bytes & other.spot.bytes) and echoes(family, best)


def echoes(one: Family, other: Family) -> bool:
    """Whether two traces differ by no more than the coarser one's steps."""
    step = max(abs(one.chosen.scale), abs(other.chosen.scale))
    apart = np.abs(one.chosen.values - other.chosen.values)
    return bool(np.mean(apart <= 1.01 * step) > 0.99)


def tells_one_way(candidate: Candidate) -> bool:
    """Whether a figure so read has no other side of zero, nor a flag that gives it one."""
    form = candidate.spot.form
    return (form is not None and candidate.flag is None and candidate.offset == 0
            and form.coding in ("unsigned", "bcd"))


def _lacking(candidate: Candidate, lowest: float, highest: float) -> float:
    """How far the figures that a wording can say fall short of these."""
    form = candidate.spot.form
    if form is None:
        return 0.0
    low, high = sorted(end * candidate.scale + candidate.offset for end in form.span())
    if candidate.flag is not None:
        low = -high
    return max(0.0, low - lowest) + max(0.0, highest - high)


def _plainness(candidate: Candidate) -> tuple[float, ...]:
    form = candidate.spot.form
    if form is None:
        return (0,)
    return (bool(form.mask), _order_of[form.coding], _length_rank(form, candidate),
            abs(candidate.offset), full_scale(form))


_order_of: Final = {"digits": 0, "unsigned": 1, "signed": 2, "offset-binary": 3, "bcd": 4,
                    "sign-magnitude": 5, "float": 6}


def _length_rank(form: Form, candidate: Candidate) -> int:
    """Digits and signs that were seen in all bytes count whole; else the shortest will do."""
    has_sign_seen = form.coding == "signed" and bool((candidate.values * candidate.scale < 0).any())
    return -form.length if form.coding == "digits" or has_sign_seen else form.length
