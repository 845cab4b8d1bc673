"""Departures: one gear that is another than its sheet says costs that gear, and no wheel."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from ridelab.gears import measure_vehicle
from ridelab.gears.departures import ANOTHER_SD, ANOTHER_SHARE, AS_PUBLISHED, log_evidence
from tests.gears.riding import EVEN_14, ride
from tests.gears.test_ladder import UNEVEN, ladder

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.gears.result import VehicleGears

STEP = EVEN_14[1] / EVEN_14[0]
MOSTLY = 7


def _ridden(seed: int, gears: Sequence[int]) -> list[tuple[int, int]]:
    """Return a schedule of short and long holds, ``MOSTLY`` the longest, in an order of chance."""
    rng = np.random.default_rng(seed)
    holds = [(gear, int(rng.integers(20, 50))) for gear in rng.permutation(gears)]
    return [hold for other in holds for hold in (other, (MOSTLY, int(rng.integers(30, 60))))]


def _printed(ratios: Sequence[float], off: float) -> tuple[float, ...]:
    """Return a data sheet on which gear ``MOSTLY`` is lower than it is built by ``off``."""
    return tuple(r / (1.0 + off * (n == MOSTLY)) for n, r in enumerate(ratios, 1))


def _rollout_m(found: VehicleGears) -> float:
    assert found.rollout is not None
    return found.rollout.value


@pytest.mark.parametrize("precision", [1e4, 1e6, 1e9])
@pytest.mark.parametrize("off", [0.0, 0.002, 0.01, 0.04])
def test_evidence_is_the_integral_over_the_departure(precision: float, off: float) -> None:
    """By scipy's quadrature: the prior of the departure times the likelihood, 1 at its best."""
    sd = precision**-0.5

    def integrand(departure: float) -> float:
        prior = (1.0 - ANOTHER_SHARE) * norm.pdf(departure, 0.0, AS_PUBLISHED)
        prior += ANOTHER_SHARE * norm.pdf(departure, 0.0, ANOTHER_SD)
        return float(prior * np.exp(-0.5 * precision * (departure - off) ** 2))

    integral, _ = quad(integrand, off - 10 * sd, off + 10 * sd, points=[off])
    found = log_evidence(np.array([off]), np.array([precision]))
    assert found[0] == pytest.approx(np.log(integral), abs=1e-6)


@pytest.mark.parametrize("off", [0.02, 0.03, 0.04])
def test_one_gear_off_costs_ten_at_most_however_long_it_was_ridden(off: float) -> None:
    """Compared with the same gear as published, known to 0.1 % or to 0.001 %."""
    for precision in (1e6, 1e10):
        as_published, departing = log_evidence(np.array([0.0, off]), np.array([precision] * 2))
        assert 2.0 < as_published - departing < 10.0


@pytest.mark.parametrize("is_measured", [True, False], ids=["measured", "nominal"])
@pytest.mark.parametrize("off", [-0.03, 0.02, 0.03, 0.04])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_gear_ridden_most_is_off_and_not_the_wheel(
    seed: int, off: float, is_measured: bool
) -> None:
    """With even steps the whole ladder could slide, and lay the departure on a gear ridden less."""
    made = ride(_ridden(seed, range(4, 14)), EVEN_14, seed=seed)
    stated_m = 2.1 if is_measured else 2.13
    found = measure_vehicle("heron", [made], ladder(_printed(EVEN_14, off)), stated_m, is_measured)
    assert _rollout_m(found) == pytest.approx(2.1, rel=0.01)
    deviations = dict(found.gears.select("gear", "deviation").iter_rows())
    assert deviations.pop(MOSTLY) == pytest.approx(off, abs=0.006)
    assert max(map(abs, deviations.values())) < 0.008


@pytest.mark.parametrize("wheel", [STEP, 1.0 / STEP], ids=["a step larger", "a step smaller"])
@pytest.mark.parametrize("off", [0.0, 0.03])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_wheel_wrong_by_a_whole_step_is_found_where_all_gears_were_ridden(
    seed: int, off: float, wheel: float
) -> None:
    """One gear would lie beyond the end of the ladder: that outweighs a measured rollout."""
    made = ride(_ridden(seed, range(1, 15)), EVEN_14, rollout_m=2.1 * wheel, seed=seed)
    found = measure_vehicle("heron", [made], ladder(_printed(EVEN_14, off)), 2.1, True)
    assert _rollout_m(found) == pytest.approx(2.1 * wheel, rel=0.01)
    assert any("check the tyre" in problem.message for problem in found.problems)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_uneven_steps_tell_a_wrong_wheel_although_a_gear_is_off(seed: int) -> None:
    """A slide would make every gear depart, which costs more than a wheel 13 % off."""
    made = ride(_ridden(seed, range(1, 8)), UNEVEN, rollout_m=2.1 * STEP, seed=seed)
    found = measure_vehicle("heron", [made], ladder(_printed(UNEVEN, 0.03)), 2.1, True)
    assert _rollout_m(found) == pytest.approx(2.1 * STEP, rel=0.01)
