"""``packhand parts`` as a person uses it."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from packhand import main

SAMPLES = Path(__file__).resolve().parents[3] / "sample_logs"
PARTS = str(SAMPLES / "parts.toml")


@pytest.fixture
def logbook(tmp_path: Path) -> Path:
    return shutil.copytree(SAMPLES / "flatbed", tmp_path / "flatbed",
                           ignore=shutil.ignore_patterns(".cache"))


def document(capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, Any]:
    assert main(["parts", *words, "--json"]) == 0
    read: dict[str, Any] = json.loads(capsys.readouterr().out)
    return read


def test_words_first_then_cautions_then_arithmetic(capsys: pytest.CaptureFixture[str]) -> None:
    """What to replace stands before why."""
    assert main(["parts", PARTS]) == 0

    out = capsys.readouterr().out
    order = [out.index(text) for text in (
        "Replace: main breaker", "it protects nothing", "10.4 V too low",
        "Lead acid against lithium")]
    assert order == sorted(order)


def test_a_logbook_brings_the_measured_amps(
        capsys: pytest.CaptureFixture[str], logbook: Path) -> None:
    """The day of the cut-out saw more in 10 s than the clamp meter: 212 A."""
    typed = document(capsys, PARTS)["pack"]["rms_10_s_a"]
    measured = document(capsys, PARTS, "--logbook", str(logbook))["pack"]["rms_10_s_a"]

    assert typed == {"value": 77, "unit": "A", "badge": "typed", "origin": "parts list"}
    assert measured["badge"] == "measured"
    assert measured["value"] == pytest.approx(212, abs=1)


def test_a_list_in_a_logbook_needs_no_name_of_it(
        capsys: pytest.CaptureFixture[str], logbook: Path) -> None:
    """The volts and amps are those of the logs around it, and the cells those of logbook.toml."""
    inside = shutil.copy(PARTS, logbook / "parts.toml")
    bare = (logbook / "parts.toml").read_text().replace("cells = 16\n", "")
    (logbook / "logbook.toml").write_text('[[pack]]\nname = "flatbed main"\ncells = 16\n')

    measured = document(capsys, str(inside))["pack"]
    (logbook / "parts.toml").write_text(bare)

    assert measured["rms_10_s_a"]["badge"] == "measured"
    assert document(capsys, str(inside))["pack"] == measured


def test_a_list_in_a_logbook_without_logs_is_judged_as_typed(
        capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """Nothing is asked for that is not there yet."""
    (tmp_path / "logbook.toml").write_text("")
    inside = shutil.copy(PARTS, tmp_path / "parts.toml")

    assert document(capsys, str(inside))["pack"]["rms_10_s_a"]["badge"] == "typed"


@pytest.mark.parametrize(("text", "said"), [
    ("[pack", "not TOML: "), ("\xff", "not TOML: "), ("[pack]\ncells = 16\n", "no part is"),
])
def test_a_list_that_cannot_be_read_is_one_line(
        text: str, said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit 1, nothing on stdout."""
    path = tmp_path / "parts.toml"
    path.write_text(text, encoding="latin-1")
    code = main(["parts", str(path)])
    printed = capsys.readouterr()

    assert (code, printed.out) == (1, "")
    assert printed.err.count("\n") == 1
    assert said in printed.err


@pytest.mark.parametrize(("words", "said"), [
    (["nowhere.toml"], "nowhere.toml: no such file"),
    ([str(SAMPLES)], "cannot be read"),
    ([PARTS, "--logbook", "nowhere"], "nowhere"),
])
def test_what_is_not_there_is_one_line(
        words: list[str], said: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Neither list nor logbook."""
    assert main(["parts", *words]) == 1

    printed = capsys.readouterr()
    assert printed.err.count("\n") == 1
    assert said in printed.err


def test_a_pack_that_the_logbook_does_not_know_is_told(
        capsys: pytest.CaptureFixture[str], tmp_path: Path, logbook: Path) -> None:
    """Figures of another pack are never taken."""
    path = tmp_path / "parts.toml"
    path.write_text('[pack]\nname = "punt"\ncells = 8\n[[cutoff]]\nname = "x"\ncutoff_v = 24\n')

    assert main(["parts", str(path), "--logbook", str(logbook)]) == 1
    assert "no log of pack 'punt'" in capsys.readouterr().err
