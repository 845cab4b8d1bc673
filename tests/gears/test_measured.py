"""Steps from the joint covariance of the gears, against simulation and Student's t of scipy."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
from scipy import stats

from ridelab.gears.ladder import Rungs, counted
from ridelab.gears.measured import steps
from ridelab.gears.spells import Estimate

if TYPE_CHECKING:
    from ridelab.gears.observations import Floats

RATIOS = np.array([1.0, 1.2, 1.5, 1.9, 2.4])
#: What all gears share is far more than what each has of its own, as with few rides.
SHARED, OWN = 9e-6, np.array([1e-8, 2e-8, 1e-8, 4e-8, 1e-8])
PUBLISHED = Rungs(np.log(2.1 * RATIOS), np.arange(1, 6), np.log(RATIOS))


def measured(ln_developments: Floats, freedom: float = 1e6) -> Estimate:
    """Five gears measured jointly."""
    return Estimate(
        gears=np.arange(5),
        ln_developments=ln_developments,
        covariance=SHARED + np.diag(OWN),
        own_variance=OWN,
        ride_offsets=np.zeros(1),
        quantile=float(stats.t.ppf(0.975, freedom)),
    )


def test_step_intervals_cover_simulated_ladders() -> None:
    """4,000 ladders drawn by numpy: each interval holds its step in 95 %, all joint ones in 95 %.

    Bonferroni's share is exact for independent steps and safe for others: at most 97 %.
    """
    draw = np.random.default_rng(3)
    truth = np.exp(np.diff(PUBLISHED.ln_developments)) - 1
    drawn = draw.multivariate_normal(PUBLISHED.ln_developments, SHARED + np.diag(OWN), 4000)
    alone, together = [], []
    for ladder in drawn:
        found = steps(PUBLISHED, measured(ladder))
        low, high, joint_low, joint_high = (
            found[name].to_numpy() for name in ("step_low", "step_high", "joint_low", "joint_high")
        )
        alone.append((low <= truth) & (truth <= high))
        together.append(((joint_low <= truth) & (truth <= joint_high)).all())
    assert np.mean(alone) == pytest.approx(0.95, abs=0.01)
    assert 0.945 <= np.mean(together) <= 0.97


@pytest.mark.parametrize("freedom", [3.0, 12.0, 4000.0])
def test_few_spells_widen_a_step_by_students_t(freedom: float) -> None:
    """Half widths in the logarithm are quantiles of scipy's t, for one step and for one of four."""
    row = steps(PUBLISHED, measured(PUBLISHED.ln_developments, freedom)).row(0, named=True)
    sd = np.sqrt(OWN[0] + OWN[1])
    for end, share in (("step_high", 0.025), ("joint_high", 0.025 / 4)):
        half = np.log((1 + row[end]) / (1 + row["step"]))
        assert half == pytest.approx(stats.t.isf(share, freedom) * sd, rel=1e-6)


def test_only_neighbours_that_were_both_measured_have_a_step() -> None:
    """Gear 3 was not ridden, and a gear outside the ladder lies between 4 and 5."""
    ln = np.append(PUBLISHED.ln_developments, np.log(2.1 * 2.1))
    order = np.argsort(ln)
    ln_ratios = np.append(np.log(RATIOS), np.nan)[order]
    rungs = Rungs(ln[order], order + 1, ln_ratios)
    found = replace(
        measured(ln[order][[0, 1, 3, 4, 5]]), gears=np.array([0, 1, 3, 4, 5])
    )  # gears 1, 2, 4, the stranger, 5
    assert steps(rungs, found).select("below", "gear").rows() == [(1, 2), (4, 5)]
    assert steps(rungs, found)["published_step"].to_list() == pytest.approx([0.2, 2.4 / 1.9 - 1])


def test_steps_of_a_ladder_that_nobody_published() -> None:
    """Its gears are numbered in order; nothing is published of them."""
    found = steps(counted(PUBLISHED.ln_developments), measured(PUBLISHED.ln_developments))
    assert found["step"].to_list() == pytest.approx(list(RATIOS[1:] / RATIOS[:-1] - 1))
    assert found["published_step"].null_count() == 4


def test_one_gear_has_no_step() -> None:
    """An empty frame with all columns."""
    found = measured(PUBLISHED.ln_developments).only(np.arange(5) == 2)
    assert steps(PUBLISHED, found).is_empty()
