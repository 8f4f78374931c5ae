"""The sample logs are what their README says: made from seeds, cut from open data."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from collector.frames.stream import open_decoder
from collector.logbook import Logbook
from collector.logfile import read_log
from collector.monitors import load_description
from collector.rawfile import read_raw
from tests.samples import CAPTURES, ROOT, make

SAMPLES = ROOT / "sample_logs"


@pytest.fixture(scope="module")
def remade(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("samples")
    make(folder)
    return folder


def names(folder: Path) -> list[str]:
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*")
                  if path.is_file() and path.suffix in (".raw", ".gz", ".parquet", ".toml"))


def test_the_samples_are_the_ones_that_can_be_made(remade: Path) -> None:
    """Nothing lies in the folder that the script does not make."""
    assert set(names(SAMPLES)) == set(names(remade))
    assert (SAMPLES / "parts.toml").read_bytes() == (remade / "parts.toml").read_bytes()


@pytest.mark.parametrize("name", [n for n in names(SAMPLES) if n.endswith((".raw", ".gz"))])
def test_captures_and_cuts_are_made_again_to_the_byte(remade: Path, name: str) -> None:
    """The same seed plays the same bytes; a cut is the beginning of its source."""
    assert (SAMPLES / name).read_bytes() == (remade / name).read_bytes()


@pytest.mark.parametrize("name", [n for n in names(SAMPLES) if n.endswith(".parquet")])
def test_the_season_day_is_made_again_to_the_figure(remade: Path, name: str) -> None:
    """The same seed gives the same day, figure by figure."""
    kept, made = read_log(SAMPLES / name), read_log(remade / name)

    assert kept.table.equals(made.table)
    assert kept.meta.invented
    assert kept.meta.kind == made.meta.kind


@pytest.mark.parametrize("monitor", CAPTURES)
def test_a_capture_loses_only_its_torn_frames(monitor: str) -> None:
    """Every 50th frame is torn; all others come through the junk between them."""
    frames = CAPTURES[monitor]
    decoder = open_decoder(load_description(monitor))
    rows = [row for chunk in read_raw(SAMPLES / f"{monitor}.raw")
            for row in decoder.feed(chunk.data)]

    assert len(rows) == frames - frames // 50


def test_the_readme_names_every_sample() -> None:
    """Each sample stands in the folder's README with its origin."""
    readme = (SAMPLES / "README.md").read_text(encoding="utf-8")
    listed = set(re.findall(r"^\| `([^`]+)`", readme, flags=re.MULTILINE))
    top = {path.name + ("/" if path.is_dir() else "") for path in SAMPLES.iterdir()}

    assert top - {"README.md"} == listed


def test_the_sample_logbook_opens() -> None:
    """The one-day logbook holds two drives and a charge, none of them live."""
    entries = Logbook.open(SAMPLES / "flatbed").logs()

    assert [read_log(e.path, columns=()).meta.kind for e in entries] == ["drive", "drive", "charge"]
