"""``packhand cells`` and ``packhand parked`` as a person calls them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from packhand import main
from tests.analysis.test_load_logbook import write_drive
from tests.benchmarks.cell_packs import healthy, one_log, with_offset


@pytest.fixture
def charge_csv(tmp_path: Path) -> Path:
    """A charge with cell 5 ahead by 3 %, as a table from elsewhere."""
    import numpy as np
    import pandas as pd

    rng = np.random.default_rng(2)
    charge = one_log(with_offset(healthy(rng), 4, 0.03), "top", 0, rng)
    times = pd.to_datetime(charge.start) + pd.to_timedelta(charge.elapsed_s, unit="s")
    path = tmp_path / "charge.csv"
    pd.DataFrame({"time": times.strftime("%Y-%m-%dT%H:%M:%SZ"), **charge.columns}).to_csv(
        path, index=False)
    return path


def test_cells_of_one_log_as_json(charge_csv: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The document holds findings and a line for each cell."""
    assert main(["cells", str(charge_csv), "--json"]) == 0
    document = json.loads(capsys.readouterr().out)

    assert document["schema"] == "packhand.cells/1"
    assert [(f["cell"], f["kind"], f["verdict"]) for f in document["findings"]] == [
        (5, "charge_offset", "cannot tell yet")]
    assert document["findings"][0]["size"]["unit"] == "Ah"
    assert [row["cell"] for row in document["cells"]] == list(range(1, 17))


def test_cells_of_one_log_in_words(charge_csv: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Words first, then the table."""
    assert main(["cells", str(charge_csv)]) == 0
    text = capsys.readouterr().out

    assert "Cell 5 is" in text
    assert "near full" in text


def test_a_missing_log_is_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """No traceback for a wrong name."""
    assert main(["cells", str(tmp_path / "no.parquet")]) == 1
    assert capsys.readouterr().err.count("\n") == 1


def test_lay_up_without_a_logbook(capsys: pytest.CaptureFixture[str]) -> None:
    """27 October at 55 %, 18 mA, 101.9 Ah: 17 January."""
    words = ["parked", "--percent", "55", "--milliamps", "18", "--capacity", "101.9",
             "--from", "2026-10-27"]
    assert main([*words, "--json"]) == 0

    assert json.loads(capsys.readouterr().out)["lay_up"]["date"] == "2027-01-17"


def test_parked_needs_a_logbook_or_a_drain(capsys: pytest.CaptureFixture[str]) -> None:
    """It says which."""
    assert main(["parked"]) == 1
    assert "LOGBOOK" in capsys.readouterr().err


@pytest.mark.parametrize("command", ["cells", "parked"])
def test_one_pack_of_several_can_be_asked_about(
        command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A pack that is not there is told with those that are."""
    for day, pack in enumerate(("front", "rear")):
        write_drive(tmp_path, day, pack=pack)

    assert main([command, str(tmp_path), "--pack", "front"]) == 0
    assert main([command, str(tmp_path), "--pack", "boat"]) == 1
    assert "no log of pack 'boat' — its packs: 'front', 'rear'" in capsys.readouterr().err
