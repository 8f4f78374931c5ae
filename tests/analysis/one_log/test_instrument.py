"""A sign that turns within a log."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.one_log.instrument import sign_of_log
from analysis.one_log.sign import SignFinding, find_sign
from analysis.telemetry import Telemetry
from tests.analysis.made_logs import REAL_DRIVES, every, pedal_drive, real_drive


def turned(telemetry: Telemetry, share: float) -> Telemetry:
    """The amps told the other way round from so much of the log on; no word of its sign."""
    before = telemetry.elapsed_s < share * telemetry.elapsed_s[-1]
    amps = telemetry["current_a"]
    return replace(telemetry.having(current_a=np.where(before, amps, -amps)), meta={})


def found(telemetry: Telemetry) -> SignFinding:
    return sign_of_log(telemetry)


@pytest.mark.parametrize("share", [0.3, 0.4, 0.5, 0.6, 0.7])
@pytest.mark.parametrize("seconds", [1800, 9000])
def test_a_sign_that_turns_within_the_log_is_none(seconds: int, share: float) -> None:
    """Wherever it turns, it is dated to a minute and a half; the log counts nothing."""
    finding = found(turned(pedal_drive(seconds=seconds), share))

    assert finding.convention == "undecided"
    assert "turns within the log" in finding.reason
    assert finding.turned_s == pytest.approx(share * seconds, abs=90)


def test_a_quiet_stretch_does_not_hide_that_the_sign_turned() -> None:
    """All the widest windows lie in the first hours; the gentle last quarter speaks up too."""
    drive = pedal_drive(seconds=10_800)
    gentle = np.where(drive.elapsed_s > 8100, 0.3, 1.0)
    amps = drive["current_a"] * gentle
    quiet = drive.having(current_a=amps, voltage_v=np.round(52.8 + 0.016 * amps, 2))

    assert found(turned(quiet, 0.75)).convention == "undecided"
    assert found(quiet).convention == "negative_is_discharge"


@pytest.mark.parametrize("name", REAL_DRIVES)
def test_real_drives_keep_their_sign(name: str) -> None:
    """No window of a real drive speaks against the others; turned half way, some do."""
    drive = every(real_drive(name), 10)

    assert not find_sign(drive).is_disputed
    assert find_sign(turned(drive, 0.5)).is_disputed


def test_what_the_description_says_does_not_hide_that_the_sign_turns() -> None:
    """Halves that cancel leave the volts undecided; a description's word is no way out."""
    told = replace(turned(pedal_drive(seconds=1800), 0.5),
                   meta={"monitor": {"sign": {"current_a": "negative_is_discharge"}}})

    assert found(told).convention == "undecided"


def test_a_persons_word_stands() -> None:
    """Whoever says which way it is has looked."""
    told = replace(turned(pedal_drive(seconds=1800), 0.5), meta={
        "sign": {"convention": "negative_is_discharge", "decided_by": "person"}})

    assert found(told).convention == "negative_is_discharge"
