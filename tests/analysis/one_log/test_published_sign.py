"""The sign of two real cars that count amps the other way round, day by day.

W. Nie and others, Energy 323 (2025) 135754 (tests/data/cars_with_cells/SOURCE.md): in their log
discharge is positive, which nobody wrote down. Rows are 30 s apart in one, 10 s in the other.
"""

from __future__ import annotations

import pandas as pd
import pytest

from analysis.one_log.charge import throughput
from analysis.one_log.sign import apply_sign, find_sign
from analysis.telemetry import Telemetry
from analysis.timebase import observe
from tests.analysis.made_logs import DATA, log

TABLE = pd.read_csv(DATA / "cars_with_cells" / "days.csv.gz")
DAYS = sorted({(int(car), str(day)) for car, day in zip(TABLE["car"], TABLE["day"], strict=True)})
#: Of car 2, whose rows are too far apart for it, on this day.
UNDECIDED = (2, "2019-05-12")


def day_log(car: int, day: str, sign: float = 1.0) -> Telemetry:
    part = TABLE[(TABLE["car"] == car) & (TABLE["day"] == day)].drop_duplicates("time_s")
    return log(part["time_s"].to_numpy(float), voltage_v=part["voltage_v"].to_numpy(float),
               current_a=sign * part["current_a"].to_numpy(float))


@pytest.mark.parametrize("sign", [1.0, -1.0])
@pytest.mark.parametrize(("car", "day"), DAYS)
def test_each_day_tells_the_same_sign_or_none(car: int, day: str, sign: float) -> None:
    """Positive is discharge, and after turning the amps it is not; never the wrong way."""
    found = find_sign(day_log(car, day, sign))

    if (car, day) == UNDECIDED:
        assert found.convention == "undecided"
        assert found.next
    else:
        assert found.convention == (
            "positive_is_discharge" if sign > 0 else "negative_is_discharge")


@pytest.mark.parametrize(("car", "day"), [(3, "2019-04-20"), (3, "2019-04-23")])
def test_with_that_sign_percent_and_charge_go_together(car: int, day: str) -> None:
    """Over a day seen whole, the counted charge falls as the displayed percent does."""
    telemetry = day_log(car, day)
    part = TABLE[(TABLE["car"] == car) & (TABLE["day"] == day)]
    signed = apply_sign(telemetry, find_sign(telemetry))
    seen = observe(signed, "current_a")

    net_ah = throughput(seen, seen.pick(signed["current_a"])).net

    assert net_ah * (part["soc_pct"].iloc[-1] - part["soc_pct"].iloc[0]) > 0
