"""The way of a drive is named on its page."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path

from collector.logbook import Logbook
from dashboard.app import create_app
from dashboard.drive_way import way_part
from dashboard.store import Store
from tests.dashboard.demo_logs import make_logbook
from tests.dashboard.test_pages import text_of


def drive_of(store: Store) -> str:
    """The newest drive, once the logbook is read."""
    store.begin_reading()
    store.settle(60)
    return next(entry.stem for entry, summary in store.logs()
                if summary is not None and summary.kind == "drive")


def shown(store: Store, stem: str) -> str:
    part = way_part(store, stem, store.recording(stem).telemetry)
    assert part is not None
    return text_of(part)


def test_a_way_is_named_and_named_anew(tmp_path: Path) -> None:
    """What the form sends is kept as a note of that drive alone, and told as it was typed last."""
    store = Store(make_logbook(tmp_path / "book"))
    stem, client = drive_of(store), create_app(store).server.test_client()
    sent = re.search(r'"data-notes": ("(?:[^"\\]|\\.)*")', shown(store, stem))
    assert sent is not None
    fixed = json.loads(json.loads(sent[1]))

    assert "Name its way" in shown(store, stem)
    assert store.ways() == {}
    for name in ("Mill", "5 km <b>round</b>"):
        answer = client.post("/notes", data=fixed | {"value": name})
        assert answer.status_code == 200
        assert store.ways() == {stem: name}
    told = shown(store, stem)
    assert "It went the way “5 km <b>round</b>”." in told
    assert "Name its way anew" in told
    assert '"type": "B"' not in told


def test_a_charge_has_no_way(tmp_path: Path) -> None:
    """Nothing is asked of what is no drive."""
    store = Store(make_logbook(tmp_path / "book"))
    telemetry = store.recording(drive_of(store)).telemetry

    assert way_part(store, "any", replace(telemetry, meta={"kind": "charge"})) is None


def test_a_logbook_without_notes_has_no_ways(tmp_path: Path) -> None:
    """No file, no names."""
    assert Store(Logbook.create(tmp_path / "empty")).ways() == {}
