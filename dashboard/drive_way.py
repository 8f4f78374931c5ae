"""The way of a drive by the name that a person gives it, told and typed on the drive's page."""

from __future__ import annotations

from typing import Final

from dash import html
from dash.development.base_component import Component

from analysis.asking.told import ROUTE
from analysis.telemetry import Telemetry

from .elements import aside, fold
from .store import Store
from .typed_form import sent_form, typed_field

TEACH: Final = ("Drives whose way has one name foretell that way under Reach, and are held "
                "against each other under Compare.")


def way_part(store: Store, stem: str, telemetry: Telemetry) -> Component | None:
    """The name of a drive's way and a small form for it; nothing for what is no drive."""
    if telemetry.meta.get("kind") in ("charge", "rest"):
        return None
    named = store.ways()
    own, known = named.get(stem, ""), sorted(set(named.values()), key=str.casefold)
    sent = {"kind": ROUTE, "at": telemetry.start.isoformat(),
            "pack": str(telemetry.meta.get("pack", ""))}
    return html.Div([
        html.P(f"It went the way “{own}”.") if own else None,
        fold("Name its way anew" if own else "Name its way", aside(TEACH), aside(
            f"Names so far: {', '.join(f'“{name}”' for name in known)}." if known else ""),
             sent_form([typed_field("Name of the way", "value", own, is_text=True,
                                    hint="such as jetty and back")],
                       html.Button("Keep the name", className="strong"), sent, "/notes",
                       f"/drives/{stem}")),
    ])
