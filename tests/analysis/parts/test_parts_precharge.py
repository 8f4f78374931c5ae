"""Pre-charge: times and watts."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.parts.precharge import Precharge, judge_precharge, share_after, time_to_share_s
from tests.analysis.made_parts import asked, flatbed_pack


@pytest.mark.parametrize(("ohm", "seconds"), [(470.0, 13.24), (250.0, 7.04)])
def test_time_to_95_percent(ohm: float, seconds: float) -> None:
    """9.4 mF: 13 s through 470 ohm, 7 s through 250 ohm (ln 20 = 2.996 time constants)."""
    assert time_to_share_s(ohm, 0.0094, 0.95) == pytest.approx(seconds, abs=0.01)


@given(st.floats(1, 1000), st.floats(1e-4, 1), st.floats(0.01, 0.999))
@settings(derandomize=True)
def test_waiting_that_long_reaches_that_share(ohm: float, farad: float, share: float) -> None:
    """The two are each other's inverse."""
    assert share_after(ohm, farad, time_to_share_s(ohm, farad, share)) == pytest.approx(share)


@pytest.mark.parametrize(("wait_s", "verdict"), [(15.0, "yes"), (5.0, "no"),
                                                 (None, "cannot tell yet")])
def test_the_wait_is_judged(wait_s: float | None, verdict: str) -> None:
    """470 ohm and 9.4 mF take 13.2 s."""
    judged = judge_precharge(Precharge("x", 470.0, 9.4, wait_s, 10.0), flatbed_pack())

    assert asked(judged, "capacitors").verdict == verdict


@pytest.mark.parametrize(("rating_w", "is_permanent", "verdict"), [
    (10.0, True, "yes"), (5.0, True, "no"), (5.0, False, "cannot tell yet"),
    (None, True, "cannot tell yet")])
def test_a_resistor_that_is_there_for_good_stands_its_watts(
        rating_w: float | None, is_permanent: bool, verdict: str) -> None:
    """(58.4 V)^2 / 470 ohm = 7.3 W while the far side is empty."""
    judged = judge_precharge(Precharge("x", 470.0, 9.4, 15.0, rating_w, is_permanent),
                             flatbed_pack())

    assert asked(judged, "watts").verdict == verdict
    assert "7.3 W" in asked(judged, "watts").arithmetic[0]


def test_unknown_capacitors_ask_for_a_meter() -> None:
    """No wait is called long enough."""
    judged = judge_precharge(Precharge("x", 470.0, None, 60.0, 10.0), flatbed_pack())

    assert asked(judged, "capacitors").verdict == "cannot tell yet"
