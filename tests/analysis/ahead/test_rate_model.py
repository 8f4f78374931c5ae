"""What the next stretch will take, learnt from own drives."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from analysis.ahead.consumption import Conditions, Run
from analysis.ahead.rate_model import COLD_PER_K, MEMORIES, RateModel


def runs(rates: list[float], extent: float = 10.0) -> list[Run]:
    """Runs of one length."""
    return [Run(k * 86400.0, extent, extent * rate) for k, rate in enumerate(rates)]


def scattered(count: int, sd: float, seed: int, cold: float = 0.0) -> list[Run]:
    """Runs of various lengths about 100 Wh/km, colder ones dearer by ``cold`` a kelvin."""
    rng = np.random.default_rng(seed)
    celsius = rng.uniform(0, 20, count)
    rates = 100 * np.exp(rng.normal(0, sd, count) + cold * (20 - celsius))
    return [Run(float(k), 10.0, 10.0 * rate, Conditions(temp))
            for k, (rate, temp) in enumerate(zip(rates, celsius, strict=True))]


def test_the_level_follows_the_runs() -> None:
    """After many runs alike the next is foretold to be like them."""
    level, _ = RateModel.learnt(runs([80.0] * 30)).ahead(10.0, Conditions())

    assert math.exp(level) == pytest.approx(80.0, rel=1e-3)


def test_old_runs_fade() -> None:
    """Ten runs after a lasting change the forecast has come over to it."""
    level, _ = RateModel.learnt(runs([120.0] * 20 + [90.0] * 10)).ahead(10.0, Conditions())

    assert math.exp(level) == pytest.approx(90.0, rel=0.04)


def test_own_drives_correct_the_cost_of_cold() -> None:
    """A vehicle that minds cold less or more than the prior is learnt as it is."""
    for truth in (0.0, 0.02):
        model = RateModel.learnt(scattered(200, 0.02, 1, truth))

        assert model.costs[0] == pytest.approx(truth, abs=0.002)
        assert abs(model.costs[0] - truth) < abs(COLD_PER_K - truth)


def test_load_above_the_usual_costs_as_the_drives_say() -> None:
    """With noted loads the cost per kg is learnt; before, it comes from the vehicle's mass."""
    before = RateModel.learnt(runs([100.0] * 3), mass_kg=500).ahead(
        10.0, Conditions(extra_load_kg=100))[0]
    rng = np.random.default_rng(1)
    loads = rng.uniform(-100, 300, 60)
    noted = [replace(run, met=Conditions(extra_load_kg=kg)) for run, kg in zip(
        runs(list(100 * np.exp(0.0005 * loads))), loads, strict=True)]
    after = RateModel.learnt(noted, mass_kg=500).ahead(10.0, Conditions(extra_load_kg=100))[0]

    assert math.exp(before) == pytest.approx(100 * math.exp(0.16), rel=0.01)
    assert math.exp(after) == pytest.approx(100 * math.exp(0.05), rel=0.01)


def test_what_was_never_met_widens_the_forecast() -> None:
    """Frost foretold from warm days only is less sure than another warm day."""
    model = RateModel.learnt([replace(r, met=Conditions(20.0)) for r in scattered(30, 0.1, 2)])

    assert model.ahead(10.0, Conditions(0.0))[1] > 1.2 * model.ahead(10.0, Conditions(20.0))[1]


def test_a_longer_way_is_foretold_more_surely_until_the_level_walks_off() -> None:
    """The scatter of runs averages out; the wandering of the level does not."""
    rng = np.random.default_rng(3)
    walked = np.cumsum(rng.normal(0, 0.05, 60)) + rng.normal(0, 0.1, 60)
    steady, wandering = (RateModel.learnt(of) for of in (
        scattered(60, 0.1, 3), runs(list(100 * np.exp(walked)))))
    short, usual, long = (steady.ahead(km, Conditions(15.0))[1] for km in (2, 10, 20))
    near, far = (wandering.ahead(km, Conditions(15.0))[1] for km in (40, 1000))

    assert short > usual > long
    assert far > near


@pytest.mark.parametrize(("met", "name"), [(Conditions(), "nothing"),
                                           (Conditions(math.nan, math.nan, math.nan), "NaN")])
def test_unknown_conditions_count_as_the_usual(met: Conditions, name: str) -> None:
    """What nobody noted neither adds nor takes."""
    model = RateModel.learnt(runs([100.0] * 5))

    assert model.ahead(10.0, met) == model.ahead(10.0, Conditions(25.0, 0.0, 0.0))


def test_the_memory_that_foretold_best_counts_most() -> None:
    """A steady vehicle is remembered for long, a wandering one for a few runs."""
    rng = np.random.default_rng(4)
    steady = runs(list(100 * np.exp(rng.normal(0, 0.1, 80))))
    wandering = runs(list(100 * np.exp(np.cumsum(rng.normal(0, 0.1, 80)))))
    long, short = (float(RateModel.learnt(of).worth @ np.log(MEMORIES))
                   for of in (steady, wandering))

    assert long > math.log(20)
    assert short < math.log(4)


def test_a_long_drive_is_less_sure_than_as_long_a_stretch_of_several() -> None:
    """Driver, load and weather of one drive do not average out along it; over several they do."""
    model = RateModel.learnt(scattered(60, 0.1, 5))

    one, several = (model.ahead(40.0, Conditions(15.0), is_one_run=alone)[1]
                    for alone in (True, False))
    assert one > 1.2 * several


def test_the_first_run_is_no_proof_of_a_small_scatter() -> None:
    """What a single run says of the level leaves the scatter as it was believed."""
    one, alike = (RateModel.learnt(runs([100.0] * count)) for count in (1, 2))

    assert one.freedom == alike.freedom - 1
    assert (alike.scatter < one.scatter).all()
    assert np.ptp(one.scatter) == 0
