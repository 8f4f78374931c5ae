"""What a person read off the display, and when."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final, Self

from ..clock import from_iso_utc
from ..errors import ForeignFileError
from ..record import quantity_of

#: What can be typed: figures that displays show.
TYPED: Final = ("voltage_v", "current_a", "soc_pct", "temp_{n}_c", "cell_{n}_v")

_FIGURE = re.compile(r"[+-]?\d+(?:[.,](\d+))?")


@dataclass(frozen=True, slots=True)
class Reading:
    """One look at the display."""

    #: Unix time at which it was typed; the display may be some seconds behind. [ms, UTC]
    time_ms: int
    #: Figures by column, the sign as displayed.
    values: Mapping[str, float]
    #: One step of the last digit shown, by column: 0.1 for ``52.1``.
    steps: Mapping[str, float]

    @classmethod
    def from_texts(cls, time_ms: int, texts: Mapping[str, str], *,
                   is_fahrenheit: bool = False) -> Self:
        """From figures as typed; empty ones are left out. A decimal comma counts as a point.

        Parameters
        ----------
        is_fahrenheit
            Whether the temperatures are typed in °F: t/°C = (t/°F - 32) / 1.8 (NIST SP 811,
            appendix B.8).

        Raises
        ------
        ValueError
            If a text is not a number, or a column is none that a display shows.
        """
        values, steps = {}, {}
        for column, text in texts.items():
            typed = text.strip().replace("−", "-")
            if not typed:
                continue
            if not _can_type(column):
                raise ValueError(f"{column!r} is not one of {', '.join(TYPED)}")
            figure = _FIGURE.fullmatch(typed)
            if figure is None:
                raise ValueError(f"{column} = {text.strip()!r} is not a number")
            values[column] = float(typed.replace(",", "."))
            steps[column] = 10.0 ** -len(figure[1] or "")
            if is_fahrenheit and quantity_of(column).name == "temp_{n}_c":
                values[column] = (values[column] - 32) / 1.8
                steps[column] /= 1.8
        return cls(time_ms, values, steps)


def _can_type(column: str) -> bool:
    try:
        return quantity_of(column).name in TYPED
    except KeyError:
        return False


def parse_readings(lines: Iterable[str], where: str) -> list[Reading]:
    """Readings from the lines of a CSV with ``time`` and any of the columns of ``TYPED``.

    Raises
    ------
    ForeignFileError
        If there is no time column, or a time or figure cannot be read; names the line.
    """
    rows = csv.reader(line for line in lines if line.strip() and not line.startswith("#"))
    heads = [head.strip().removeprefix("\ufeff") for head in next(rows, [])]
    if "time" not in heads or not all(_can_type(head) for head in heads if head != "time"):
        raise ForeignFileError(
            where, f"columns {', '.join(heads) or 'none'}",
            f"typed readings need 'time' and any of {', '.join(TYPED)} with a number for {{n}}")
    readings = []
    for number, row in enumerate(rows, start=1):
        texts = dict(zip(heads, row, strict=False))
        try:
            time_ms = from_iso_utc(texts.pop("time").strip())
            readings.append(Reading.from_texts(time_ms, texts))
        except ValueError as error:
            raise ForeignFileError(f"{where}, reading {number}", str(error),
                                   "a row is 2026-04-02T08:15:00Z,52.1,-23.4") from None
    return sorted(readings, key=lambda reading: reading.time_ms)
