"""A joint typed in the browser, on its own page."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import Browser

from dashboard.app import create_app
from dashboard.store import Store
from tests.dashboard.conftest import new_watched, serve_app
from tests.dashboard.demo_logs import START, drive_values, make_logbook

pytestmark = pytest.mark.browser


def hardest_moment() -> str:
    """When the most amps went out of the demo drive."""
    second = int(np.argmin(drive_values(600, 1.0)["current_a"]))
    return (START + timedelta(seconds=second)).isoformat()


def test_a_joint_is_typed_and_judged_at_once(browser: Browser, tmp_path: Path) -> None:
    """119 mV at a lug, read during the drive: the page comes back with ohms and watts; markup in a
    joint's name stays text."""
    store = Store(make_logbook(tmp_path / "book", drives=1, samples=600))
    with serve_app(create_app(store)) as address:
        watched = new_watched(browser, address)
        page = watched.open("/joints", ".joint-forms")
        form = page.locator(".joint-forms form").first
        form.locator("[name=joint]").fill("<b>main</b> minus lug")
        form.locator("[name=value]").fill("119 mV")
        form.locator("[name=at]").fill(hardest_moment())
        form.locator("button").click()
        page.wait_for_selector(".sentence:has-text('minus lug')")

        assert "mΩ" in page.inner_text(".sentence")
        assert "W of heat" in page.inner_text(".sentence").replace("\N{NO-BREAK SPACE}", " ")
        assert page.locator("main b").count() == 0
        assert watched.outside == []
        assert watched.complaints == []
        page.context.close()
