"""Placement: the likelihood of every scale at once is that of each alone."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from ridelab.gears.mixture import BACKGROUND_DENSITY, BACKGROUND_SHARE, weights
from ridelab.gears.placement import BIN, FACTORS, SCATTERS, Placement, _fits, offsets
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


def _holds(ln_developments: list[float], pieces: int) -> Stretches:
    """So many pieces of evidence of each development, known to 0.1 %."""
    y = np.repeat(ln_developments, pieces)
    return Stretches(y, np.full(len(y), 0.001), np.full(len(y), 8.0), np.arange(len(y)))


@pytest.mark.parametrize("strays", [1, 2])
def test_a_ride_on_fine_steps_is_not_taken_for_one_on_another_wheel(strays: int) -> None:
    """Four steps of five are 4 %: a wheel 4 % larger fits most gears, and strays below them."""
    ladder = np.log(2.0) + np.cumsum([0.0, *[0.04, 0.04, 0.04, 0.04, 0.06] * 6])
    placed = Placement(ladder, 1.0, 0.004, 2.0, 0.0, 1.0)
    ridden = [float(ladder[k]) for k in range(2, 29) if k % 5 not in (4, 0)]
    others = _holds(ridden, 6)
    astray = [float(ladder[k]) + 0.04 for k in (4, 9, 14)]
    here = _holds(ridden * 4 + astray * strays, 1)
    assert offsets([others, here], placed) == pytest.approx([0.0, 0.0], abs=0.004)


def test_a_ride_on_another_wheel_is_told_on_coarse_steps() -> None:
    """5 % off, and 14 % from gear to gear: no other wheel explains it."""
    ladder = np.log(2.0) + 0.13 * np.arange(14)
    placed = Placement(ladder, 1.0, 0.004, 2.0, 0.0, 1.0)
    rides = [_holds([float(y) + off for y in ladder[3:12]], 5) for off in (0.0, 0.0, 0.0, 0.05)]
    found = offsets(rides, placed)
    assert found[3] - found[0] == pytest.approx(0.05, abs=0.002)
