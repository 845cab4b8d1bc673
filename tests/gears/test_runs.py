"""Runs: what is computed for all of them at once is what numpy computes for each."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from ridelab.gears.runs import Runs


@given(st.integers(0, 2**32 - 1), st.integers(1, 200), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_sums_and_medians_are_numpys(seed: int, samples: int, cuts: float, kept: float) -> None:
    """For any runs, single samples and none at all among them."""
    rng = np.random.default_rng(seed)
    every = Runs.cut(rng.random(samples) < cuts)
    assert every.lengths.sum() == samples
    runs = every.where(rng.random(len(every)) < kept)
    values = rng.integers(-5, 5, samples) + rng.random(samples).round(1)
    each = [values[first:stop] for first, stop in zip(runs.first, runs.stop, strict=True)]
    np.testing.assert_array_equal(values[runs.samples], np.concatenate([[], *each]))
    np.testing.assert_allclose(runs.medians(values[runs.samples]), [np.median(e) for e in each])
    np.testing.assert_allclose(runs.sums(values[runs.samples]), [e.sum() for e in each], atol=1e-9)
