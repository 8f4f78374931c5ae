"""The pack's figures: typed against measured."""

from __future__ import annotations

import math

import numpy as np
import pytest

from analysis.one_log.use import use_digest
from analysis.parts.pack import SeenPack, seen_pack
from analysis.season.resistance_trend import resistance_digest
from tests.analysis.made_logs import log, pedal_drive
from tests.analysis.made_parts import SEEN, flatbed_pack

NOTHING = SeenPack(0, *(math.nan,) * 8)


@pytest.mark.parametrize(("name", "value", "badge"), [
    ("highest_v", 58.9, "measured"), ("lowest_v", 44.0, "measured"),
    ("rms_10_s_a", 90.0, "measured"), ("rms_10_min_a", 35.0, "typed"),
    ("mean_a", 30.0, "measured"), ("resistance_ohm", 0.016, "typed"),
    ("consumption_wh_per_km", 120.0, "measured"), ("charge_end_v", 58.4, "typed")])
def test_the_harder_figure_counts(name: str, value: float, badge: str) -> None:
    """More volts and amps, less resistance; and it says where it comes from."""
    figure = getattr(flatbed_pack(SEEN), name)

    assert figure.value == pytest.approx(value)
    assert figure.badge == badge


def test_an_empty_logbook_changes_nothing() -> None:
    """Missing is not zero."""
    assert flatbed_pack(NOTHING) == flatbed_pack()


def test_what_nobody_knows_is_none() -> None:
    """Only the cells are needed; volts follow from them, and say so."""
    bare = flatbed_pack(charge_end_v=None, lowest_v=None, rms_10_min_a=None)

    assert bare.highest_v.value == pytest.approx(58.4)
    assert bare.highest_v.badge == "worked out"
    assert bare.lowest_v is None
    assert bare.rms_10_min_a is None


def test_extremes_are_found_over_logs() -> None:
    """The worst of two drives; the mean over both; no distance, no consumption."""
    mild, hard = pedal_drive(seed=1), pedal_drive(seed=2, ohm=0.016)
    doubled = hard.having(current_a=2 * hard["current_a"])
    logs = [(use_digest(t), resistance_digest(t)) for t in (mild, doubled)]
    found = seen_pack(logs)

    assert found.logs == 2
    assert found.rms_10_s_a == pytest.approx(max(use.rms_a[0] for use, _ in logs))
    assert found.lowest_v == pytest.approx(min(use.voltage_min_v for use, _ in logs))
    assert found.mean_a == pytest.approx(
        sum(use.out_ah for use, _ in logs) / sum(use.observed_s for use, _ in logs) * 3600)
    assert math.isnan(found.consumption_wh_per_km)


def test_consumption_is_energy_over_distance_of_all_drives() -> None:
    """26 A at 50 V, coasting now and then, over a kilometre."""
    time_s = np.arange(0.0, 601.0)
    amps = np.where(time_s % 60 < 30, -26.0, -1.0)
    drive = log(time_s, current_a=amps, voltage_v=np.full(601, 50.0),
                distance_m=np.linspace(0, 1000, 601))
    use = use_digest(drive)
    found = seen_pack([(use, resistance_digest(drive))])

    assert use.kind == "drive"
    assert found.consumption_wh_per_km == pytest.approx(use.out_wh, rel=2e-3)


def test_logs_without_amps_do_not_spoil_the_rest() -> None:
    """A log of volts alone gives its volts."""
    drive = pedal_drive()
    volts = log(np.arange(10.0), voltage_v=np.full(10, 57.0))
    found = seen_pack((use_digest(t), resistance_digest(t)) for t in (volts, drive))

    assert found.highest_v == pytest.approx(57.0)
    assert math.isfinite(found.rms_10_s_a)
    assert math.isfinite(found.mean_a)
