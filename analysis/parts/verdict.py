"""What a check of a part gives back: questions, each with a verdict and its arithmetic."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from ..estimate import Verdict


@dataclass(frozen=True, slots=True)
class Check:
    """One question about a part."""

    question: str
    verdict: Verdict
    #: The figures and the sum, line by line.
    arithmetic: tuple[str, ...]
    #: What would make a "no" a "yes", or settle a "cannot tell yet".
    acceptable_if: str = ""
    #: What a "no" asks for, where that is something else than for the part as a whole.
    if_no: str = ""

    def as_json(self) -> dict[str, Any]:
        return {"question": self.question, "verdict": self.verdict,
                "arithmetic": list(self.arithmetic), "acceptable_if": self.acceptable_if}


def check(question: str, is_met: bool | None, arithmetic: tuple[str, ...],
          acceptable_if: str, if_no: str = "") -> Check:
    """A check from whether its condition is met; ``None`` where that is unknown.

    A check that is met carries no ``acceptable_if``.
    """
    if is_met:
        return Check(question, "yes", arithmetic)
    return Check(question, "cannot tell yet" if is_met is None else "no", arithmetic,
                 acceptable_if, if_no)


def unknown(question: str, reason: str, next_step: str) -> Check:
    """A check that lacks a figure: which, and how to get it."""
    return Check(question, "cannot tell yet", (reason,), next_step)


@dataclass(frozen=True, slots=True)
class Judged:
    """One part with its checks."""

    kind: str
    name: str
    checks: tuple[Check, ...]
    cautions: tuple[str, ...]
    #: What a "no" asks for.
    if_no: str = "replace"

    @property
    def verdict(self) -> Verdict:
        """Whether it may stay as it is: "no" outweighs "cannot tell yet", that outweighs "yes"."""
        found = {one.verdict for one in self.checks}
        if "no" in found:
            return "no"
        return "yes" if found == {"yes"} else "cannot tell yet"

    @property
    def action(self) -> str:
        """What to do, in a few words."""
        if self.verdict == "no":
            asked = {one.if_no for one in self.checks if one.verdict == "no"}
            # One fault that the whole part must answer for outweighs those that can be mended.
            return self.if_no if "" in asked else ", ".join(sorted(asked))
        return "keep, at these figures" if self.verdict == "yes" else "find out first"

    def as_json(self) -> dict[str, Any]:
        return {"kind": self.kind, "name": self.name, "verdict": self.verdict,
                "action": self.action, "checks": [one.as_json() for one in self.checks],
                "cautions": list(self.cautions)}
