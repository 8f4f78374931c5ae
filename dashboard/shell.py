"""What surrounds every page: the head of the document, the name, the ways to the pages."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final, Protocol
from urllib.parse import parse_qs, unquote

from dash import Dash, dcc, html
from dash.development.base_component import Component

from .markup import aria, data
from .quantities import CHOICES, Units
from .store import Store
from .theme import THEMES, stylesheet


@dataclass(frozen=True, slots=True)
class Place:
    """Where a person is: the part of the address after the page's own, and its query."""

    rest: str = ""
    query: dict[str, str] = field(default_factory=dict)


class Page(Protocol):
    """What a page module offers."""

    #: Address; a page that shows one of many things ends it with a slash.
    PATH: str
    #: Title of the document, and label of the way to it.
    TITLE: str
    #: The group of pages in which its way stands, one of ``GROUPS``; empty if in none.
    GROUP: str

    def layout(self, store: Store, place: Place) -> Component:
        """The page's content, begun by a heading of the first level."""

    def register(self, app: Dash, store: Store) -> None:
        """Add the page's callbacks."""


#: The groups of the menu, in its order.
GROUPS: Final = ("Drive", "Pack", "Ahead", "Kit", "Papers")

DOCUMENT = """<!DOCTYPE html>
<html lang="en">
<head>
{%metas%}
<title>packhand</title>
{%favicon%}
<script src="/assets/theme-first.js"></script>
<style>PAINT</style>
{%css%}
</head>
<body>
<noscript>packhand's pages need JavaScript, from this machine only.</noscript>
{%app_entry%}
{%config%}{%scripts%}{%renderer%}
</body>
</html>""".replace("PAINT", stylesheet())

INVENTED: Final = "Invented data: a rehearsal, nobody's vehicle."
CAUTION = ("packhand informs; it protects nothing. The board, the fuse and the breaker protect. "
           "The maker's manual and your local code come first.")


def frame(usual: Units, *, is_invented: bool = False) -> Component:
    """The document's body, into which pages are put.

    Parameters
    ----------
    usual
        Units where nothing is chosen.
    is_invented
        The whole logbook is invented; said on every page.
    """
    return html.Div([
        dcc.Location(id="place", refresh="callback-nav"),
        html.A("Skip to the page", href="#page", className="skip"),
        html.Header([
            html.A("packhand", href="/", className="wordmark"),
            html.Nav(id="menu", **aria(label="Pages")),
            _choices(usual),
        ], className="top"),
        html.P(INVENTED, className="invented") if is_invented else None,
        html.Main(id="page", tabIndex=-1),
        html.Footer(CAUTION, className="caution"),
        dcc.Store(id="page-title"),
        dcc.Store(id="page-titled"),
    ], className="desk")


def _choices(usual: Units) -> Component:
    """Colours and units, kept in this browser by ``assets/choices.js``."""
    lists = [_choice(name, words, CHOICES[name], getattr(usual, name))
             for name, words in (("distance", "Distance"), ("temperature", "Temperature"),
                                 ("consumption", "Energy use"), ("mass", "Weight"),
                                 ("torque", "Torque"))]
    return html.Details([html.Summary("Screen"), html.Div([
        _choice("theme", "Colours", THEMES, ""), *lists,
        html.P("Kept in this browser, not in the logbook.", className="small")])],
        className="choices", id="choices")


def _choice(name: str, words: str, values: Mapping[str, str], usual: str) -> Component:
    return html.Label([words, html.Select(
        [html.Option(told, value=value) for value, told in values.items()],
        id=f"choice-{name}", **data(choice=name, usual=usual))])


def menu(pages: Sequence[Page], current: Page | None) -> list[Component]:
    """Ways to the groups of pages, and below them to the pages of the group that is open."""
    here = _menu_entry(pages, current)
    groups = {group: [page for page in pages if group == page.GROUP] for group in GROUPS}
    group = here.GROUP if here else ""
    tops = [_way(name, inside[0].PATH, "true" if name == group else "")
            for name, inside in groups.items() if inside]
    siblings = [_way(page.TITLE, page.PATH, "page" if page is here else "")
                for page in groups.get(group, [])]
    return [html.Div(tops, className="groups"), html.Div(siblings, className="siblings")]


def _way(words: str, path: str, current: str) -> Component:
    return html.Span(dcc.Link(words, href=path), className="way",
                     **(aria(current=current) if current else {}))


def _menu_entry(pages: Sequence[Page], current: Page | None) -> Page | None:
    """The menu's page that an address belongs to: the page itself or the one above it."""
    if current is None or current.GROUP:
        return current
    above = current.PATH.rstrip("/")
    return next((page for page in pages if page.GROUP and above == page.PATH), None)


def find_page(pages: Sequence[Page], path: str, search: str) -> tuple[Page, Place] | None:
    """The page of an address, and the place in it; ``None`` if there is none."""
    query = {key: values[-1] for key, values in parse_qs(search.lstrip("?")).items()}
    clean = unquote(path).rstrip("/") or "/"
    for page in pages:
        if clean == page.PATH:
            return page, Place(query=query)
    for page in pages:
        if page.PATH.endswith("/") and page.PATH != "/" and clean.startswith(page.PATH):
            return page, Place(clean.removeprefix(page.PATH), query)
    return None


def no_such_page() -> Component:
    return html.Div([html.H1("There is no such page."),
                     html.P(["Go to ", dcc.Link("Now", href="/"), " or ",
                             dcc.Link("Drives", href="/drives"), "."])])
