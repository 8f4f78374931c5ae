"""Colours that can be told from the paper."""

from __future__ import annotations

import pytest

from dashboard.theme import (
    DARK,
    FORCED,
    LIGHT,
    LINE_ROLES,
    NIGHT,
    PRINT,
    SUNLIGHT,
    TEXT_ROLES,
    THEMES,
    TRACE_ROLES,
    contrast,
    stylesheet,
    template,
)

PALETTES = {"light": LIGHT, "dark": DARK, "sunlight": SUNLIGHT, "night": NIGHT, "print": PRINT}


@pytest.mark.parametrize(("one", "other", "ratio"), [
    ("#000000", "#FFFFFF", 21.0),
    ("#FFFFFF", "#FFFFFF", 1.0),
    ("#777777", "#FFFFFF", 4.48),
])
def test_contrast_vs_wcag(one: str, other: str, ratio: float) -> None:
    """WCAG 2.2, "contrast ratio": black on white is 21:1, a colour on itself 1:1; #777777 on white
    falls just short of 4.5:1 (W3C, Understanding SC 1.4.3, from memory)."""
    assert contrast(one, other) == pytest.approx(ratio, abs=0.011)
    assert contrast(other, one) == contrast(one, other)


@pytest.mark.parametrize("palette", PALETTES)
@pytest.mark.parametrize("role", TEXT_ROLES)
@pytest.mark.parametrize("ground", ["paper", "desk"])
def test_text_stands_out(palette: str, role: str, ground: str) -> None:
    """Text has at least 4.5:1 (WCAG 2.2, criterion 1.4.3)."""
    colours = PALETTES[palette]

    assert contrast(colours[role], colours[ground]) >= 4.5


@pytest.mark.parametrize("palette", PALETTES)
@pytest.mark.parametrize("role", LINE_ROLES)
def test_lines_stand_out(palette: str, role: str) -> None:
    """A line on paper has at least 3:1 (WCAG 2.2, criterion 1.4.11)."""
    colours = PALETTES[palette]

    assert contrast(colours[role], colours["paper"]) >= 3.0


@pytest.mark.parametrize("role", [*TEXT_ROLES, *LINE_ROLES])
def test_sunlight_is_stronger(role: str) -> None:
    """Text and lines have at least 7:1 in sunlight (WCAG 2.2, criterion 1.4.6)."""
    assert contrast(SUNLIGHT[role], SUNLIGHT["paper"]) >= 7.0


@pytest.mark.parametrize("role", list(NIGHT))
def test_night_is_red(role: str) -> None:
    """Red leads by far in every colour; what eyes in the dark are dazzled by is held low."""
    red, green, blue = (int(NIGHT[role][i:i + 2], 16) for i in (1, 3, 5))

    assert green <= 0.6 * red
    assert blue <= 0.45 * red
    assert blue <= green


def test_every_palette_has_every_role() -> None:
    """A role that one theme lacks would be drawn in nothing."""
    assert all(set(palette) == set(LIGHT) for palette in (*PALETTES.values(), FORCED))
    assert set(THEMES) - {""} == set(PALETTES) - {"print"}
    assert set(TRACE_ROLES.values()) <= set(LIGHT)


def test_the_stylesheet_paints_every_trace() -> None:
    """Each trace is painted by its role, in light, dark and print."""
    sheet = stylesheet()

    assert all(f".trace{trace} .js-line{{stroke:var(--{role})!important}}" in sheet
               for trace, role in TRACE_ROLES.items())
    assert sheet.count(DARK["out"]) == 2  # chosen, and as the device
    assert sheet.count(NIGHT["muted"]) == sheet.count(SUNLIGHT["muted"]) == 1
    assert "@media print" in sheet


def test_the_template_hides_what_is_slow() -> None:
    """Hover and free scales make each redraw costly, so no figure has them."""
    layout = template().layout

    assert layout.hovermode is False
    assert layout.yaxis.fixedrange is True
