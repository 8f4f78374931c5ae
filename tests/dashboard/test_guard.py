"""Attacks on the pages: other hosts, other sites, large bodies, names that leave the logbook."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from collector.logbook import Logbook
from dashboard.app import create_app
from dashboard.guard import BODY_MAX
from dashboard.store import Store
from tests.dashboard.demo_logs import newest_stem

CALLBACK = "/_dash-update-component"


@pytest.fixture(scope="module")
def client(store: Store) -> Iterator[FlaskClient]:
    with create_app(store).server.test_client() as client:
        yield client


@pytest.mark.parametrize("path", ["/", "/_dash-layout", "/_dash-dependencies", "/drives",
                                  "/assets/style.css", "/moments/x?from=0&step=1&count=1"])
@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1.evil.example", "192.168.1.7:8050"])
def test_another_host_name_is_refused(client: FlaskClient, path: str, host: str) -> None:
    """A name that was made to resolve to this machine reads nothing."""
    with client.get(path, headers={"Host": host}) as answer:
        assert answer.status_code == 400


@pytest.mark.parametrize("host", ["127.0.0.1", "127.0.0.1:8050", "localhost:8050"])
def test_this_machine_is_served(client: FlaskClient, host: str) -> None:
    """By number or by name."""
    assert client.get("/", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize("headers", [
    {"Origin": "http://evil.example"}, {"Origin": "null"}, {"Sec-Fetch-Site": "cross-site"},
    {"Sec-Fetch-Site": "same-site"}, {"Origin": "http://127.0.0.1:9999"},
])
def test_another_site_cannot_call(client: FlaskClient, headers: dict[str, str]) -> None:
    """A page from elsewhere in the same browser gets no callback."""
    answer = client.post(CALLBACK, json={}, headers={"Host": "127.0.0.1:8050", **headers})

    assert answer.status_code == 403


@pytest.mark.parametrize("path", [CALLBACK, "/", "/moments/x"])
def test_a_large_body_is_refused(client: FlaskClient, path: str) -> None:
    """Nothing that the pages send is near the limit."""
    answer = client.post(path, data=b"x" * (BODY_MAX + 1), content_type="application/json")

    assert answer.status_code == 413


@pytest.mark.parametrize("name", ["..%2f..%2flogbook", "..%2flogbook.toml", "%2e%2e%2flogbook",
                                  "..%5clogbook", "%2fetc%2fpasswd", "....//logbook", "%00"])
@pytest.mark.parametrize("before", ["/moments/", "/assets/", "/assets/fonts/"])
def test_no_name_leaves_its_folder(client: FlaskClient, before: str, name: str) -> None:
    """A path in a name finds nothing."""
    with client.get(f"{before}{name}?from=0&step=1&count=1") as answer:
        answer.get_data()

    assert answer.status_code in (404, 200)
    assert b"rated_ah" not in answer.data
    assert b"root:x:" not in answer.data
    if answer.status_code == 200:  # the pages' own document, as for any unknown address
        assert b"<title>packhand</title>" in answer.data


@pytest.mark.parametrize("query", ["", "from=0", "from=x&step=1&count=1", "from=0&step=1&count=1e9",
                                   "from=0&step=1&count=99999", "from=nan&step=1&count=2"])
def test_senseless_questions_are_refused(client: FlaskClient, logbook: Logbook,
                                         query: str) -> None:
    """A wrong question is the asker's fault (400), and costs nothing."""
    assert client.get(f"/moments/{newest_stem(logbook)}?{query}").status_code == 400


def test_every_answer_carries_the_policy(client: FlaskClient) -> None:
    """Nothing from outside may load, and no script but the pages' own."""
    for path in ("/", "/assets/style.css", "/_dash-layout", "/nowhere"):
        with client.get(path) as answer:
            headers = answer.headers
        policy = headers["Content-Security-Policy"]
        assert "default-src 'none'" in policy
        assert "unsafe-eval" not in policy
        assert re.search(r"script-src 'self'( 'sha256-[^']+')*;", policy)
        assert headers["X-Content-Type-Options"] == "nosniff"
        assert headers["Referrer-Policy"] == "no-referrer"


def test_no_served_page_names_an_outside_address(client: FlaskClient) -> None:
    """The document, the layout and our own scripts and styles point nowhere outside."""
    own = ["/", "/_dash-layout", "/_dash-dependencies", "/assets/style.css", "/assets/replay.js",
           "/assets/ruler.js", "/assets/shell.js", "/assets/theme-first.js"]
    for path in own:
        with client.get(path) as answer:
            text = answer.get_data(as_text=True)
        assert set(re.findall(r"(?:https?:)?//[a-z0-9.-]+\.[a-z]{2,}", text)) <= {
            "http://www.w3.org"}, path


def test_the_server_does_not_name_itself(address: str) -> None:
    """No product or version in the answers; only this machine can connect."""
    import urllib.request

    with urllib.request.urlopen(address) as answer:
        assert answer.headers.get("Server") is None


def test_no_debugging_is_on(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    """Switches in the environment do not open the app."""
    for name in ("DASH_DEBUG", "DASH_UI", "DASH_HOT_RELOAD", "DASH_MCP_ENABLED"):
        monkeypatch.setenv(name, "true")
    app = create_app(store)
    rules = {rule.rule for rule in app.server.url_map.iter_rules()}

    assert app.server.debug is False
    assert not [rule for rule in rules if "mcp" in rule]


def test_ids_are_distinct() -> None:
    """Two parts of one id would answer each other's callbacks."""
    sources = [p.read_text() for p in (Path(__file__).parents[2] / "dashboard").rglob("*.py")]
    named = re.findall(r"\bid=\"([a-z-]+)\"", "\n".join(sources))

    assert sorted(set(named)) == sorted(named)
