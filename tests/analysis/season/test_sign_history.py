"""The sign over a logbook: neighbours help, a change is found and dated."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.digest import digest_log
from analysis.one_log.sign import Convention, sign_from_volts
from analysis.season.findings import turned_logs
from analysis.season.sign_history import (
    SignEvidence,
    find_sign_changes,
    in_packhand_sign,
    resolve_signs,
    sign_evidence,
)
from analysis.telemetry import Telemetry
from tests.analysis.made_logs import log, pedal_drive

MINUS: Convention = "negative_is_discharge"
PLUS: Convention = "positive_is_discharge"
NONE: Convention = "undecided"


def evidence(volts: Convention = NONE, percent: Convention = NONE, told: Convention = NONE,
             by: str = "") -> SignEvidence:
    return SignEvidence(volts, percent, told, by)


def charge(amps: float = 25.0, seconds: int = 3600) -> Telemetry:
    """A charge at steady amps in which percent rises."""
    time_s = np.arange(0.0, seconds)
    return log(time_s, current_a=np.full(seconds, amps), voltage_v=53 + time_s / 3600,
               soc_pct=np.floor(40 + abs(amps) * time_s / 3600))


@pytest.mark.parametrize(("amps", "meaning"), [(25.0, MINUS), (-25.0, PLUS)])
def test_percent_tells_the_sign_of_a_steady_charge(amps: float, meaning: Convention) -> None:
    """Where the volts cannot tell, the percent's rise can."""
    telemetry = charge(amps)

    found = sign_evidence(telemetry, sign_from_volts(telemetry))

    assert (found.by_volts, found.by_percent) == (NONE, meaning)


def test_volts_tell_the_sign_of_a_drive() -> None:
    """A drive's own volts decide, whatever the percent is."""
    telemetry = pedal_drive()

    assert sign_evidence(telemetry, sign_from_volts(telemetry)).by_volts == MINUS


def test_a_log_that_cannot_tell_follows_its_nearest_neighbour() -> None:
    """Of two neighbours as near, the earlier one is followed."""
    logs = [evidence(MINUS), evidence(), evidence(), evidence(PLUS), evidence()]

    assert resolve_signs(logs) == [MINUS, MINUS, PLUS, PLUS, PLUS]


def test_a_log_whose_sign_turns_has_none_and_tells_its_neighbours_nothing() -> None:
    """A charge after it follows the next log that knows."""
    turning = SignEvidence(NONE, MINUS, MINUS, "description", turned_s=900.0)

    assert resolve_signs([turning, evidence(), evidence(PLUS)]) == [NONE, PLUS, PLUS]


def test_a_persons_word_stands_above_all() -> None:
    """What a person decided is kept, though the volts say otherwise."""
    assert resolve_signs([evidence(MINUS, told=PLUS, by="person")]) == [PLUS]


def test_figures_stand_above_the_description() -> None:
    """A description is believed only where no log's figures tell."""
    told = evidence(told=MINUS, by="description")

    assert resolve_signs([told, evidence(PLUS)]) == [PLUS, PLUS]
    assert resolve_signs([told]) == [MINUS]


def turned_half_way(seconds: int = 3600) -> Telemetry:
    """The amps told the other way round from the middle on."""
    drive = pedal_drive(seconds)
    return drive.having(current_a=np.where(drive.elapsed_s < seconds / 2, 1, -1)
                        * drive["current_a"])


def test_a_season_names_the_log_whose_sign_turns() -> None:
    """With its time, and what that means; a log that a person has spoken for is not named."""
    [sound, turning] = [digest_log(each, name, parts=())
                        for each, name in ((pedal_drive(), "a.csv"), (turned_half_way(), "b.csv"))]
    spoken = replace(turning, head=replace(turning.head, sign=replace(
        turning.head.sign, told=MINUS, told_by="person")))

    [finding] = turned_logs([sound, turning, spoken])

    assert finding.words.startswith("the sign of the amps turns within the log b.csv, about 08:4")
    assert finding.start_s == pytest.approx(turning.start_s + 1800, abs=90)
    assert finding.end_s == turning.end_s


def test_a_change_of_sign_is_found_and_dated() -> None:
    """The change lies between the last log of the old sign and the first of the new."""
    logs = [evidence(MINUS), evidence(), evidence(MINUS), evidence(), evidence(PLUS)]

    (change,) = find_sign_changes(logs)

    assert (change.last_old, change.first_new) == (2, 4)
    assert (change.before, change.after) == (MINUS, PLUS)


def test_percent_alone_makes_no_change_of_sign() -> None:
    """A log whose percent moved the wrong way is no rewired shunt."""
    assert find_sign_changes([evidence(MINUS), evidence(NONE, PLUS), evidence(MINUS)]) == ()


def test_amps_of_unknown_sign_are_left_out() -> None:
    """Without a sign a log has no amps: nothing counts them either way."""
    assert "current_a" not in in_packhand_sign(pedal_drive(), NONE)
    assert in_packhand_sign(pedal_drive(), PLUS)["current_a"] == pytest.approx(
        -pedal_drive()["current_a"])
