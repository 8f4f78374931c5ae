"""The bench: recording, learning and bringing files in from the pages, at the machine only."""

from __future__ import annotations

import io
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from playwright.sync_api import Browser

from collector.errors import PackhandError
from collector.logbook import Logbook
from collector.moment import Moment
from collector.notes import Note, add_note
from dashboard.app import create_app
from dashboard.bench.command import ask_command
from dashboard.bench.desk import Desk
from dashboard.bench.listening import monitors_of, port_of
from dashboard.door import Door, Key
from dashboard.pages import begin, bench, bring
from dashboard.shell import Place
from dashboard.store import Store
from tests.dashboard.conftest import new_watched, serve
from tests.dashboard.demo_logs import make_logbook
from tests.dashboard.test_pages import text_of

#: Semicolons, decimal commas, and days that could be months.
FOREIGN = ("Datum;Zeit;Strom (A);Spannung (V)\n" + "".join(
    f"03/04/2024;10:{n // 60:02}:{n % 60:02};{-20 - 8 * (n % 30 > 15):d},5;"
    f"{53 - 0.13 * (n % 30 > 15):.2f}\n".replace(".", ",") for n in range(600)))


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    store = Store(Logbook.create(tmp_path / "book"))
    yield store
    store.bench.learning.stop()
    if store.bench.listening.is_on:
        store.bench.listening.stop()


@pytest.fixture
def wire(tmp_path: Path) -> Iterator[str]:
    """A monitor played on a pseudo-terminal."""
    if os.name == "nt":
        pytest.skip("no pseudo-terminals here")
    link = tmp_path / "monitor"
    player = subprocess.Popen(
        [sys.executable, "-m", "packhand", "simulate", "demo-binary", "--link", str(link)],
        stdout=subprocess.PIPE, text=True)
    assert player.stdout is not None
    player.stdout.readline()
    yield str(link)
    player.terminate()
    player.communicate(timeout=10)


def test_a_recording_is_begun_and_ended_from_the_pages(store: Store, wire: str) -> None:
    """The same log as 'packhand record' makes: closed, verified, on the list."""
    listening = store.bench.listening
    begun = listening.start("demo-binary", wire)
    deadline = time.monotonic() + 20
    while store.live.look().state != "recording" and time.monotonic() < deadline:
        time.sleep(0.2)
    state = store.live.look().state
    twice = listening.start("demo-binary", wire)
    ended = listening.stop()

    assert "Listening" in begun
    assert state == "recording"
    assert twice == "A recording runs already."
    assert ended.endswith(".parquet: closed and verified.")
    assert [entry.is_journal for entry in store.logbook.logs()] == [False]


def test_a_port_that_is_not_there_is_told(store: Store) -> None:
    """The recorder's own line, not a trace."""
    listening = store.bench.listening
    listening.start("demo-text", "/dev/not-there")
    deadline = time.monotonic() + 20
    while listening.is_on and time.monotonic() < deadline:
        time.sleep(0.1)

    assert "/dev/not-there" in listening.told


@pytest.mark.parametrize("port", ["", "-x", "--logbook=/etc", "a b", "x;reboot", "$(id)",
                                  "x" * 300])
def test_what_looks_like_no_port_is_refused(port: str) -> None:
    """A browser's words become one argument, and only if they look like a port."""
    with pytest.raises(PackhandError, match="port"):
        port_of(port)


def test_only_listed_monitors_are_recorded(store: Store) -> None:
    """No path from a browser is opened as a description."""
    with pytest.raises(PackhandError, match="choose one from the list"):
        store.bench.listening.start("../../etc/passwd", "/dev/ttyUSB0")


def test_own_descriptions_are_offered_first(store: Store) -> None:
    """What was learned or written stands in the folder monitors of the logbook."""
    folder = store.bench.root / "monitors"
    folder.mkdir()
    (folder / "broken.toml").write_text("not toml at all")

    found = monitors_of(store.bench.root)

    assert next(iter(found)) == "broken"
    assert found["broken"].startswith("cannot be read")
    assert "demo-text" in found


@pytest.mark.scenario(3)
def test_learning_hears_and_narrows(store: Store, wire: str) -> None:
    """It says what it hears, and after each reading what is known of each figure."""
    learning = store.bench.learning
    learning.start(wire, 19200)
    time.sleep(3)
    told = learning.add(["52.9", "", "97", "21"])
    found = learning.look()

    assert told == "Reading 1: volts 52.9, percent 97, temperature 21."
    assert found.heard_bytes > 100
    assert found.readings == 1
    assert any("frames heard" in line for line in found.lines)
    assert any("volts: cannot tell yet" in line for line in found.lines)
    assert any("temperature: cannot tell yet" in line for line in found.lines)
    with pytest.raises(PackhandError, match="no description yet"):
        learning.keep("mine")


