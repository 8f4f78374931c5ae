"""Several sources into one log: each keeps its own stamps, losses and capture."""

from pathlib import Path

import pytest

from collector.errors import SourceUnavailable
from collector.rawfile import Chunk
from collector.record import Sample
from tests.collector.told import Told, recorded, rows_of, samples


def test_a_receiver_beside_the_pack_shares_the_log(tmp_path: Path) -> None:
    """Columns of both, rows of their own, a raw capture each, gaps counted for each."""
    pack = Told([*samples(2), Sample(1_775_117_700_300, 0.3,
                                        event="silent: nothing was heard for 3 s")])
    receiver = Told([Chunk(1_775_117_700_050, 0.05, b"$"),
                     Sample(1_775_117_700_050, 0.05, {"speed_m_s": 2.5}),
                     Sample(1_775_117_700_060, 0.06, event="link lost: unplugged")])
    receiver.columns, receiver.name = ("speed_m_s",), "place"  # type: ignore[assignment]
    recording = recorded(tmp_path, pack, beside=[receiver])
    rows = rows_of(recording)

    assert [(row["current_a"], row["speed_m_s"]) for row in rows] == [
        (0.0, None), (None, 2.5), (None, None), (1.0, None), (None, None)]
    assert [row["event"] for row in rows] == [
        None, None, "link lost: place: unplugged", None,
        "asleep: told: nothing was heard for 3 s; the link is open, the last amps were 1.0 A"]
    assert (recording.samples, recording.gaps) == (3, 2)
    assert [path.name for path in sorted((tmp_path / "logs").glob("*.raw"))] == [
        "2026-04-02T08-15-00Z.2.raw", "2026-04-02T08-15-00Z.raw"]
    assert pack.is_closed
    assert receiver.is_closed


def test_a_gap_lasts_until_the_same_monitor_speaks(tmp_path: Path) -> None:
    """What the other says meanwhile does not end it."""
    lost, back, silent = (Sample(1_775_117_700_000 + ms, ms / 1000, event=f"{kind}: x")
                          for ms, kind in ((10, "link lost"), (30, "link back"), (40, "silent")))
    receiver = Told([Sample(1_775_117_700_020, 0.02, {"speed_m_s": 2.5})])
    receiver.columns = ("speed_m_s",)  # type: ignore[assignment]

    assert recorded(tmp_path, Told([lost, back, silent]), beside=[receiver]).gaps == 1


def test_two_monitors_of_one_quantity_need_two_logs(tmp_path: Path) -> None:
    """Amps of two packs in one column would be a lie."""
    with pytest.raises(ValueError, match="told by two monitors: current_a"):
        recorded(tmp_path, Told(samples(1)), beside=[Told(samples(1))])


def test_a_second_monitor_that_is_not_there_leaves_no_file(tmp_path: Path) -> None:
    """Then the first is let go of again."""
    pack, receiver = Told(samples(1)), Told([], SourceUnavailable("place", "no such port"))
    receiver.columns = ("speed_m_s",)  # type: ignore[assignment]
    with pytest.raises(SourceUnavailable, match="place"):
        recorded(tmp_path / "book", pack, beside=[receiver])

    assert pack.is_closed
    assert not (tmp_path / "book").exists()
