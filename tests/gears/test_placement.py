"""Placement: the likelihood of every scale at once is that of each alone."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from ridelab.gears.mixture import BACKGROUND_DENSITY, BACKGROUND_SHARE, weights
from ridelab.gears.placement import BIN, FACTORS, SCATTERS, _fits
from ridelab.gears.stretches import Stretches


def test_correlation_is_the_sum_over_stretches() -> None:
    """At any scale: the sum of log densities, normal ones from scipy, computed without bins.

    To 0.03 for each piece of evidence where the ladder misfits, to 0.01 where it fits.
    """
    rng = np.random.default_rng(3)
    ladder = np.log(np.array([0.5, 0.7, 0.9, 1.3]))
    scales = np.log(2.1) + np.arange(-0.2, 0.2, BIN)
    y = np.log(2.1) + rng.choice(ladder, 200) + rng.normal(0.0, 0.02, 200)
    sd = rng.uniform(0.001, 0.03, 200)
    stretches = Stretches(y, sd, rng.uniform(4.0, 20.0, 200), np.arange(200))
    found = _fits(stretches, ladder, scales)[:, len(FACTORS) // 2]
    for scatter, fits in zip(SCATTERS, found, strict=True):
        for at in (0, 100, 200, 300, len(scales) - 1):
            width = np.hypot(scatter, sd)[:, None]
            gears = norm.pdf(y[:, None], scales[at] + ladder, width).mean(axis=1)
            density = (1 - BACKGROUND_SHARE) * gears + BACKGROUND_SHARE * BACKGROUND_DENSITY
            expected = weights(stretches) @ np.log(density)
            near = 0.01 if at == 200 else 0.03
            assert fits[at] == pytest.approx(expected, abs=near * weights(stretches).sum())
