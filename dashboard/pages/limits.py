"""Pack & limits: what the labels of pack, board and vehicle say, typed once and changed here."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final
from urllib.parse import urlencode

from dash import Dash, dcc, html
from dash.development.base_component import Component

from analysis.estimate import Verdict
from analysis.limits import Limits
from analysis.phrases import amps_size
from collector.errors import PackhandError

from ..elements import (
    Fact,
    Given,
    Why,
    aside,
    caution,
    facts,
    section,
    sentence,
    teach,
    title,
    verdict,
)
from ..label_shelf import ALARM_CAUTION, GROUPS, Group, Row
from ..markup import aria
from ..quantities import unbroken
from ..recency import date_words
from ..shell import Place
from ..store import Store
from ..typed_form import chosen_field, sent_form, typed_field
from ..wording import capital

PATH: Final = "/limits"
TITLE: Final = "Pack & limits"
GROUP: Final = "Kit"
#: Where a form is sent.
ROUTE: Final = "/labels"

#: What each form is headed, and what the way to it says is typed.
HEADINGS: Final[dict[Group, str]] = {
    "pack": "The pack's label", "limits": "What its board allows",
    "alarms": "What you want to hear of", "vehicle": "The vehicle"}
WAYS: Final[dict[Group, str]] = {
    "pack": "the pack's label", "limits": "what the board allows",
    "alarms": "what you want to hear of", "vehicle": "what it is and weighs"}
TEACH: Final = "Nothing is typed of the pack yet. Type first the amp-hours on its label."
ONLY_READS: Final = ("Nothing here is written to the management board: packhand only holds your "
                     "logs against these figures. They stand in logbook.toml.")
ALARMS: Final = ("Told while a log is recorded, with a sound on Now; a change counts from the next "
                 "recording on.")
RATING: Final = "What board and breaker protect is set by the maker: type what the label says."
#: Figures of pack and board that other pages wait for.
NEEDED: Final = ("rated_ah", "continuous_a", "peak_a")


def layout(store: Store, place: Place) -> Component:
    try:
        inside = _inside(store, place)
    except PackhandError as error:
        inside = [teach(str(error))]
    return html.Div([title(TITLE), *inside], className="page limits")


def register(app: Dash, store: Store) -> None:
    """Forms are sent by ``assets/diary.js``; the page is drawn anew then."""


def _inside(store: Store, place: Place) -> list[Component | None]:
    packs, vehicles = store.labels.names("pack"), store.labels.names("vehicle")
    pack = _chosen(place.query.get("pack"), packs)
    for group in GROUPS:
        if group == place.query.get("type"):
            names = vehicles if group == "vehicle" else packs
            return _writing(store, group, _chosen(place.query.get("name"), names), pack)
    return _reading(store, pack, packs, vehicles)


def _chosen(asked: str | None, names: Sequence[str]) -> str:
    """A name from the address is only ever compared with those that are known."""
    return asked if asked is not None and asked in names else names[0]


def _reading(store: Store, pack: str, packs: Sequence[str],
             vehicles: Sequence[str]) -> list[Component | None]:
    """What is typed, and a way to each form."""
    label, board, alarms = (store.labels.rows(group, pack, store.units)
                            for group in ("pack", "limits", "alarms"))
    limits = store.labels.limits(pack)
    return [
        sentence(opening(pack, [*label, *board])),
        _others(packs, pack),
        aside(ONLY_READS),
        _typed("pack", label, pack, pack),
        _typed("limits", board, pack, pack, caution(RATING)),
        _breaker(limits),
        *(_typed("vehicle", store.labels.rows("vehicle", name, store.units), name, pack)
          for name in vehicles),
        _typed("alarms", alarms, pack, pack, aside(ALARMS), caution(f"{capital(ALARM_CAUTION)}.")),
        verdict(*ending([*label, *board], limits)),
    ]


def opening(pack: str, rows: Sequence[Row]) -> str:
    """What the labels say, the figures first that answers rest on."""
    told = {row.key: row.figure for row in rows if row.figure}
    if not told:
        return TEACH
    gives = [f"{told[key]}{words}" for key, words in (
        ("continuous_a", " continuously"),
        ("peak_a", f" for {told['peak_s']}" if "peak_s" in told else " for a short time"))
        if key in told]
    parts = [f"{told['rated_ah']} by its label"] if "rated_ah" in told else []
    parts += [f"its board allows {' and '.join(gives)}"] if gives else []
    parts = parts or [f"{len(told)} figures are typed" if len(told) > 1 else "one figure is typed"]
    return unbroken(f"{_called(pack)}: {'; '.join(parts)}.")


def ending(rows: Sequence[Row], limits: Limits) -> tuple[Verdict, str, str]:
    """Whether what other pages wait for is typed, and what to look up next."""
    missing = [f"{row.words}: {row.found}; it tells {row.serves}" for row in rows
               if row.key in NEEDED and not row.figure]
    if not math.isfinite(limits.breaker_a):
        missing.append("the breaker between pack and controller: list it under Parts")
    if not missing:
        return "yes", "What the other pages wait for is typed.", (
            "look again whenever board, breaker or pack is replaced")
    wanted = len(NEEDED) + 1
    return "no", (f"{len(missing)} of {wanted} figures that other pages wait for are not typed "
                  "yet."), f"{missing[0]}."


def _others(packs: Sequence[str], pack: str) -> Component | None:
    """Ways to the other packs."""
    if len(packs) < 2:
        return None
    return html.Nav([html.Span(
        dcc.Link(_called(name), href=_to(pack=name)), className="kind",
        **(aria(current="true") if name == pack else {})) for name in packs],
        className="kinds", **aria(label="Packs"))


def _typed(group: Group, rows: Sequence[Row], name: str, pack: str,
           *more: Component) -> Component:
    known = [row for row in rows if row.figure]
    open_ones = [row.words for row in rows if not row.figure]
    heading = HEADINGS[group] + (f": {name}" if group == "vehicle" and name else "")
    way = dcc.Link(f"{'Change' if known else 'Type'} {WAYS[group]}",
                   href=_to(type=group, name=name, pack=pack), className="press")
    if not known:
        return section(heading, way, *more)
    return section(heading, facts(map(_fact, known)), _open(group, open_ones), way, *more)


def _open(group: Group, words: Sequence[str]) -> Component | None:
    """What nobody typed; of alarms most people want but a few."""
    if not words:
        return None
    return aside(f"{len(words)} others can be typed." if group == "alarms" else
                 f"Not typed: {', '.join(words)}.")


def _fact(row: Row) -> Fact:
    before = (f"{_figure(row.before[0])} until {date_words(row.before[1].date())}"
              if row.before else "")
    serves = f"; it tells {row.serves}" if row.serves else ""
    return Fact(capital(row.words), _figure(row.figure), before, "typed", Why(
        f"Found: {row.found}{serves}.",
        (Given("typed before", before, "typed"),) if before else ()))


def _figure(words: str) -> str:
    return unbroken(words.replace("-", "\N{MINUS SIGN}"))


def _breaker(limits: Limits) -> Component:
    """The breaker of the parts list; it is typed there."""
    way = dcc.Link("Go to Parts", href="/parts", className="press")
    if not math.isfinite(limits.breaker_a):
        return section("The breaker", aside("None is listed."), way)
    return section("The breaker", facts(_of_breaker(limits)), way)


def _of_breaker(limits: Limits) -> Iterator[Fact]:
    marked = f"{limits.breaker_v:g} V DC" if math.isfinite(limits.breaker_v) else ""
    yield Fact("Main breaker", unbroken(amps_size(limits.breaker_a)),
               unbroken(f"marked {marked}" if marked else "volts not typed"), "typed", Why(
                   "the smallest thermal breaker of the list that carries the pack's own amps"))


def _writing(store: Store, group: Group, name: str, pack: str) -> list[Component | None]:
    """The form of one table."""
    rows = store.labels.rows(group, name, store.units)
    sent = {"group": group, "name": name, "edition": store.labels.edition()}
    fields = [_field(row) for row in rows]
    return [
        sentence(f"{HEADINGS[group]}{f': {name}' if name else ''}."),
        aside("Leave open what you do not know. What you replace stays in the Diary with its day."),
        caution(f"{capital(ALARM_CAUTION)}.") if group == "alarms" else None,
        html.Div([sent_form([html.Div(fields, className="part-fields")],
                            html.Button("Keep it", className="strong"), sent, ROUTE,
                            _to(pack=pack))], className="part-form"),
        dcc.Link("Back without a change", href=_to(pack=pack), className="press"),
    ]


def _field(row: Row) -> Component:
    if row.choices:
        choices = {word: f"{word}: {meant}" for word, meant in row.choices.items()}
        return chosen_field(capital(row.words), row.key, row.figure, choices, row.found)
    return typed_field(capital(row.words), row.key, row.figure, is_text=row.is_text,
                       hint=row.found)


def _to(**query: str) -> str:
    known = {key: value for key, value in query.items() if value}
    return f"{PATH}?{urlencode(known)}" if known else PATH


def _called(pack: str) -> str:
    return pack or "The pack"