def test_learning_wants_a_line_that_is_heard(store: Store) -> None:
    """A reading before the line is open is told so; so is a port that is not there."""
    with pytest.raises(PackhandError, match="start to listen first"):
        store.bench.learning.add(["52.9", "", "", ""])
    with pytest.raises(PackhandError, match="not-there"):
        store.bench.learning.start("/dev/not-there", 9600)


def put(client: FlaskClient, name: str, content: bytes, **headers: str) -> int:
    return client.put("/brought", query_string={"name": name}, data=io.BytesIO(content),
                      headers={"Host": "127.0.0.1", **headers}).status_code


@pytest.mark.scenario(7)
def test_a_foreign_table_is_looked_at_asked_about_taken_in_and_back(store: Store) -> None:
    """Semicolons, decimal commas, 03/04/2024: one question about day and month, the sign proved,
    the log made, the import undone; never a silent wrong month."""
    client = create_app(store).server.test_client()
    desk = store.bench
    assert put(client, "cart.csv", FOREIGN.encode()) == 200

    asked = text_of(bring.waiting(desk, {}))
    refused = text_of(bring.taken(desk, {}))
    answered = text_of(bring.waiting(desk, {"dates": "day-first"}))
    taken = text_of(bring.taken(desk, {"dates": "day-first"}))
    stem = store.logbook.logs()[0].stem

    assert '"disabled": true' in asked
    assert "day-first" in refused
    assert "600 rows" in answered
    assert '"disabled": false' in answered
    assert stem == "2024-04-03T10-00-00Z"
    assert f"/drives/{stem}" in taken
    assert "1 log removed" in bring.undone(desk)
    assert store.logbook.logs() == []
    assert bring.waiting(desk, {}) == []


@pytest.mark.parametrize("name", ["../../evil.csv", "/etc/cron.d/x.csv", "..\\x.csv", ".csv"])
def test_a_files_name_leads_nowhere(store: Store, name: str) -> None:
    """Whatever a file is called, it waits in the one folder for such files."""
    put(create_app(store).server.test_client(), name, b"a;b\n1;2\n")

    found = list(store.bench.root.rglob("*.csv"))
    assert {path.parent for path in found} <= {store.bench.root / ".cache" / "brought"}
    assert list(store.bench.root.parent.glob("*.csv")) == []


def test_a_program_is_no_table(store: Store) -> None:
    """Endings that the importer does not know are refused before a byte is kept."""
    assert put(create_app(store).server.test_client(), "run.exe", b"MZ") == 422
    assert store.bench.brought.waiting() == ""


def test_another_site_brings_nothing(store: Store) -> None:
    """A page of another origin is refused."""
    client = create_app(store).server.test_client()

    assert put(client, "x.csv", b"a", Origin="http://evil.example") == 403
    assert put(client, "x.csv", b"a", **{"Sec-Fetch-Site": "cross-site"}) == 403


