"""Several claims on one vehicle: Holm's rule, against statsmodels, and what it guards against."""

from __future__ import annotations

from functools import partial

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm
from statsmodels.stats.multitest import multipletests  # type: ignore[import-untyped]
from statsmodels.stats.weightstats import DescrStatsW  # type: ignore[import-untyped]

from ridelab.analysis import judge
from ridelab.analysis.together import sure_enough
from tests.analysis import ridden


def _passes(p: list[float], place: int, share: float) -> bool:
    return p[place] <= 0.025 * share


@given(st.lists(st.floats(1e-9, 0.5), min_size=1, max_size=40))
def test_surely_enough_is_holms_rule(p: list[float]) -> None:
    """Reference: statsmodels' multipletests, method "holm", at a family-wise 2.5 %."""
    limits = [0.025 / by for by in range(1, len(p) + 1)]
    if min(abs(one - limit) for one in p for limit in limits) < 1e-12:
        return  # on a limit itself rounding decides
    ours = sure_enough(len(p), partial(_passes, p))
    reference = multipletests(p, alpha=0.025, method="holm")[0]
    assert ours == reference.tolist()


@pytest.mark.parametrize("seed", range(20))
def test_verdicts_are_the_two_one_sided_tests_of_statsmodels(seed: int) -> None:
    """Reference: DescrStatsW.ttost_mean on drawn logarithms, Student's t and all."""
    rng = np.random.default_rng(seed)
    value, tolerance = 5.4, 0.02
    drawn = DescrStatsW(np.log(value) + rng.normal(rng.uniform(-0.04, 0.04), 0.03, 9))
    low, high = np.log(value * (1 - tolerance)), np.log(value * (1 + tolerance))
    p_holds, p_low, p_high = drawn.ttost_mean(low, high)
    ends = drawn.tconfint_mean(0.05)
    row = {"vehicle": "heron", "range": float(np.exp(drawn.mean))}
    row |= {"range_low": float(np.exp(ends[0])), "range_high": float(np.exp(ends[1]))}
    span = pl.DataFrame([row])
    word = ridden.verdict({"quantity": "range", "value": value}, span=span)["verdict"]
    assert (word == "holds") == (p_holds < 0.025)
    assert (word == "fails") == (max(p_low[1], p_high[1]) > 0.975)


def test_a_verdict_that_would_do_alone_is_withheld_among_many() -> None:
    """540 ± 0.5 % lies in 5.4 ± 0.55 % alone; beside nine claims just as near it is not given."""
    near = {"quantity": "range", "value": 5.4, "tolerance": 0.0055}
    assert ridden.verdict(near)["verdict"] == "holds"
    gears = ridden.measured(ridden.numbered())
    rows = judge(
        ridden.claims(*[near] * 10),
        gears,
        ridden.measured_range(5.4),
        ridden.measured_steps(gears),
        ridden.published(),
        ridden.vehicles("heron"),
    )
    assert set(rows["verdict"]) == {"undecided"}
    assert rows["reason"][0] == (
        "within 0.55 % of the claim, uncertainty included, but not surely enough for one of 10 "
        "claims judged together: ride longer in gears 1 and 9, pedalling steadily"
    )


def test_sure_verdicts_and_what_cannot_be_tested_do_not_cost_others() -> None:
    """Forty clear claims and forty that no ride shows leave a near one as it was."""
    near = {"quantity": "range", "value": 5.4, "tolerance": 0.0055}
    clear = {"quantity": "range", "value": 5.4, "tolerance": 0.2}
    silent = {"quantity": "noise", "value": None, "tolerance": None}
    gears = ridden.measured(ridden.numbered())
    rows = judge(
        ridden.claims(near, *[clear] * 40, *[silent] * 40),
        gears,
        ridden.measured_range(5.4),
        ridden.measured_steps(gears),
        ridden.published(),
        ridden.vehicles("heron"),
    )
    assert rows["verdict"].to_list() == ["holds"] * 41 + ["untestable"] * 40


def test_false_alarms_stay_rare_however_many_claims_are_judged() -> None:
    """Claims whose truth lies on their limit, the worst case: 2.5 % of vehicles, not of claims."""
    rng = np.random.default_rng(5)
    alarms, vehicles, claims = 0, 4000, 20
    for _ in range(vehicles):
        p = norm.sf(rng.normal(size=claims)).tolist()
        alarms += any(sure_enough(claims, partial(_passes, p)))
    assert alarms / vehicles < 0.025 + 3 * np.sqrt(0.025 * 0.975 / vehicles)
