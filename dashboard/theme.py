"""Colours by role, for each theme and for paper, and the one plotly template.

The screen takes its colours from style sheet variables, so that switching the theme, or printing,
needs no redraw: every trace carries its role as ``uid``, and the style sheet paints it.
The base hues are those of Okabe and Ito, "Color Universal Design" (2008), darkened for light
paper and lightened for dark until a line stands out at 3:1 and text at 4.5:1 (WCAG 2.2, criteria
1.4.11 and 1.4.3); in sunlight until text has 7:1 (criterion 1.4.6). Night is red alone, for eyes
that are used to the dark (common practice on bridges and in cockpits, no source); what is told by
hue elsewhere is told there by place, width and words. Tests hold the contrast.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import plotly.graph_objects as go

#: Green-ruled chart paper.
LIGHT: Final = {
    "desk": "#E6ECE4", "paper": "#FBFCF6", "grid": "#DDE8DA", "frame": "#A9BDAA",
    "ink": "#16211B", "muted": "#4C5B54", "out": "#B34A00", "in": "#005F99",
    "lowest": "#99406F", "ribbon": "#75867A", "mark": "#7A5B00", "pen": "#C0213B",
    "gap": "#E9E8DB",
}
DARK: Final = {
    "desk": "#0D1210", "paper": "#141B17", "grid": "#223029", "frame": "#47594E",
    "ink": "#E9F0E8", "muted": "#9DB0A4", "out": "#F0893D", "in": "#56B4E9",
    "lowest": "#E09CC2", "ribbon": "#7F9186", "mark": "#E0B64A", "pen": "#FF6B7A",
    "gap": "#1E2420",
}
SUNLIGHT: Final = {
    "desk": "#FFFFFF", "paper": "#FFFFFF", "grid": "#C9C9C9", "frame": "#000000",
    "ink": "#000000", "muted": "#1F1F1F", "out": "#8A2B00", "in": "#003E78",
    "lowest": "#7A1450", "ribbon": "#4A4A4A", "mark": "#5A3E00", "pen": "#B00020",
    "gap": "#DADADA",
}
NIGHT: Final = {
    "desk": "#000000", "paper": "#0A0000", "grid": "#2C0804", "frame": "#7A2012",
    "ink": "#FF5A3C", "muted": "#E8492F", "out": "#FF6A48", "in": "#D03A24",
    "lowest": "#FF8A66", "ribbon": "#B03020", "mark": "#FF7A55", "pen": "#FF3B20",
    "gap": "#1C0604",
}
PRINT: Final = LIGHT | {
    "desk": "#FFFFFF", "paper": "#FFFFFF", "grid": "#DDDDDD", "frame": "#888888",
    "ink": "#000000", "muted": "#333333", "gap": "#EEEEEE",
}

#: Where the system forces its own colours, everything takes them.
FORCED: Final = dict.fromkeys(LIGHT, "CanvasText") | {
    "desk": "Canvas", "paper": "Canvas", "grid": "GrayText", "gap": "Canvas", "pen": "Highlight",
}
#: What a person can choose -> its name; the first follows the device.
THEMES: Final = {"": "As the device", "light": "Light", "dark": "Dark", "sunlight": "Sunlight",
                 "night": "Night, red"}

#: What a trace shows -> the colour role it is painted in.
TRACE_ROLES: Final = {
    "out-area": "out", "in-area": "in", "out": "out", "in": "in", "volts": "ink",
    "percent": "ink", "ribbon": "ribbon", "lowest": "lowest", "temperature": "ink",
    "speed": "ink",
}
#: What a trace shows in the pictures of answers -> its role; those that begin with ``open-`` are
#: hollow points.
ANSWER_ROLES: Final = {
    "range": "ink", "dot": "ink", "range-told": "lowest", "dot-told": "lowest",
    "reference": "mark", "band": "ribbon", "middle": "ink", "ahead": "ink",
    "interval": "ink", "point": "ink", "open-point": "ink", "tick": "out",
    "pair": "ribbon", "before": "in", "open-before": "in", "after": "out",
}
#: Roles that are drawn as lines on paper, and roles that carry text.
LINE_ROLES: Final = ("ink", "out", "in", "lowest", "ribbon", "mark", "pen")
TEXT_ROLES: Final = ("ink", "muted", "mark")

#: Around the plotting area; the style sheet lays labels beside it by the same figures. [px]
MARGIN: Final = {"l": 46, "r": 16, "t": 20, "b": 30}
FONT: Final = "Public Sans, system-ui, sans-serif"


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two ``#RRGGBB`` colours, 1 to 21 (WCAG 2.2, "contrast ratio")."""
    low, high = sorted((_luminance(one), _luminance(other)))
    return (high + 0.05) / (low + 0.05)


def _luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.2, "relative luminance")."""
    parts = [int(colour[i:i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def template() -> go.layout.Template:
    """The template of every figure: ruled paper, no title, small muted labels."""
    axis = {"gridcolor": LIGHT["grid"], "linecolor": LIGHT["frame"], "zeroline": False,
            "showline": False, "ticks": "", "fixedrange": True,
            "tickfont": {"size": 12, "color": LIGHT["muted"]}}
    return go.layout.Template(layout={
        "paper_bgcolor": "rgba(0,0,0,0)", "plot_bgcolor": "rgba(0,0,0,0)",
        "font": {"family": FONT, "size": 13, "color": LIGHT["ink"]},
        "xaxis": axis | {"fixedrange": False}, "yaxis": axis | {"showline": True},
        "showlegend": False, "hovermode": False, "dragmode": "zoom", "separators": ". ",
        "margin": MARGIN,
    })


def stylesheet() -> str:
    """Style sheet with the colours of each role, and the paint of each trace."""
    dark = _variables(DARK)
    return "\n".join([
        f":root{{{_variables(LIGHT)}color-scheme:light dark}}",
        ":root[data-theme=light]{color-scheme:light}",
        f":root[data-theme=dark]{{{dark}color-scheme:dark}}",
        f":root[data-theme=sunlight]{{{_variables(SUNLIGHT)}color-scheme:light}}",
        f":root[data-theme=night]{{{_variables(NIGHT)}color-scheme:dark}}",
        f"@media (prefers-color-scheme:dark){{:root:not([data-theme]){{{dark}}}}}",
        f"@media (forced-colors:active){{:root,:root[data-theme]{{{_variables(FORCED)}}}}}",
        f"@media print{{:root,:root[data-theme]{{{_variables(PRINT)}color-scheme:light}}}}",
        *(_paint(trace, role) for trace, role in (TRACE_ROLES | ANSWER_ROLES).items()),
        *(_paint_points(trace, role) for trace, role in ANSWER_ROLES.items()),
    ])


def _variables(palette: Mapping[str, str]) -> str:
    return "".join(f"--{role}:{colour};" for role, colour in palette.items())


def _paint(trace: str, role: str) -> str:
    return (f".trace{trace} .js-line{{stroke:var(--{role})!important}}"
            f".trace{trace} .js-fill{{fill:var(--{role})!important}}")


def _paint_points(trace: str, role: str) -> str:
    fill = "paper" if trace.startswith("open-") else role
    return (f".trace{trace} .point{{fill:var(--{fill})!important;"
            f"stroke:var(--{role})!important}}")
