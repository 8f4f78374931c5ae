"""Display: typed figures, what they say about each other, and the one thing to check."""

from __future__ import annotations

import pytest

from dashboard.pages import display
from dashboard.shell import Place
from tests.dashboard.test_pages import text_of


def shown(**typed: str) -> str:
    return text_of([part for part in display.content(Place(query=typed)) if part])


@pytest.mark.scenario(6)
def test_the_triangle_of_figures() -> None:
    """23 A, 91 % and 3 h 10 min agree if 100 % is 23 x 3.167 / 0.91 = 80 Ah (arithmetic), so a
    display set to 105 Ah disagrees, and the likeliest reason comes with its check."""
    open_ = shown(amps="\N{MINUS SIGN}23", percent="91", hours="3:10")
    told = shown(amps="-23", percent="91", hours="3 h 10", capacity="105")

    assert "80\N{NO-BREAK SPACE}Ah" in open_
    assert "Cannot tell yet. " in open_
    assert "What may be behind it" in told
    assert "To check" in told
    assert open_.index("What does it mean?") < open_.index("Cannot tell yet. ")


def test_the_sentence_is_short() -> None:
    """What the amps mean stands large; what to do about it smaller below."""
    first, second, *_ = display.content(Place(query={"amps": "-23", "hours": "3"}))

    assert "Press the pedal" not in text_of(first)  # type: ignore[arg-type]
    assert "Press the pedal" in text_of(second)  # type: ignore[arg-type]


@pytest.mark.parametrize(("typed", "hours"), [
    ("3:10", 3 + 1 / 6), ("3 h 10", 3 + 1 / 6), ("3,5", 3.5), ("3h", 3.0), ("soon", None),
    ("-1", None), ("nan", None), ("", None)])
def test_hours_as_people_type_them(typed: str, hours: float | None) -> None:
    """Hours and minutes, a decimal point or comma; what is no time is left open."""
    assert display.hours_of(typed) == (None if hours is None else pytest.approx(hours))


def test_nothing_typed_teaches() -> None:
    """The page says what to type; rubbish is as good as nothing."""
    assert display.TEACH in shown()
    assert display.TEACH in shown(amps="much", percent="<b>")
