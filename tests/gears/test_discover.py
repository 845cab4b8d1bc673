"""Whether there are gears at all: seen where they were ridden, and never where there are none."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ridelab.gears.discover import concentration, discover, gathers
from ridelab.gears.ladder import NoLadder, Rungs
from ridelab.gears.stretches import Stretches
from tests.gears.test_counting import ladder, ridden


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    holds=st.integers(40, 150),
    pieces=st.integers(1, 4),
    width=st.floats(0.15, 0.6),
    sd=st.floats(0.001, 0.025),
    bounded=st.booleans(),
    seed=st.integers(0, 10_000),
)
def test_a_smooth_density_is_never_named_as_gears(
    holds: int, pieces: int, width: float, sd: float, bounded: bool, seed: int
) -> None:
    """A stepless hub, whatever its rider prefers and however well the speed is known."""
    rng = np.random.default_rng(seed)
    held = rng.uniform(-2.0, 2.0, holds) if bounded else rng.standard_normal(holds)
    y = np.repeat(1.4 + width * held, pieces) + sd * rng.standard_normal(holds * pieces)
    hold = np.repeat(np.arange(holds), pieces)
    made = Stretches(y, np.full(len(y), sd), rng.uniform(4.0, 20.0, len(y)), hold)
    assert isinstance(discover(made, float(made.seconds.sum())), NoLadder)


def test_even_gears_ridden_for_75_s_are_seen_by_satellite() -> None:
    """Nine gears, steps of 23 %, an error of 9 cm/s: 3.5 % in the lowest gear, 0.7 % in the top."""
    centres = ladder([0.23] * 8)
    right = 0
    for seed in range(10):
        made = ridden(centres, seed, 6, 0.035)
        found = discover(made, float(made.seconds.sum()))
        assert isinstance(found, Rungs)
        right += found.count == 9
    assert right >= 9


def test_steps_too_small_for_the_noise_are_not_called_stepless_nor_gears() -> None:
    """Steps of 5 % and an error of 3 %: nobody can tell, and no number of gears is named."""
    made = ridden(ladder([0.05] * 12), 2, 8, 0.0)
    noisy = made.ln_development + 0.03 * np.random.default_rng(1).standard_normal(len(made))
    found = discover(
        Stretches(noisy, np.full(len(made), 0.03), made.seconds, made.hold), 12.0 * len(made)
    )
    assert isinstance(found, NoLadder)


def test_what_could_hide_gears_is_not_called_stepless() -> None:
    """Spread evenly, with an error of 0.3 % it is; with one of 4 % no gear 10 % away would show."""
    rng = np.random.default_rng(8)
    y, hold = rng.uniform(0.8, 2.0, 150), np.arange(150)
    assert gathers(Stretches(y, np.full(150, 0.003), np.full(150, 12.0), hold)) is False
    assert gathers(Stretches(y, np.full(150, 0.04), np.full(150, 12.0), hold)) is None


def test_a_hold_is_not_told_by_its_own_pieces() -> None:
    """Forty ratios held once each, in ten pieces: no gathering, however close the pieces are."""
    rng = np.random.default_rng(3)
    y = np.repeat(rng.uniform(0.8, 2.0, 40), 10) + 0.002 * rng.standard_normal(400)
    hold = np.repeat(np.arange(40), 10)
    made = Stretches(y, np.full(400, 0.002), np.full(400, 15.0), hold)
    gain, error = concentration(made)
    assert gain < 2.0 * error
    assert gathers(made) is not True


@pytest.mark.parametrize("parts", [1, 4])
def test_many_stretches_are_judged_like_few(parts: int) -> None:
    """Thousands of stretches are thinned: the gain stays that of a quarter of them."""
    centres = ladder([0.12] * 9)
    few = concentration(ridden(centres, 1, 75 * parts, 0.02))
    assert few[0] == pytest.approx(concentration(ridden(centres, 9, 75, 0.02))[0], abs=0.1)
