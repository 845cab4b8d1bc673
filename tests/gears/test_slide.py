"""A place for the whole ladder: what soft pedalling says for a slide, decoding takes back."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from ridelab.drivetrain.ladder import published_ladder
from ridelab.gears import measure_vehicle
from ridelab.gears.departures import Published, places
from ridelab.gears.ladder import Stated
from ridelab.gears.mixture import Gathered
from ridelab.simulate import Rider, Sensors, simulate_ride
from tests.benchmarks.inference_cases import as_read
from tests.gears.riding import EVEN_14
from tests.simulate.rides import FOURTEEN, hub_ride

if TYPE_CHECKING:
    from ridelab.telemetry.ride import Ride

STEP = EVEN_14[1] / EVEN_14[0]


@pytest.fixture(scope="module")
def four_hours() -> list[Ride]:
    """Four rides of an hour on a 14-speed hub gear, gear 14 among those ridden."""
    rides = [
        simulate_ride(
            hub_ride(
                rider=Rider(hunting=0.1, cadence_rpm=70.0 + 2.0 * seed),
                sensors=Sensors(power_meter=seed % 4 < 2, dropouts_per_hour=2.0),
                duration_s=3600,
            ),
            seed,
        )
        for seed in (0, 2, 4, 6)
    ]
    return [as_read(ride, f"ride {number}") for number, ride in enumerate(rides)]


@pytest.mark.parametrize("worth", [5.0, 20.0, 500.0])
def test_soft_pedalling_beyond_the_top_gear_leaves_the_measured_place_in_doubt(
    worth: float,
) -> None:
    """It gathers one step above, the longer the rides the more; the stated place is kept."""
    gears = np.log(2.1 * np.array([*EVEN_14[4:], EVEN_14[-1] * STEP]))
    found = Gathered(gears, np.full(11, 1e6), np.array([20_000.0] * 10 + [worth]))
    ratios = np.log(np.array(EVEN_14))
    made = places(found, Published(ratios, ratios), Stated(None, 2.1, True), 0.004)
    assert any(one.rollout_m == pytest.approx(2.1, rel=0.005) for one in made)


@pytest.mark.parametrize("times", [1, 4, 5])
def test_many_rides_slide_no_further_than_few(four_hours: list[Ride], times: int) -> None:
    """Many hours hold many seconds of soft pedalling above gear 14, and no fifteenth gear.

    Of more than sixteen rides, some are fitted first.
    """
    ladder = published_ladder(FOURTEEN)
    found = measure_vehicle("heron", four_hours * times, ladder, 2.1, True)
    assert found.rollout is not None
    assert found.rollout.value == pytest.approx(2.1, rel=0.01)
    assert found.placement_probability is not None
    assert found.placement_probability > 0.99
    ridden = found.gears.filter(found.gears["seconds"] > 300 * times)
    assert len(ridden) > 5
    published = ridden["published_ratio"].to_numpy()
    assert ridden["ratio"].to_numpy() == pytest.approx(published, rel=0.002)
