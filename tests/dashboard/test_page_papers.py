"""The pages Papers and Share, and the files they hand out; attacks on both."""

from __future__ import annotations

import hashlib
import io
import zipfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pyarrow as pa
import pytest
from flask.testing import FlaskClient
from playwright.sync_api import Browser

from collector.journal import log_schema
from collector.logbook import Logbook
from collector.logfile import write_log
from dashboard.app import create_app
from dashboard.pages import drive, papers, share
from dashboard.shell import INVENTED, Place
from dashboard.store import Store
from tests.dashboard.conftest import SIZES, new_watched, serve
from tests.dashboard.demo_logs import META, drive_table
from tests.dashboard.papers_book import CUT_OUT_LOG
from tests.dashboard.test_pages import text_of

WAIT_S = 60.0


@pytest.fixture(scope="module")
def store(papers_book: Logbook) -> Store:
    store = Store(papers_book)
    papers.QUESTION.work(store, Place())
    store.workings.settle(WAIT_S)
    return store


@pytest.fixture(scope="module")
def client(store: Store) -> Iterator[FlaskClient]:
    with create_app(store).server.test_client() as client:
        yield client


def settled(store: Store, **query: str) -> str:
    """The page's words once the answer stands."""
    papers.QUESTION.work(store, Place(query=query))
    store.workings.settle(WAIT_S)
    return text_of(papers.layout(store, Place(query=query))).replace("\N{NO-BREAK SPACE}", " ")


def test_papers_offers_each_paper(store: Store) -> None:
    """Opened, downloaded, put into a calendar; it ends with a verdict and what to do next."""
    told = settled(store)

    for name in papers.DOCUMENTS:
        assert f"/papers/{name}" in told
    assert "/papers/reminders.ics" in told
    assert "Cannot tell yet. " in told
    assert "5 papers stand ready, from 6 logs between 15 April 2026 and 16 April 2026" in told


def test_a_period_goes_into_every_link(store: Store) -> None:
    """What was chosen holds for the files too."""
    told = settled(store, **{"from": "2026-04-16", "log": CUT_OUT_LOG})

    assert f"/papers/help.pdf?from=2026-04-16&log={CUT_OUT_LOG}" in told
    assert "logs of 16 April 2026" in told


@pytest.mark.parametrize(("query", "words"), [
    ({"from": "yesterday"}, "type them so"), ({"log": "../../etc/passwd"}, "no log"),
    ({"from": "2031-01-01"}, "choose other days"),
])
def test_a_wrong_choice_is_told(store: Store, query: dict[str, str], words: str) -> None:
    """One line, and the fields stay to choose again."""
    told = settled(store, **query)

    assert words in told
    assert "Take these days" in told


@pytest.mark.parametrize("name", [*papers.DOCUMENTS, papers.CALENDAR])
def test_every_document_is_sent(client: FlaskClient, name: str) -> None:
    """With its type; a page may run nothing, a file is saved."""
    answer = client.get(f"/papers/{name}", buffered=True)

    assert answer.status_code == 200
    assert answer.data[:4] in (b"<!DO", b"%PDF", b"BEGI", b"PK\x03\x04")
    if name.endswith(".html"):
        assert "script-src" not in answer.headers["Content-Security-Policy"]
        assert answer.headers["Content-Security-Policy"].startswith("default-src 'none'")
        assert INVENTED.encode() in answer.data.replace(b"&#x27;", b"'")
    else:
        assert answer.headers["Content-Disposition"].startswith("attachment")
    assert answer.headers["X-Content-Type-Options"] == "nosniff"


def test_a_paper_comes_with_its_logs(client: FlaskClient, papers_book: Logbook) -> None:
    """One zip: the paper in both forms, the logs as they are, and SHA-256 of each file."""
    sent = client.get("/papers/warranty.zip", buffered=True).data
    with zipfile.ZipFile(io.BytesIO(sent)) as archive:
        sums = dict(line.split("  ")[::-1] for line in
                    archive.read("SHA256SUMS").decode().splitlines())
        found = {name: hashlib.sha256(archive.read(name)).hexdigest() for name in sums}
        log = archive.read(f"logs/{CUT_OUT_LOG}.parquet")

    assert found == sums
    assert {"warranty.html", "warranty.pdf", "notes.csv"} <= sums.keys()
    assert log == papers_book.log_path(CUT_OUT_LOG).read_bytes()


def test_a_log_that_goes_meanwhile_is_told(client: FlaskClient, store: Store,
                                           monkeypatch: pytest.MonkeyPatch) -> None:
    """No half a zip: one line, and try again."""
    def gone(*_: object) -> int:
        raise FileNotFoundError("a log")

    monkeypatch.setattr(papers, "write_bundle", gone)
    answer = client.get("/papers/health.zip")

    assert answer.status_code == 503
    assert b"try again" in answer.data


@pytest.mark.parametrize("name", ["..%2f..%2flogbook.toml", "logbook.toml", "%2e%2e%2fnotes.csv",
                                  "..%5clogbook", "%2fetc%2fpasswd", "health", "health.exe",
                                  "../papers/health.pdf%00"])
def test_no_other_name_is_a_document(client: FlaskClient, name: str) -> None:
    """A name is looked up in a list; nothing else of the logbook can be had."""
    answer = client.get(f"/papers/{name}")

    assert b"rated_ah" not in answer.data
    assert b"joint-millivolts" not in answer.data
    assert answer.status_code == 404 or b"<title>packhand</title>" in answer.data


