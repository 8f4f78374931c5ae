"""What minus means: decided from the volts, or honestly not."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.one_log.sign import (
    LOG10_ODDS_MAX,
    SignFinding,
    apply_sign,
    find_sign,
    sign_from_volts,
)
from analysis.telemetry import Telemetry
from tests.analysis.made_logs import REAL_DRIVES, every, log, pedal_drive, real_drive


def negated(telemetry: Telemetry) -> Telemetry:
    return telemetry.having(current_a=-telemetry["current_a"])


def told(telemetry: Telemetry, **meta: object) -> Telemetry:
    return Telemetry(telemetry.start, telemetry.elapsed_s, telemetry.columns,
                     telemetry.events, meta)


@pytest.mark.parametrize("name", REAL_DRIVES)
@pytest.mark.parametrize("stride", [1, 10])
def test_real_drives_prove_that_minus_is_discharge(name: str, stride: int) -> None:
    """At 10 Hz and at 1 Hz, and turned round when the amps are; from amps and volts alone."""
    drive = every(real_drive(name), stride)
    alone = log(drive.elapsed_s, current_a=drive["current_a"], voltage_v=drive["voltage_v"])

    assert find_sign(alone).convention == "negative_is_discharge"
    assert find_sign(negated(alone)).convention == "positive_is_discharge"
    assert find_sign(alone).decided_by == "volts"


@pytest.mark.parametrize("name", REAL_DRIVES)
def test_coarse_volts_of_a_small_pack_still_prove_it(name: str) -> None:
    """The same drive as a 52 V pack in steps of 0.1 V."""
    drive = every(real_drive(name), 10)
    coarse = drive.having(voltage_v=np.round(drive["voltage_v"] / 7.5, 1))

    assert sign_from_volts(coarse).convention == "negative_is_discharge"


#: Who writes which sign, with discharge of 5 A as they would write it. Bluetooth SIG Battery
#: Energy Status, Linux power_supply ABI (commit 05f94eb989) and Android BatteryManager write
#: charging as plus; MAVLink BATTERY_STATUS_V2 writes discharging as plus.
WRITERS = {
    "Bluetooth SIG Battery Energy Status": (-1, "negative_is_discharge"),
    "Linux power_supply current_now": (-1, "negative_is_discharge"),
    "Android BatteryManager CURRENT_NOW": (-1, "negative_is_discharge"),
    "MAVLink BATTERY_STATUS_V2": (1, "positive_is_discharge"),
}


@pytest.mark.parametrize(("discharge", "convention"), WRITERS.values(), ids=WRITERS)
def test_each_published_convention_is_found(discharge: int, convention: str) -> None:
    """The same drive written by each of them is read as its definition says."""
    drive = pedal_drive()
    written = drive.having(current_a=-discharge * drive["current_a"])

    assert find_sign(written).convention == convention
    assert apply_sign(written, find_sign(written))["current_a"] == pytest.approx(
        drive["current_a"])


def test_only_positive_amps_are_a_class_of_their_own() -> None:
    """Where a gauge reports only how many amps (a third way the kernel knows of), say so."""
    drive = pedal_drive(1200)
    bare = drive.having(current_a=np.abs(drive["current_a"]))
    finding = find_sign(bare)
    signed = apply_sign(bare, finding)["current_a"]

    assert finding.convention == "unsigned"
    wrong = np.abs(signed - drive["current_a"]).sum() / np.abs(drive["current_a"]).sum()
    assert wrong < 0.05


@pytest.mark.parametrize("name", REAL_DRIVES)
@pytest.mark.parametrize("stride", [1, 10])
def test_real_amps_without_their_sign_get_it_back(name: str, stride: int) -> None:
    """As a 52 V pack in 0.1 V steps: net charge within 1.5 % of throughput, 30 % off if left."""
    drive = every(real_drive(name), stride)
    bare = drive.having(current_a=np.abs(drive["current_a"]),
                        voltage_v=np.round(drive["voltage_v"] / 7.5, 1))
    finding = find_sign(bare)
    error = (apply_sign(bare, finding)["current_a"] - drive["current_a"]).sum()

    assert finding.convention == "unsigned"
    assert abs(error) < 0.015 * np.abs(drive["current_a"]).sum()


def test_a_drive_without_regeneration_is_not_called_unsigned() -> None:
    """Amps that only ever flow out carry a sign all the same."""
    drive = pedal_drive(1200)
    amps = np.minimum(drive["current_a"], 0.0)
    out_only = drive.having(current_a=amps, voltage_v=np.round(52.8 + 0.016 * amps, 2))

    assert find_sign(out_only).convention == "negative_is_discharge"
    assert find_sign(negated(out_only)).convention == "positive_is_discharge"


def test_the_lag_between_the_channels_is_found() -> None:
    """Volts told two seconds after the amps do not turn the sign."""
    drive = pedal_drive()
    late = log(drive.elapsed_s[2:], current_a=drive["current_a"][2:],
               voltage_v=drive["voltage_v"][:-2])
    finding = find_sign(late)

    assert (finding.convention, finding.lag_s) == ("negative_is_discharge", 2.0)


@pytest.mark.scenario(5)
def test_the_evidence_names_the_second_and_its_figures() -> None:
    """One press of the pedal in the middle of small changes is the first proof."""
    amps = np.where(np.arange(300) % 60 < 30, -1.0, -20.0)
    amps[134:140] = -64.0
    drive = log(np.arange(300.0), current_a=amps, voltage_v=53.1 + 0.014 * (amps + 1))
    proof = find_sign(drive).evidence[0]

    assert abs(proof.to_a - proof.from_a) >= 43
    assert proof.words == (f"{proof.at}, {proof.from_a:.0f} → {proof.to_a:.0f} A, "
                           f"{proof.from_v:.1f} → {proof.to_v:.1f} V").replace("-", "−")
    assert proof.at.startswith("08:1")


def test_the_odds_claimed_are_no_higher_than_shown() -> None:
    """However clear a drive, no more than 1 in 10,000 is claimed."""
    assert find_sign(pedal_drive(3600)).log10_odds == LOG10_ODDS_MAX == 4.0


@pytest.mark.parametrize(("columns", "reason"), [
    ({"current_a": np.full(600, -5.0), "voltage_v": np.linspace(53, 52, 600)}, "hardly change"),
    ({"current_a": np.where(np.arange(600) < 400, -5.0, -65.0),
      "voltage_v": np.where(np.arange(600) < 400, 53.0, 52.1)}, "too seldom"),
    ({"current_a": np.full(600, -5.0)}, "no pack volts"),
    ({"voltage_v": np.full(600, 53.0)}, "no amps"),
])
def test_what_cannot_be_told_is_undecided_with_what_to_do(
        columns: dict[str, np.ndarray], reason: str) -> None:
    """Steady amps, one step for good, no volts, no amps: no guess, the reason, what is next."""
    finding = find_sign(log(np.arange(600.0), **columns))

    assert finding.convention == "undecided"
    assert reason in finding.reason
    assert finding.next
    assert finding.reason in finding.words


def test_volts_that_do_not_answer_decide_nothing() -> None:
    """Volts of another pack, which know nothing of these amps, leave it undecided."""
    drive = pedal_drive()
    strange = drive.having(voltage_v=pedal_drive(seed=99)["voltage_v"])

    assert find_sign(strange).convention == "undecided"


STEADY = log(np.arange(600.0), current_a=np.full(600, -5.0), voltage_v=np.full(600, 53.0))


def test_the_description_decides_only_where_the_volts_cannot() -> None:
    """A monitor's declared sign is the fallback; against the volts it is a conflict."""
    declared = {"sign": {"current_a": "positive_is_discharge"}}
    silent = find_sign(told(STEADY, monitor=declared))
    against = find_sign(told(pedal_drive(), monitor=declared))

    assert (silent.convention, silent.decided_by) == ("positive_is_discharge", "description")
    assert (against.convention, against.decided_by) == ("negative_is_discharge", "volts")
    assert "description says plus is out" in against.conflict


