"""Guided drives in words: what to do at each step, on land, on water and where nothing drives."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from analysis.one_log.guided import Step

from .label_shelf import BOAT, HOUSE, WHEELS


@dataclass(frozen=True, slots=True)
class Prompt:
    """A step and the words for it."""

    step: Step
    words: str


@dataclass(frozen=True, slots=True)
class Guide:
    """A drive of several prompts."""

    title: str
    prompts: tuple[Prompt, ...]


@dataclass(frozen=True, slots=True)
class Speech:
    """How one kind of vehicle is spoken to."""

    caution: str
    press: str
    test: str
    still: str
    go: str
    stop: str
    full: str
    ease: str
    again: str
    leave: str

    def guides(self) -> dict[str, Guide]:
        """The drives that can be chosen, by the name in the address."""
        return {
            "sign": Guide(f"{self.press}: what does minus mean?", (
                Prompt(Step("stand", 8), self.still),
                Prompt(Step("pull", 3), self.go),
                Prompt(Step("stand", 8), self.stop))),
            "test": Guide(f"{self.test}: sag, resistance and how warm it gets", (
                Prompt(Step("stand", 10), self.still),
                Prompt(Step("pull", 5), self.full),
                Prompt(Step("ease", 5), self.ease),
                Prompt(Step("stand", 10), self.stop),
                Prompt(Step("pull", 5), self.again),
                Prompt(Step("stand", 60), self.leave)))}


SPEECHES: Final[Mapping[str, Speech]] = {
    WHEELS: Speech(
        "A helper reads the prompts and the figures; the driver watches the road and stops "
        "whenever it is wiser. Nothing is lost if a step is left out.",
        "One press of the pedal", "A test drive", "Stand still, foot off the pedal.",
        "Press the pedal and pull away.", "Stop, foot off the pedal.",
        "Full pedal, up the drive or to the next tree.", "Ease off and roll on gently.",
        "Full pedal once more.", "Park, and leave everything as it is for a minute."),
    BOAT: Speech(
        "A helper reads the prompts and the figures; whoever steers keeps the look-out, on open "
        "water, stop cord and life jacket on, nobody swimming near, and stops whenever it is "
        "wiser. Nothing is lost if a step is left out.",
        "One push of the throttle", "A test run", "Lie still, throttle at zero.",
        "Push the throttle and get under way.", "Throttle back to zero.",
        "Full throttle, straight ahead on open water.", "Half throttle, and run on gently.",
        "Full throttle once more.", "Throttle at zero; leave everything as it is for a minute."),
    HOUSE: Speech(
        "Only loads that the converter and its cables are made for; feel nothing that may be hot. "
        "Behind a converter there is mains voltage, which can kill. Nothing is lost if a step is "
        "left out.",
        "One big load on and off", "A test with a big load", "Every load and charger off.",
        "Switch one big load on, such as a kettle.", "Switch it off again.",
        "The biggest load on that it is made for.",
        "Leave on less than half of it, such as a lamp.", "The biggest load once more.",
        "All off; leave everything as it is for a minute."),
}
