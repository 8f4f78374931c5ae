"""The running number that a monitor gives its samples: repeats, losses, late ones.

The number wraps at the width it is sent in; it is kept as it was told and never unwrapped. A step
other than the usual one is a loss, a small step back a frame that came late, a large one a
monitor that began anew.
"""

from __future__ import annotations

from collections import Counter
from typing import Final

from .record import Sample

#: A sample that says the same under the same number within this time was sent twice. [s] Chosen
#: here: a bridge repeats at once, and nothing new is said a hundred times a second.
_TWICE_S: Final = 0.02
#: A loss of more frames is a monitor that began anew, as is a step back of more.
_LOST_MAX: Final = 100
_LATE_MAX: Final = 16
#: Widths that running numbers are sent in. [bit]
_WIDTHS: Final = (8, 16, 24, 32)


class RunningNumber:
    """Follows the running number of one connection, if the monitor has one."""

    def __init__(self) -> None:
        #: ``lost_frames``, ``late_frames`` and ``repeated_frames``.
        self.counts: Counter[str] = Counter()
        self._last: Sample | None = None
        self._newest = -1
        self._highest = 0
        self._usual_step = 0

    def is_repeat(self, sample: Sample) -> bool:
        """Whether it is the sample before once more; takes note of its number if it is not."""
        number = sample.values.get("sequence")
        if not isinstance(number, float | int) or number < 0 or number % 1:
            return False
        last, self._last = self._last, sample
        if last is not None and last.values == sample.values \
                and sample.monotonic_s - last.monotonic_s < _TWICE_S:
            self.counts["repeated_frames"] += 1
            return True
        self._highest = max(self._highest, int(number))
        if self._newest < 0:
            self._newest = int(number)
        elif step := self._step_to(int(number)):
            self._count(int(number), step)
        return False

    def _step_to(self, number: int) -> int:
        """How far it is from the newest number, the short way round."""
        span = 1 << next((width for width in _WIDTHS if self._highest < 1 << width), 64)
        step = (number - self._newest) % span
        return step if step <= span // 2 else step - span

    def _count(self, number: int, step: int) -> None:
        usual = self._usual_step
        if -_LATE_MAX <= step < 0:
            self.counts["late_frames"] += 1
            self.counts["lost_frames"] -= self.counts["lost_frames"] > 0
            return
        self._newest = number
        if usual and step % usual == 0 and 0 < step // usual <= _LOST_MAX:
            self.counts["lost_frames"] += step // usual - 1
        elif step > 0:
            self._usual_step = min(usual, step) if usual else step
