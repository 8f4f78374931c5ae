"""Everything about one log, put together."""

from __future__ import annotations

import json
from datetime import UTC, datetime

import numpy as np
import pytest

from analysis.drive.remaining import last_means_a
from analysis.drive.summary import summarise
from analysis.drive.text import drive_sentence, drive_text
from analysis.estimate import Estimate, NoEstimate
from analysis.one_log.distance import distance_m
from analysis.telemetry import Event
from tests.analysis.made_logs import (
    REAL_DRIVES,
    every,
    log,
    pedal_drive,
    real_drive,
    real_integrals,
)


def value(answer) -> float:
    assert isinstance(answer, Estimate), answer
    return answer.value


@pytest.mark.parametrize("name", REAL_DRIVES)
@pytest.mark.parametrize("turn", [1, -1])
def test_a_real_drive_as_a_whole(name: str, turn: int) -> None:
    """Sign, charge and distance as elsewhere computed, also with the amps negated."""
    drive = real_drive(name)
    summary = summarise(drive.having(current_a=turn * drive["current_a"]))
    expected = real_integrals(name)

    assert summary.sign.convention == (
        "negative_is_discharge" if turn == 1 else "positive_is_discharge")
    assert value(summary.flow.charge_out_ah) == pytest.approx(expected["charge_out_ah"], rel=1e-3)
    assert value(summary.flow.charge_in_ah) == pytest.approx(expected["charge_in_ah"], rel=1e-3)
    assert value(summary.distance_m) == pytest.approx(expected["distance_km"] * 1000, rel=5e-3)
    net_kwh = (value(summary.flow.energy_in_wh) - value(summary.flow.energy_out_wh)) / 1000
    assert net_kwh == pytest.approx(expected["net_kwh"], rel=2e-3)
    assert summary.soc_pct == pytest.approx((expected["soc_start"], expected["soc_end"]), abs=0.1)
    assert summary.flow.peak is not None
    assert summary.flow.peak.current_a == drive["current_a"].min()


def test_the_document_has_the_agreed_keys() -> None:
    """Keys of the drive document; they may be added to, never renamed."""
    document = summarise(real_drive("A13")).as_json("A13")

    assert document["schema"] == "packhand.drive/1"
    assert {
        "log", "start", "end", "duration_s", "samples", "observed_s", "gaps", "sign",
        "charge_out_ah", "charge_in_ah", "energy_out_wh", "energy_in_wh", "distance_m",
        "consumption_wh_per_km", "resistance_mohm", "remaining", "peak", "rms_current_a",
        "voltage_v", "soc_pct", "soc_agreement", "events", "findings"} <= document.keys()
    assert document["remaining"].keys() >= {"time_h", "range_km", "usable_ah"}
    assert document["rms_current_a"].keys() == {"10 s", "1 min", "10 min"}
    assert document["start"] == "2026-04-02T08:15:00.000Z"
    assert set(document["charge_budget_ah"]) == {"gain", "offset", "clock", "resolution",
                                                 "sampling"}
    json.dumps(document, allow_nan=False)


def test_missing_columns_are_answers_without_values() -> None:
    """A log of percent and speed alone is still a drive; it says what to log next."""
    time_s = np.arange(600.0)
    summary = summarise(log(time_s, soc_pct=np.linspace(80, 75, 600), speed_m_s=np.full(600, 3.0)))

    assert value(summary.distance_m) == pytest.approx(599 * 3.0)
    for answer in (summary.flow.charge_out_ah, summary.consumption_wh_per_km,
                   summary.resistance.after_1_s, summary.remaining.time_h):
        assert isinstance(answer, NoEstimate)
        assert answer.reason
        assert answer.next
    assert summary.soc_pct == (80.0, 75.0)
    json.dumps(summary.as_json("x"), allow_nan=False)


def test_an_undecided_sign_gives_no_charge_but_the_rest() -> None:
    """Steady amps: no guess which way; peak and RMS still hold."""
    summary = summarise(log(np.arange(700.0), current_a=np.full(700, -5.0),
                            voltage_v=np.full(700, 53.0)))

    assert isinstance(summary.flow.charge_out_ah, NoEstimate)
    assert "press the pedal" in summary.flow.charge_out_ah.next
    assert summary.flow.rms_current_a["1 min"] == pytest.approx(5.0)
    assert summary.observed_s == 699.0


def test_gaps_and_events_are_listed_and_the_unseen_is_bounded() -> None:
    """A lost link: the gap with its cause, less observed time, a wider interval upwards."""
    drive = pedal_drive(900)
    keep = (drive.elapsed_s < 400) | (drive.elapsed_s > 460)
    holed = log(drive.elapsed_s[keep], Event(401.0, "link lost", "cable pulled"),
                Event(700.0, "mark", "kerb"), **{n: v[keep] for n, v in drive.columns.items()})
    whole, less = summarise(drive), summarise(holed)

    assert [g.cause for g in less.gaps] == ["link lost: cable pulled"]
    assert less.observed_s == whole.observed_s - 62
    assert [(e.kind, e.words) for e in less.events] == [
        ("gap", "link lost: cable pulled"), ("mark", "kerb")]
    out = less.flow.charge_out_ah
    assert isinstance(out, Estimate)
    assert out.high - out.value > 2 * (out.value - out.low)
    assert out.high >= value(whole.flow.charge_out_ah) - 0.1


