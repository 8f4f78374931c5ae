"""Capacity from spans on the scenarios that its method was published with.

G. L. Plett, *Journal of Power Sources* 196 (2011) 2319; the scenarios' figures were read in the
course code of that work, what is expected of them was worked out apart.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pytest

from analysis.estimate import Estimate
from analysis.season.capacity import capacity_from_spans, proportional_fit
from analysis.telemetry import Floats


@dataclass(frozen=True)
class Scenario:
    """Spans of a vehicle whose amps are digitised and whose percent is known to a percent."""

    capacity_ah: float
    share_max: float
    seconds: float
    amps_max: float
    #: Expected: standard deviation of a count [Ah], where a plain slope ends [Ah], standard
    #: deviation of the capacity [Ah].
    charge_sd: float
    plain_ah: float
    capacity_sd: float
    spans: int = 1000
    share_sd: float = math.sqrt(2) * 0.01

    def draw(self, rng: np.random.Generator) -> tuple[Floats, Floats]:
        """Shares and amp-hours, both with their errors."""
        share = rng.uniform(-self.share_max, self.share_max, self.spans)
        return (share + rng.normal(0, self.share_sd, self.spans),
                self.capacity_ah * share + rng.normal(0, self.charge_sd, self.spans))

    def fit(self, share: Floats, charge: Floats) -> Estimate:
        found = capacity_from_spans(share, charge, np.full(self.spans, self.share_sd),
                                    np.full(self.spans, self.charge_sd))
        assert isinstance(found, Estimate)
        return found


SCENARIOS = {
    "electric": Scenario(100, 0.4, 7200, 500, 0.0066447, 99.626, 0.1937),
    "hybrid": Scenario(10, 0.2, 300, 300, 0.00081380, 9.8522, 0.0387),
}


@pytest.mark.parametrize("name", SCENARIOS)
def test_counts_of_a_published_scenario(name: str) -> None:
    """Ten bits over twice the largest amps, a second each: bin sqrt(m / 12) / 3600."""
    case = SCENARIOS[name]
    bin_a = 2 * case.amps_max / 2**10

    assert bin_a * math.sqrt(case.seconds / 12) / 3600 == pytest.approx(case.charge_sd, rel=1e-3)


@pytest.mark.parametrize("name", SCENARIOS)
def test_a_published_scenario_is_met_without_bias(name: str) -> None:
    """Forty drawn vehicles: the mean is right where a plain slope is low, the scatter the bound's,
    and 95 % intervals hold the truth about as often."""
    case, rng = SCENARIOS[name], np.random.default_rng(7)
    drawn = [case.draw(rng) for _ in range(40)]
    found = [case.fit(*each) for each in drawn]
    values = np.array([each.value for each in found])
    plain = np.mean([share @ charge / (share @ share) for share, charge in drawn])

    assert values.mean() == pytest.approx(case.capacity_ah, abs=3 * case.capacity_sd / 40**0.5)
    assert plain == pytest.approx(case.plain_ah, abs=3 * case.capacity_sd / 40**0.5)
    assert values.std() == pytest.approx(case.capacity_sd, rel=0.3)
    assert sum(each.low <= case.capacity_ah <= each.high for each in found) >= 36


def test_total_least_squares_vs_the_singular_vector() -> None:
    """Scaled to like errors, the line is the one across the smallest singular vector.

    G. H. Golub, C. F. Van Loan, SIAM J. Numer. Anal. 17 (1980) 883 (from memory); numpy's own
    decomposition stands for it.
    """
    case = SCENARIOS["electric"]
    share, charge = case.draw(np.random.default_rng(8))
    across = np.linalg.svd(np.column_stack([share / case.share_sd, charge / case.charge_sd]))[2][1]
    slope = -across[0] / across[1] * case.charge_sd / case.share_sd

    assert case.fit(share, charge).value == pytest.approx(slope, rel=1e-6)
    assert proportional_fit(share, charge, case.share_sd / case.charge_sd) == pytest.approx(
        slope, rel=1e-9)


def test_a_published_port_with_one_sum_in_the_others_place_is_far_off() -> None:
    """Public code stores sum x^2 where sum x y belongs; five pairs of 100 Ah then give 75 times
    that. Ours gives 100.22."""
    share = np.array([0.40, -0.35, 0.50, -0.45, 0.30])
    charge = np.array([41.0, -34.0, 50.5, -44.0, 31.0])
    k2, c1, c3 = 0.02**2, share @ share, charge @ charge
    wrong = (-c1 + k2 * c3 + math.sqrt((c1 - k2 * c3)**2 + 4 * k2 * c1**2)) / (2 * k2 * c1)

    assert proportional_fit(share, charge, 0.02) == pytest.approx(100.222725, abs=1e-5)
    assert wrong > 5000
