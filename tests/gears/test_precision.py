"""How well gears are known together, and what riding leaves uncertain."""

from __future__ import annotations

import numpy as np
import pytest

from ridelab.gears.result import Precision
from tests.benchmarks.inference_cases import BICYCLE, CALM, NINE, WHEEL, Case, Day
from tests.benchmarks.inference_found import measured, readings


def test_steps_follow_from_the_covariance_and_the_precision_is_that_of_the_rides() -> None:
    """The interval of a step is that of a difference, so the covariance alone must give it."""
    case = Case("nine", NINE, BICYCLE, WHEEL, (Day("hills", CALM, duration_s=900),), seed=3)
    result = measured(case, readings(case, case.rides()))
    together = {(g, o): c for g, o, c in result.covariance.iter_rows()}
    known = result.precision
    assert isinstance(known, Precision)
    for row in result.steps.iter_rows(named=True):
        gear, below = row["gear"], row["below"]
        variance = together[gear, gear] + together[below, below] - 2 * together[gear, below]
        half = np.log1p(row["step_high"]) - np.log1p(row["step"])
        assert half / np.sqrt(variance) == pytest.approx(_quantile(known.freedom), rel=1e-6)
    assert 60.0 < known.cadence_low_rpm < known.cadence_high_rpm < 95.0
    assert known.bias_mps == 0.0
    assert 0.001 < known.second_sd < 0.1


def _quantile(freedom: int) -> float:
    from scipy.stats import t

    return float(t.ppf(0.975, freedom))