def test_distance_comes_from_the_counter_where_there_is_one() -> None:
    """An odometer counts on across gaps; set back to zero it counts nothing."""
    counter = np.array([100.0, 150, 200, np.nan, 300, 0, 40])

    assert value(distance_m(log(np.arange(7.0), distance_m=counter))) == 240.0


def test_consumption_divides_by_the_distance_that_was_seen() -> None:
    """An odometer counts on through a gap; the energy of the gap is not there."""
    drive = pedal_drive(900)
    keep = (drive.elapsed_s < 300) | (drive.elapsed_s >= 600)
    driven = drive.having(distance_m=drive.elapsed_s * 3.0)
    holed = log(driven.elapsed_s[keep], **{n: v[keep] for n, v in driven.columns.items()})
    summary = summarise(holed)
    seen_km = (899 - 301) * 3.0 / 1000
    net = value(summary.flow.energy_out_wh) - value(summary.flow.energy_in_wh)

    assert value(summary.distance_m) == pytest.approx(899 * 3.0)
    assert value(summary.consumption_wh_per_km) == pytest.approx(net / seen_km)


def test_what_is_left_at_the_mean_of_the_last_minutes() -> None:
    """50 % of 100 Ah at a mean of 20 A is two and a half hours."""
    drive = pedal_drive(1200)
    amps = np.where(np.arange(1200) % 20 < 10, -40.0, 0.0)
    steady = log(drive.elapsed_s, current_a=amps, voltage_v=np.round(52.8 + 0.016 * amps, 2),
                 soc_pct=np.full(1200, 50.0))
    summary = summarise(steady, capacity_ah=100.0)

    assert value(summary.remaining.usable_ah) == pytest.approx(50.0)
    assert value(summary.remaining.time_h) == pytest.approx(2.5, rel=0.01)
    assert last_means_a(steady) == pytest.approx(
        {"1 min": -20.0, "5 min": -20.0, "15 min": -20.0}, rel=0.02)


def test_amp_hours_left_as_displayed_come_first() -> None:
    """Where the monitor tells amp-hours left, percent is not needed."""
    drive = pedal_drive(700)
    summary = summarise(drive.having(charge_left_ah=np.full(700, 61.5)))

    assert value(summary.remaining.usable_ah) == 61.5


def test_the_zero_error_of_a_rest_is_reported_and_not_taken_off() -> None:
    """+0.35 A through five still minutes is 8.4 Ah a day; the count stays as it was."""
    drive = pedal_drive(900)
    amps = drive["current_a"].copy()
    amps[300:700] = 0.35
    rested = drive.having(current_a=amps, voltage_v=np.round(52.8 + 0.016 * amps, 2))
    summary = summarise(rested)

    assert [f.kind for f in summary.findings] == ["zero_error"]
    assert "8.4 Ah a day" in summary.findings[0].words
    assert summary.findings[0].verdict == "cannot tell yet"  # a panel on the roof shows the same
    assert value(summary.flow.charge_in_ah) >= 0.35 * 399 / 3600


def test_summarising_changes_nothing_in_the_log() -> None:
    """The arrays handed in stay as they were, and may be read-only."""
    drive = pedal_drive(700)
    for values in (drive.elapsed_s, *drive.columns.values()):
        values.setflags(write=False)
    before = {name: values.copy() for name, values in drive.columns.items()}
    summarise(drive)

    assert all((drive[name] == values).all() for name, values in before.items())


def test_a_later_start_changes_only_the_times() -> None:
    """The same drive another day has the same figures."""
    drive = real_drive("A13")
    later = type(drive)(datetime(2027, 1, 1, tzinfo=UTC), drive.elapsed_s, drive.columns)
    one, other = summarise(drive).as_json("x"), summarise(later).as_json("x")

    for document in (one, other):
        for key in ("start", "end", "peak", "sign"):
            document.pop(key)
    assert one == other


@pytest.mark.parametrize("telemetry", [
    log(np.array([0.0]), current_a=np.array([1.0])),
    log(np.arange(2.0), current_a=np.array([np.nan, np.nan]), voltage_v=np.array([50.0, 50.0])),
    log(np.arange(30.0), voltage_v=np.full(30, 50.0)),
    every(pedal_drive(600), 45),
    log(np.arange(5.0), current_a=np.full(5, np.nan), soc_pct=np.arange(5.0)),
])
def test_odd_logs_are_summarised_without_a_fuss(telemetry) -> None:
    """One row, no figures, no amps, far apart: a document, no crash, no NaN."""
    json.dumps(summarise(telemetry).as_json("odd"), allow_nan=False)
    assert drive_text(summarise(telemetry))


def test_the_text_opens_with_a_sentence() -> None:
    """How long, how far, what went out and in, then why the sign is sure."""
    summary = summarise(real_drive("B26"))
    lines = drive_text(summary).splitlines()

    assert lines[0] == drive_sentence(summary)
    assert lines[0] == "13 min, 14.7 km: 8.5 Ah out, 1.0 Ah in, 174 Wh/km, at most 318 A."
    assert lines[1].startswith("Minus means out of the pack. Proof: ")
    assert any("mostly gain" in line for line in lines)


@pytest.mark.parametrize(("seconds", "words"), [(6, "5 s: "), (90, "89 s: "), (601, "10 min: ")])
def test_a_short_log_is_told_in_seconds(seconds: int, words: str) -> None:
    """Nothing opens with no minutes."""
    assert drive_sentence(summarise(pedal_drive(seconds))).startswith(words)
