"""A monitor whose frames go on while its figures stand still."""

from __future__ import annotations

from typing import Final

from .gaps import RESTING_A
from .record import Sample

#: A running number stands still after this long, and after so many of its longest steps. [s]
_NUMBER_S: Final = 3.0
_NUMBER_STEPS: Final = 5
#: So do all figures at once, of a monitor without a number, while amps flow. [s] Chosen here: a
#: charger's even amps keep a coarse display still for a minute (common practice, no source).
_FIGURES_S: Final = 120.0


class Standstill:
    """Watches the samples of one connection."""

    def __init__(self) -> None:
        self._said: object = None
        self._since_s = 0.0
        self._longest_s = 0.0
        self._is_told = False

    def words(self, sample: Sample) -> str:
        """What to say now: once for each standstill, else empty."""
        number = sample.values.get("sequence")
        said = number if number is not None else dict(sample.values)
        if said != self._said:
            if self._said is not None and not self._is_told:
                self._longest_s = max(self._longest_s, sample.monotonic_s - self._since_s)
            self._said, self._since_s, self._is_told = said, sample.monotonic_s, False
            return ""
        still_s = sample.monotonic_s - self._since_s
        if self._is_told or not self._is_standing(sample, still_s):
            return ""
        self._is_told = True
        what = "every figure" if number is None else f"the running number, {number:g},"
        return f"{what} stands still for {still_s:.0f} s while frames go on"

    def _is_standing(self, sample: Sample, still_s: float) -> bool:
        if "sequence" in sample.values:
            has_moved = self._longest_s > 0
            return has_moved and still_s >= max(_NUMBER_S, _NUMBER_STEPS * self._longest_s)
        amps = sample.values.get("current_a")
        return still_s >= _FIGURES_S and isinstance(amps, float | int) and abs(amps) > RESTING_A
