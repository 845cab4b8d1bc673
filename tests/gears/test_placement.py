"""Placement: the likelihood of every scale at once is that of each alone."""

from __future__ import annotations

import numpy as np
from scipy.stats import norm

from ridelab.gears.mixture import BACKGROUND_DENSITY, BACKGROUND_SHARE, weights
from ridelab.gears.placement import BIN, WIDTH, _fits
from ridelab.gears.stretches import Stretches


def test_correlation_is_the_sum_over_stretches() -> None:
    """At any scale: the sum of log densities, normal ones from scipy, computed without bins."""
    rng = np.random.default_rng(3)
    ladders = np.log(np.array([[0.5, 0.7, 0.9, 1.3], [0.5, 0.8, 1.0, 1.4]]))
    scales = np.log(2.1) + np.arange(-0.2, 0.2, BIN)
    y = np.log(2.1) + rng.choice(ladders[0], 200) + rng.normal(0.0, 0.02, 200)
    sd = np.full(200, 0.002)
    stretches = Stretches(y, sd, rng.uniform(4.0, 20.0, 200), np.arange(200))
    found = _fits(stretches, ladders, scales)
    width = np.hypot(WIDTH, 0.002)
    for ladder, fits in zip(ladders, found, strict=True):
        for at in (0, 200, 400, 600, len(scales) - 1):
            gears = norm.pdf(y[:, None], scales[at] + ladder, width).mean(axis=1)
            density = (1 - BACKGROUND_SHARE) * gears + BACKGROUND_SHARE * BACKGROUND_DENSITY
            expected = weights(stretches) @ np.log(density)
            assert abs(fits[at] - expected) < 0.1
