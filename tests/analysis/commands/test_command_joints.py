"""``packhand joints`` as a person calls it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from collector.logbook import Logbook
from collector.moment import Moment
from collector.note_kinds import KINDS
from collector.notes import Note, add_note
from packhand import main
from tests.analysis.commands.test_range_commands import write_logbook

#: 3 May, while the logbook's drives run. [ms, Unix time]
AT_MS = 1_777_800_000_000


@pytest.fixture(scope="module")
def logbook(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A month with a hot lug (119 mV at 85 A), its twin, and a lug read with the key off."""
    root = write_logbook(tmp_path_factory.mktemp("joints"), days=2)
    for place, (joint, millivolts, amps) in enumerate((
            ("main minus lug", 119.0, -85.0), ("main plus lug", 10.2, -85.0),
            ("motor lug", 0.1, 0.0))):
        add_note(Logbook(root).notes_path, Note(
            AT_MS + place * 60_000, KINDS["joint-millivolts"].name, millivolts, "mV", joint=joint,
            moment=Moment(current_a=amps)))
    return root


def test_the_hot_lug_is_first(logbook: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """1.4 mohm by Ohm's law, ranked first, with what to do and the usual caution."""
    assert main(["joints", str(logbook)]) == 0
    told = capsys.readouterr().out
    lines = told.splitlines()

    assert lines[0] == "1 of 3 joints need work, the hottest first: main minus lug."
    assert lines[2].startswith("main minus lug  1.40 mΩ (")
    assert "11.7 times its like" in lines[2]
    assert "no: main minus lug; next: with everything switched off" in told
    assert "no amps flowed" in told
    assert "insulated tools" in lines[-1]


def test_joints_as_a_document(logbook: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Every joint with its intervals; what nobody read is null."""
    assert main(["joints", str(logbook), "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    hot, twin, dead = document["joints"]

    assert document["schema"] == "packhand.joints/1"
    assert [j["joint"] for j in document["joints"]] == ["main minus lug", "main plus lug",
                                                        "motor lug"]
    assert hot["resistance_mohm"]["value"] == pytest.approx(1.4)
    assert hot["heat_at_reading_w"]["value"] == pytest.approx(10.1, abs=0.05)
    assert hot["heat_w"]["value"] == pytest.approx(1.4e-3 * document["worst_rms_a"] ** 2)
    assert (hot["verdict"], twin["verdict"], dead["verdict"]) == ("no", "yes", "cannot tell yet")
    assert dead["resistance_mohm"]["value"] is hot["surface_c"] is hot["before_mohm"] is None


def test_no_reading_says_how_to_take_one(tmp_path: Path,
                                         capsys: pytest.CaptureFixture[str]) -> None:
    """A logbook without a joint's millivolts tells the command that keeps them."""
    assert main(["joints", str(write_logbook(tmp_path / "book", days=2))]) == 0
    told = capsys.readouterr().out

    assert told.startswith("Cannot tell yet: no joint was read.")
    assert "packhand note joint-millivolts" in told
