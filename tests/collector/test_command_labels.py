"""packhand labels: what labels say, typed and listed on the command line."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import packhand
from collector.logbook import Logbook


@pytest.fixture
def root(tmp_path: Path) -> Path:
    book = Logbook.create(tmp_path / "book")
    (book.root / "logbook.toml").write_text(
        '[units]\ntemperature = "F"\n[[pack]]\nname = "main"  # mine\nrated_ah = 105\n')
    return book.root


def run(root: Path, *words: str) -> int:
    return packhand.main(["labels", *words, "--logbook", str(root)])


def test_figures_are_typed_and_listed(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Each goes into its own table, in the logbook's units; what is missing says where it is."""
    assert run(root, "rated_ah=100", "peak_a=200", "charge_min_c=32", "bleed_a=60mA",
               "alarms.out_a=100 for 60 s; 200 for 3", "mass_kg=1000 lb") == 0
    kept = capsys.readouterr().out
    assert run(root) == 0
    lines = capsys.readouterr().out

    assert kept.startswith("kept: rated amp-hours, peak amps out")
    assert Logbook(root).config() == {
        "units": {"temperature": "F"}, "vehicle": [{"mass_kg": 453.592}],
        "pack": [{"name": "main", "rated_ah": 100, "limits": {
            "peak_a": 200, "charge_min_c": 0, "bleed_a": 0.06}, "alarms": {
            "out_a": [{"limit": 100, "for_s": 60}, {"limit": 200, "for_s": 3}]}}]}
    assert "charge_min_c           32 °F        lowest temperature for charging" in lines
    assert "cells                  not typed    cells in series: count them" in lines
    assert "# mine" in (root / "logbook.toml").read_text()


def test_the_document_has_every_figure(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Values as they stand in the file, null where nothing does."""
    run(root, "--json", "--pack", "main")
    found = json.loads(capsys.readouterr().out)
    values = {each["key"]: each["value"] for each in found["figures"]}

    assert (found["schema"], found["pack"]) == ("packhand.labels/1", "main")
    assert (values["rated_ah"], values["peak_a"]) == (105, None)
    assert {"cell_low_v", "alarms.cell_low_v", "mass_kg"} < set(values)


@pytest.mark.parametrize(("words", "told"), [
    (["rated_ah=105000"], "is hardly meant"), (["--pack", "man", "rated_ah=100"], "no pack 'man'"),
    (["rated_ah=many"], "is not a figure")])
def test_what_does_not_do_is_one_line(root: Path, capsys: pytest.CaptureFixture[str],
                                      words: list[str], told: str) -> None:
    """Exit 1, the file as it was."""
    before = (root / "logbook.toml").read_text()
    assert run(root, *words) == 1
    error = capsys.readouterr().err

    assert told in error
    assert error.count("\n") == 1
    assert (root / "logbook.toml").read_text() == before


@pytest.mark.parametrize("word", ["rated_ah", "ratd_ah=105", "=3"])
def test_a_key_that_is_none_is_misuse(root: Path, capsys: pytest.CaptureFixture[str],
                                      word: str) -> None:
    """Exit 2, with the keys that are known."""
    with pytest.raises(SystemExit) as left:
        run(root, word)

    assert left.value.code == 2
    assert "rated_ah, " in capsys.readouterr().err


def test_the_same_again_changes_nothing(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing to write, no note."""
    assert run(root, "rated_ah=105") == 0

    assert capsys.readouterr().out == "nothing was changed\n"
    assert not (root / "notes.csv").exists()