@pytest.mark.parametrize("log", ["../../logbook", "/etc/passwd", "..%2fnotes", "x" * 5000])
def test_no_other_log_is_copied_or_drawn(client: FlaskClient, log: str) -> None:
    """Logs are named as the logbook lists them."""
    assert client.get(f"/share/copy.zip?log={log}").status_code == 404
    assert client.get(f"/papers/help.html?log={log}").status_code in (404, 503)


@pytest.mark.parametrize("headers", [
    {"Sec-Fetch-Site": "cross-site"}, {"Sec-Fetch-Site": "same-site"},
    {"Origin": "http://evil.example"}, {"Origin": "null"},
])
@pytest.mark.parametrize("path", ["/papers/health.pdf", "/papers/health.zip",
                                  "/papers/reminders.ics",
                                  f"/share/copy.zip?log={CUT_OUT_LOG}"])
def test_another_site_cannot_have_a_file_made(client: FlaskClient, path: str,
                                              headers: dict[str, str]) -> None:
    """A page from elsewhere in the same browser gets nothing and costs nothing."""
    assert client.get(path, headers=headers).status_code == 403


@pytest.mark.parametrize("path", ["/papers/health.pdf", "/share/copy.zip"])
def test_files_are_only_read(client: FlaskClient, path: str) -> None:
    """Nothing can be posted there."""
    assert client.post(path, data=b"x").status_code in (404, 405)


def test_the_copy_is_the_preview(client: FlaskClient, store: Store) -> None:
    """What the page shows is what is in the file, and it names nobody."""
    query = {"log": CUT_OUT_LOG, "clock": "shifted", "form": "csv"}
    told = text_of(share.layout(store, Place(query=query)))
    answer = client.get("/share/copy.zip", query_string=query)
    with zipfile.ZipFile(io.BytesIO(answer.data)) as archive:
        names, about = archive.namelist(), archive.read("about.txt").decode()

    assert names == ["about.txt", "log-1.csv", "readings.csv"]
    assert all(line in told for line in about.splitlines()[:3])
    assert "log-1.csv: " in told
    assert "clock=shifted" in told
    assert "readings.csv: 2000-01-01" in told
    assert "flatbed" not in about


def test_share_says_what_it_tells_of_a_person(store: Store) -> None:
    """No with nothing personal in it; cannot tell yet with words or positions."""
    def told(**query: str) -> str:
        return text_of(share.layout(store, Place(query={"log": CUT_OUT_LOG, **query})))

    assert "No. " in told()
    assert "Cannot tell yet. " in told(words="yes")
    assert "No. " in told(place="shape")  # this log tells no position
    assert "16 Apr 2026, 07:39, drive" in told()
    assert "Area: no log tells a position." in told(place="area")
    assert "every position" in told(place="<b>")


@pytest.mark.parametrize(("choice", "words"), [
    ("area", "the area leaves"), ("shape", "lay it over a map"), ("trim", "away from your usual"),
])
def test_share_says_what_it_tells_of_a_place(tmp_path: Path, choice: str, words: str) -> None:
    """Where positions leave in any form, nobody can say that it tells nothing."""
    book = Logbook.create(tmp_path / "book")
    table = drive_table(900)
    for name, values in (("latitude_deg", np.linspace(54.0, 54.1, 900)),
                         ("longitude_deg", np.full(900, -3.0))):
        table = table.append_column(name, pa.array(values))
    kept = log_schema([*table.column_names[2:-3], "latitude_deg", "longitude_deg"])
    write_log(book.log_path("track"), META, table.select(kept.names).cast(kept))
    told = text_of(share.layout(Store(book), Place(query={"place": choice, "radius": "x"})))

    assert "Cannot tell yet." in told
    assert words in told


@pytest.mark.parametrize("log", ["../../etc/passwd", "<b>x</b>"])
def test_a_wrong_log_is_told(store: Store, log: str) -> None:
    """The form stays to choose again."""
    told = text_of(share.layout(store, Place(query={"log": log})))

    assert "This log cannot be shared" in told
    assert "Show what leaves" in told


def test_a_drive_leads_to_its_paper_and_its_copy(store: Store) -> None:
    """Nobody has to type the name of a log."""
    told = text_of(drive.layout(store, Place(CUT_OUT_LOG)))

    assert f"/papers?log={CUT_OUT_LOG}" in told
    assert f"/share?log={CUT_OUT_LOG}" in told


def test_share_without_logs_teaches(empty_book: object) -> None:
    """One line: what to do next."""
    store = Store(Logbook.open(empty_book))  # type: ignore[arg-type]

    assert "There is no log yet." in text_of(share.layout(store, Place()))


@pytest.mark.browser
def test_choosing_and_opening_in_a_browser(browser: Browser, store: Store) -> None:
    """The plain form chooses by the address; a paper opens in a tab and breaks no policy."""
    served = serve(store)
    watched = new_watched(browser, next(served), "phone")
    page = watched.open("/share", ".verdict")
    page.select_option("select[name=log]", CUT_OUT_LOG)
    page.select_option("select[name=clock]", "shifted")
    page.click("text=Show what leaves")
    page.wait_for_url("**/share?*clock=shifted*")
    page.wait_for_selector(".letter")
    assert page.input_value("select[name=log]") == CUT_OUT_LOG
    assert "212 A out for 11 s" in page.inner_text(".letter")
    with page.expect_download() as download:
        page.click("text=Download the copy")
    assert download.value.suggested_filename == "packhand-copy.zip"

    page.goto(f"{watched.address}/papers/health.html")
    assert "Health of the pack" in page.inner_text("h1")
    assert page.evaluate("document.documentElement.scrollWidth") <= SIZES["phone"]["width"]
    assert watched.outside == []
    assert watched.complaints == []
    page.context.close()
    served.close()
