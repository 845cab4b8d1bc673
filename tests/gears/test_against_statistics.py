"""The estimators against references outside: scipy, a published worked example, an analytic bound.

Worked example: yields of dyestuff in six batches of five samples (O. L. Davies, Statistical Methods
in Research and Production, 1947, table 6.2; also Box and Tiao, Bayesian Inference in Statistical
Analysis, 1973, section 5.1.2). The figures of the table are from memory; that the estimates made
of them, 42.00 and 49.51, are the published ones shows that they are right.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import optimize, special, stats

from ridelab.gears import measure_vehicle, spells
from ridelab.gears.mixture import robust_middle
from ridelab.gears.spells import _Model, estimate
from tests.gears.riding import ride
from tests.gears.test_ladder import ladder
from tests.gears.test_spells import made

BATCHES = np.array(
    [
        [1545, 1440, 1440, 1520, 1580],
        [1540, 1555, 1490, 1560, 1495],
        [1595, 1550, 1605, 1510, 1560],
        [1445, 1440, 1595, 1465, 1545],
        [1595, 1630, 1515, 1635, 1625],
        [1520, 1455, 1450, 1480, 1445],
    ],
    dtype=float,
)


@pytest.mark.parametrize("seed", range(5))
def test_robust_middle_minimises_hubers_loss(seed: int) -> None:
    """Against scipy's own Huber function and minimiser, a fifth of the values being far off."""
    draw = np.random.default_rng(seed)
    values = 0.7 + draw.normal(0.0, 0.002, 15)
    values[:3] += draw.uniform(0.02, 0.2, 3)
    precision = draw.uniform(0.3, 3.0, 15) / 0.002**2
    weight = 1.0 / (1.0 / precision + 0.003**2)

    def loss(middle: float) -> float:
        return float((weight * special.huber(0.003, values - middle)).sum())

    best = optimize.minimize_scalar(loss, bounds=(0.6, 0.9), method="bounded",
                                    options={"xatol": 1e-9})  # fmt: skip
    assert robust_middle(values, precision) == pytest.approx(best.x, abs=2e-5)


def test_robust_middle_agrees_with_a_trimmed_mean() -> None:
    """A different robust location: scipy's mean of the middle 60 %, to a third of its own error."""
    draw = np.random.default_rng(7)
    off = []
    for _ in range(200):
        values = draw.normal(0.0, 0.003, 14)
        values[:2] += 0.05
        off.append(robust_middle(values, np.full(14, 1e6)) - stats.trim_mean(values, 0.2))
    assert np.abs(np.mean(off)) < 0.0003
    assert np.std(off) < 0.003 / np.sqrt(14)


def test_variances_are_those_of_a_published_example(monkeypatch: pytest.MonkeyPatch) -> None:
    """Restricted maximum likelihood without the beliefs: 42.00 between batches, 49.51 within.

    In a balanced design it is the estimate by analysis of variance (Searle, Casella and McCulloch,
    Variance Components, 1992, section 3.8): within = MSW, between = (MSB - MSW) / n.
    """
    for belief in ("SPELL_SD_DOUBT", "RIDE_SD_DOUBT"):
        monkeypatch.setattr(spells, belief, 1e9)
    groups, each = BATCHES.shape
    ride_of = np.repeat(np.arange(groups), each)
    y = BATCHES.ravel() - BATCHES.mean()
    column, nothing = np.zeros(groups * each, dtype=np.int64), np.zeros((2, groups * each))
    model = _Model(column, ride_of, y, np.full(groups * each, 1e-6), nothing, groups)

    def objective(logs: np.ndarray) -> float:
        return model.objective(np.append(logs, np.log(spells.LAG_SD_S)))

    best = optimize.minimize(objective, np.log([30.0, 30.0]), method="Nelder-Mead",
                             options={"xatol": 1e-6, "fatol": 1e-10})  # fmt: skip
    within, between = np.exp(best.x)
    mean_square_within = BATCHES.var(axis=1, ddof=1).mean()
    mean_square_between = each * BATCHES.mean(axis=1).var(ddof=1)
    assert within**2 == pytest.approx(mean_square_within, rel=1e-3)
    assert between**2 == pytest.approx((mean_square_between - mean_square_within) / each, rel=1e-3)
    assert (between, within) == pytest.approx((42.00, 49.51), abs=0.02)
    _, covariance, _ = model.solve(within, between, spells.LAG_SD_S)
    assert np.sqrt(covariance[0, 0]) == pytest.approx(19.38, abs=0.02)


def test_intervals_are_as_wide_as_a_bootstrap_of_rides() -> None:
    """scipy.stats.bootstrap over 25 rides, the ride being what is drawn: widths within 15 %.

    On average over eight vehicles, for the lowest gear and for the step to the next.
    """
    ratio = []
    for seed in range(8):
        spells_ = made(seed, rides=25, late=0.0)
        found = estimate(spells_, rides=25)
        assert found is not None
        by_ride = spells_.ln_development.reshape(25, 4, 6).mean(axis=2)
        c = found.covariance
        for values, variance in (
            (by_ride[:, 0], c[0, 0]),
            (by_ride[:, 1] - by_ride[:, 0], c[0, 0] + c[1, 1] - 2 * c[0, 1]),
        ):
            drawn = stats.bootstrap((values,), np.mean, n_resamples=2000, method="BCa",
                                    rng=np.random.default_rng(seed))  # fmt: skip
            low, high = drawn.confidence_interval
            ratio.append(2.0 * found.quantile * np.sqrt(variance) / (high - low))
    assert np.mean(ratio[0::2]) == pytest.approx(1.0, abs=0.15)
    assert np.mean(ratio[1::2]) == pytest.approx(1.0, abs=0.15)


@pytest.mark.parametrize("noise", [0.0005, 0.004])
def test_one_gear_is_measured_as_sharply_as_can_be(noise: float) -> None:
    """Forty rides of ten minutes in one gear, beside the Cramer-Rao bound sigma / sqrt(n).

    One sample: the speed's own noise, and whole rpm as uniform noise of 1 / sqrt(12) at 82 rpm.
    The estimates scatter by the bound, to what forty rides can tell (3 standard errors, 34 %), and
    the error that is stated is at least as large as the bound, and no more than three times.
    """
    bound = np.hypot(noise, 1.0 / np.sqrt(12.0) / 82.0) / np.sqrt(600.0)
    off, stated = [], []
    for seed in range(40):
        made_ = ride([(1, 600)], (2.0,), noise=noise, seed=seed)
        row = measure_vehicle("x", [made_], ladder((2.0,)), 2.1).gears.row(0, named=True)
        off.append(np.log(row["development_m"] / 4.2))
        stated.append(np.log(row["ratio_high"] / row["ratio_low"]) / 2.0 / 1.96)
    assert 0.75 * bound < np.std(off) < 1.34 * bound
    assert bound < np.median(stated) < 3.0 * bound