def test_a_file_too_large_is_let_go(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing of it stays, and the way around is told."""
    monkeypatch.setattr("dashboard.bench.brought.FILE_MAX", 1000)
    desk = Desk(tmp_path)

    with pytest.raises(PackhandError, match="packhand import"):
        desk.brought.take("long.csv", io.BytesIO(b"1" * 1001))
    assert desk.brought.waiting() == ""


def test_over_the_network_the_bench_is_shut(store: Store) -> None:
    """With the pages open to the home network nothing is started, taken in or taken back."""
    client = create_app(store, "192.168.1.7", Door(Key.new())).server.test_client()

    assert put(client, "x.csv", b"a,b\n1,2\n") in (401, 403, 422)
    assert store.bench.brought.waiting() == ""
    assert "at the machine itself only" in text_of(bench.layout(store, Place()))
    assert "machine itself" in bring.undone(store.bench)
    begin.begin(store, "punt")
    assert "machine itself" in text_of(begin.rehearsing(store))
    assert "machine itself" in text_of(bench.told(store, lambda: []))


def note_pairs(book: Logbook) -> None:
    """Three readings by clamp, of a monitor that shows 2 A too many."""
    day_ms = round(datetime(2026, 5, 11, 9, tzinfo=UTC).timestamp() * 1000)
    for n, (amps, clamp) in enumerate(((2.0, 0.0), (-63.0, -65.0), (-38.0, -40.0))):
        add_note(book.notes_path, Note(
            day_ms + n * 60_000, "clamp-amps", clamp, "A", str(clamp), pack="main",
            moment=Moment("x", 0.3, amps, 53.0, 80.0)))


@pytest.mark.browser
def test_the_bench_in_a_browser(browser: Browser, store: Store) -> None:
    """Ports are looked for and told; a correction is laid and taken back, by buttons alone."""
    note_pairs(store.logbook)
    served = serve(store)
    watched = new_watched(browser, next(served))
    page = watched.open("/bench", "#standing p")
    page.click("text=Look for ports")
    page.wait_for_selector("#ports p, #ports table", timeout=60_000)
    page.click("text=Lay the correction over the amps")
    page.wait_for_selector("text=It is laid over the figures", timeout=60_000)
    assert "from 11 May 2026 on" in page.inner_text("#standing")
    page.click("text=Take it back")
    page.wait_for_selector("text=is taken back", timeout=60_000)
    assert "No correction stands" in page.inner_text("#standing")
    assert watched.complaints == []
    page.context.close()
    served.close()


@pytest.mark.browser
def test_recording_and_learning_in_a_browser(browser: Browser, store: Store, wire: str) -> None:
    """The page says that it records and what became of it; then how much the learner hears."""
    served = serve(store)
    watched = new_watched(browser, next(served))
    page = watched.open("/bench", "#standing p")
    page.fill("#record-monitor", "demo-binary")
    page.fill("#record-port", wire)
    page.click("#record-start")
    page.wait_for_selector("#recording >> text=Now", timeout=60_000)
    page.wait_for_timeout(3000)
    page.click("#record-stop")
    page.wait_for_selector("#recording >> text=closed and verified", timeout=60_000)

    page.fill("#learn-port", wire)
    page.click("#learn-start")
    page.wait_for_selector("#lesson >> text=bytes heard", timeout=60_000)
    page.fill("#learn-volts", "53.0")
    page.fill("#learn-degrees", "21")
    page.click("#learn-add")
    page.wait_for_selector("#learn-told >> text=volts 53.0, temperature 21", timeout=60_000)
    page.wait_for_selector("#lesson >> text=1 reading typed", timeout=60_000)
    assert watched.complaints == []
    page.context.close()
    served.close()


def test_a_correction_is_proposed_laid_and_taken_back(store: Store) -> None:
    """By buttons alone: looked at first, kept with its day, listed, taken back; logs stay."""
    note_pairs(store.logbook)

    def press(**pressed: object) -> str:
        return text_of(bench.corrected(store, pressed))

    looked = press(correct="amps", accept="")
    assert "No correction stands" in text_of(bench.standing(store))
    laid = press(correct="amps", accept="yes")
    listed = text_of(bench.standing(store))
    back = press(**{"take-back": 1})

    assert "laid over" not in looked
    assert "the logs stay as they are" in laid
    assert "Amps: 2.0" in listed
    assert "from 11 May 2026 on" in listed
    assert "Take it back" in listed
    assert "taken back" in back
    assert "No correction stands" in text_of(bench.standing(store))


def test_no_pairs_of_readings_is_told(store: Store) -> None:
    """Why there is no correction, and what to read next; a correction that never was stays so."""
    assert "Cannot tell yet" in text_of(bench.corrected(store, {"correct": "amps", "accept": ""}))
    with pytest.raises(PackhandError, match="no correction 7 stands"):
        bench.corrected(store, {"take-back": "7"})


def test_a_commands_complaint_is_one_line() -> None:
    """What a command says on a failure is raised as it was meant."""
    with pytest.raises(PackhandError, match="logbook"):
        ask_command("season", "/not/there")


def test_the_bench_speaks_of_the_persons_vehicle_and_degrees(tmp_path: Path) -> None:
    """A boat has a throttle; whoever chose °F types °F."""
    book = Logbook.create(tmp_path / "boat")
    (book.root / "logbook.toml").write_text(
        '[units]\ntemperature = "F"\n\n[[vehicle]]\nname = "punt"\nkind = "boat"\n')
    told = text_of(bench.layout(Store(book), Place()))

    assert "once while you push the throttle" in told
    assert "record, and push the throttle once" in told
    assert "pedal" not in told
    assert "Temperature, °F" in told


def test_the_sign_waits_for_no_logbook_to_be_read(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """While no log is summed up yet the newest one tells what minus means, not that there is
    none."""
    book = make_logbook(tmp_path / "book")
    store = Store(book)
    unread = [(entry, None) for entry in reversed(book.logs())]
    monkeypatch.setattr(store, "logs", lambda: unread)

    told = text_of(bench.sign(store))

    assert "no log yet" not in told
    assert f"/drives/{unread[0][0].stem}" in told
    assert "It is settled" in told