def test_a_person_overrules_the_volts_and_hears_of_it() -> None:
    """A stored decision by a person stands; what speaks against it is said."""
    stored = {"convention": "positive_is_discharge", "decided_by": "person"}
    finding = find_sign(told(pedal_drive(), sign=stored))

    assert (finding.convention, finding.decided_by) == ("positive_is_discharge", "person")
    assert "volts say minus is out" in finding.conflict


def test_a_percent_that_rises_while_out_prevails_is_a_conflict() -> None:
    """The display's percent is a witness of its own."""
    drive = pedal_drive()
    rising = drive.having(soc_pct=np.linspace(40, 60, len(drive)))

    assert "percent went up by 20" in find_sign(rising).conflict
    assert find_sign(drive.having(soc_pct=np.linspace(60, 40, len(drive)))).conflict == ""


def test_finding_and_applying_change_nothing_in_the_log() -> None:
    """The raw figures stay as they were."""
    drive = negated(pedal_drive())
    before = {name: values.copy() for name, values in drive.columns.items()}
    apply_sign(drive, find_sign(drive))

    assert all((drive[name] == values).all() for name, values in before.items())


def test_undecided_amps_are_left_alone() -> None:
    """Nothing is turned on a guess."""
    assert apply_sign(STEADY, SignFinding("undecided")) is STEADY


def test_the_finding_as_json_has_the_agreed_keys() -> None:
    """Keys may be added, never renamed."""
    document = find_sign(pedal_drive()).as_json()

    assert {"convention", "decided_by", "log10_odds", "evidence"} <= document.keys()
    assert document["evidence"][0]["words"]


def test_one_rise_of_the_amps_is_not_enough() -> None:
    """Amps that rise once while the rested volts drift the same way would prove the wrong sign."""
    time_s = np.arange(300.0)
    amps = np.where(time_s < 150, -2.0, -22.0)
    drifting = 52.0 + np.where(time_s < 150, 0.0, 0.4 * -np.expm1(-(time_s - 150) / 5))

    assert find_sign(log(time_s, current_a=amps, voltage_v=drifting)).convention == "undecided"
