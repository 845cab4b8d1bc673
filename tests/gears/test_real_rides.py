"""Real rides: chains on toothed wheels, so developments stand to each other as whole numbers do."""

from __future__ import annotations

import numpy as np
import pytest

from ridelab.gears import VehicleGears, measure_vehicle
from ridelab.gears.teeth import share_by_chance
from ridelab.gears.tooth_fit import fit_teeth
from ridelab.telemetry import read_ride
from tests.real_rides import REAL_RIDES, needs_real_rides

pytestmark = needs_real_rides


def measured(name: str) -> VehicleGears:
    """Return what one real ride says of its vehicle, nothing being published."""
    return measure_vehicle(name, [read_ride(REAL_RIDES / "good" / f"{name}.fit")], None, None)


@pytest.mark.parametrize("name", ["sensor-long", "sensor-short"])
def test_developments_are_those_of_whole_teeth(name: str) -> None:
    """Rides with a wheel sensor: under 1 % from whole teeth, and rated above random ladders.

    Teeth are whole numbers (a fact of mechanics); which are sold is common practice, no source.
    """
    ladder = np.log(measured(name).gears["development_m"].to_numpy())
    sd = np.full(len(ladder), 0.005)
    fit = fit_teeth(ladder, sd, 1)
    assert fit is not None
    assert len(ladder) >= 7
    assert fit.rms < 0.01
    assert share_by_chance(fit, ladder, sd, most=10) < 0.05


@pytest.mark.parametrize("name", ["sensor-long", "sensor-short", "road-long"])
def test_a_wheel_sensor_gives_narrow_gears(name: str) -> None:
    """Within a gear, ln(development) scatters by 2 % or less at one sample a second."""
    spread = measured(name).rides[0].spread
    assert spread is not None
    assert spread < 0.02


@pytest.mark.parametrize(
    ("name", "reason"),
    [("trainer", "no speed: no gear can be named"), ("multisport", "no gear can be named")],
)
def test_a_ride_without_speed_or_cadence_says_so(name: str, reason: str) -> None:
    """It is no failure: the reason is told and nothing is invented."""
    found = measured(name)
    assert found.gears.is_empty()
    assert reason in found.problems[0].message


def test_a_simulated_ride_without_steps_is_given_no_gears() -> None:
    """The file of a virtual ride holds speeds that follow no gear; none are named.

    Nor is it called stepless: in half an hour with errors of 1.6 % gears might not have shown.
    """
    found = measured("old-unit")
    assert found.gears.is_empty()
    assert not found.stepless
    assert "do not tell gears from chance" in found.problems[0].message
