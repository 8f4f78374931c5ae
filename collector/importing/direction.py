"""Amps whose direction stands in another column: joined into one signed column.

The result is in packhand's sign, positive into the pack; the file itself has told it.
"""

from __future__ import annotations

from typing import Any, Final

import pyarrow as pa
import pyarrow.compute as pc

#: Words a direction is written in. [+1 into the pack, -1 out of it, 0 neither]
DIRECTION_WORDS: Final = {
    1: ("charge", "charging", "chg", "chrg", "in", "+", "laden", "ladung", "regen"),
    -1: ("discharge", "discharging", "dchg", "dischg", "dsg", "out", "-", "entladen",
         "entladung", "drive", "driving"),
    0: ("idle", "rest", "resting", "standby", "stop", "off", "none", "ruhe", "paus", "pause"),
}
_FACTOR: Final = {word: float(way) for way, words in DIRECTION_WORDS.items() for word in words}
#: Share of filled fields that must be known words.
_KNOWN_MIN: Final = 0.98
_TRUE: Final = ("1", "true", "yes", "on")
_FALSE: Final = ("0", "false", "no", "off")


def settled_sign(words: str) -> dict[str, Any]:
    """The sign decision of a log whose amps were joined here; ``words`` say by what."""
    return {"convention": "negative_is_discharge", "decided_by": "file", "words": words}


def join_in_and_out(charge_a: pa.Array, discharge_a: pa.Array) -> pa.Array:
    """One signed column of two that each count their own way; missing where both are."""
    both_missing = pc.and_(pc.is_null(charge_a), pc.is_null(discharge_a))
    signed = pc.subtract(pc.abs(charge_a).fill_null(0.0), pc.abs(discharge_a).fill_null(0.0))
    return pc.if_else(both_missing, pa.scalar(None, pa.float64()), signed)


def direction_factors(column: pa.Array, *, true_means: int = 0) -> pa.Array | None:
    """+1, -1 or 0 for each row of a direction column, ``None`` if its words are not known.

    ``true_means`` is +1 for a column named "charging", -1 for one named "discharging", whose
    fields say true or false; with 0 only words are read, for a bare 0 or 1 tells nothing.
    """
    text = column
    if pa.types.is_floating(column.type):
        text = pc.cast(pc.round(column), pa.int64(), safe=False).cast(pa.string())
    text = pc.utf8_lower(pc.utf8_trim_whitespace(text.cast(pa.string())))
    known = dict(_FACTOR)
    if true_means:
        known |= dict.fromkeys(_TRUE, float(true_means)) | dict.fromkeys(_FALSE, -float(true_means))
    words = text.dictionary_encode()
    table = pa.array([known.get(word) for word in words.dictionary.to_pylist()], pa.float64())
    factors = table.take(words.indices)
    filled = len(text) - text.null_count
    enough = filled and (len(factors) - factors.null_count) / filled >= _KNOWN_MIN
    return factors if enough else None


def apply_direction(amps: pa.Array, factors: pa.Array) -> pa.Array | None:
    """Unsigned amps with their direction; ``None`` if the amps carry a sign already.

    Where the direction says neither, amps are kept only if they are zero; else missing.
    """
    if (pc.min(amps).as_py() or 0.0) < 0:
        return None
    signed = pc.multiply(amps, factors)
    astray = pc.and_(pc.equal(factors, 0.0), pc.greater(amps, 0.0))
    return pc.if_else(astray.fill_null(False), pa.scalar(None, pa.float64()), signed)
