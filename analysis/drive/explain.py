"""What a display's figures mean: typed ones, or those at the end of a log."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from ..one_log.agreement import Agreement, Reading, check_figures
from ..one_log.instrument import sign_of_log
from ..one_log.sign import SignFinding, apply_sign
from ..phrases import amps_size, watts_size
from ..telemetry import Telemetry
from .remaining import last_means_a
from .words import moment_sentence, moments_of


@dataclass(frozen=True, slots=True)
class Explained:
    """Sentences about the figures, and whether they agree."""

    sentences: tuple[str, ...]
    #: ``None`` where the log does not tell hours left, so that there is nothing to compare.
    agreement: Agreement | None
    sign: SignFinding | None = None

    def lines(self) -> list[str]:
        """The answer as a person reads it."""
        if self.agreement is None:
            return list(self.sentences)
        lines = [*self.sentences, self.agreement.words]
        if self.agreement.explanations:
            lines.append("What may be behind it, likeliest first:")
            lines += [f"  - {e.words}; to check: {e.check}" for e in self.agreement.explanations]
        return lines

    def as_json(self) -> dict[str, Any]:
        return {"schema": "packhand.explain/1", "sentences": list(self.sentences),
                "agreement": self.agreement.as_json() if self.agreement else None,
                "sign": self.sign.as_json() if self.sign else None}


#: A typed figure says nothing of the vehicle.
_PRESS: Final = ("Press the pedal, push the throttle or switch a big load on: if the figure grows, "
                 "its sign means out.")


def explain_figures(reading: Reading) -> Explained:
    """Explain typed figures. Their sign cannot be told from one reading, and that is said."""
    return Explained(_typed_sentences(reading), check_figures(reading))


def _typed_sentences(reading: Reading) -> tuple[str, ...]:
    if reading.current_a is None:
        return ()
    size = amps_size(reading.current_a)
    watts = "" if reading.voltage_v is None else (
        f", {watts_size(reading.current_a * reading.voltage_v)}")
    if reading.hours_left is not None:
        return (f"{size}{watts}, and hours left are counting: most likely out of the pack. "
                + _PRESS,)
    return (f"{size}{watts}. Whether that sign means in or out differs between displays. "
            + _PRESS,)


def explain_log(telemetry: Telemetry, capacity_ah: float | None = None) -> Explained:
    """Explain the last figures of a log, as loaded."""
    finding = sign_of_log(telemetry)
    signed = apply_sign(telemetry, finding)
    amps = np.flatnonzero(np.isfinite(signed["current_a"]))
    moments = moments_of(signed, capacity_ah)
    sentences = [finding.words]
    if len(amps):
        sentences.append(moment_sentence(moments.at(int(amps[-1])), finding))
    reading = Reading(_last(signed, "current_a"), _last(signed, "soc_pct"),
                      _last(signed, "time_left_h"), _last(signed, "voltage_v"), capacity_ah,
                      last_means_a(signed))
    agreement = check_figures(reading) if reading.hours_left is not None else None
    return Explained(tuple(sentences), agreement, finding)


def _last(telemetry: Telemetry, column: str) -> float | None:
    values = telemetry[column]
    finite = values[np.isfinite(values)]
    return float(finite[-1]) if len(finite) else None
