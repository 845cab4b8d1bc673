"""Barometers and satellites told apart by what altitudes do while standing still."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from ridelab import telemetry
from ridelab.analysis.road import altitude_source
from tests.real_rides import REAL_RIDES, needs_real_rides

STANDS = np.zeros(400)
SECONDS = np.arange(400.0)


def wandering(metres: float, memory_s: float) -> np.ndarray:
    """Errors with this standard deviation that forget themselves within ``memory_s``."""
    random = np.random.default_rng(7)
    keeps = np.exp(-1.0 / memory_s)
    errors = [random.normal(0.0, metres)]
    for kick in random.normal(0.0, metres * np.sqrt(1.0 - keeps**2), 399):
        errors.append(keeps * errors[-1] + kick)
    return np.array(errors)


def stepped(altitude: np.ndarray) -> np.ndarray:
    """As a unit stores it, in steps of 0.2 m."""
    return np.round(altitude * 5.0) / 5.0


def test_weather_alone_is_a_barometer() -> None:
    """1 hPa an hour, 8.3 m at sea level (ICAO standard atmosphere): 0.14 m a minute."""
    altitude = stepped(120.0 + 8.3 / 3600.0 * SECONDS)
    assert altitude_source(SECONDS, STANDS, altitude) == "barometric"


def test_metres_within_a_minute_are_satellites() -> None:
    """Errors of 4 m that forget themselves within half a minute."""
    altitude = stepped(120.0 + wandering(4.0, 30.0))
    assert altitude_source(SECONDS, STANDS, altitude) == "satellite"


@pytest.mark.parametrize(
    ("speed", "altitude"),
    [
        pytest.param(STANDS, np.full(400, 120.0), id="held while standing"),
        pytest.param(STANDS + 6.0, stepped(120.0 + wandering(4.0, 30.0)), id="never stood"),
        pytest.param(STANDS, stepped(120.0 + wandering(0.9, 40.0)), id="in between"),
        pytest.param(np.where(SECONDS % 30 < 28, 0.0, 3.0), SECONDS / 50.0, id="short halts"),
    ],
)
def test_what_cannot_be_told_is_unknown(speed: np.ndarray, altitude: np.ndarray) -> None:
    """Neither source is guessed."""
    assert altitude_source(SECONDS, speed, altitude) == "unknown"


def test_the_file_is_believed_before_the_data() -> None:
    """A listed barometer settles it, but not what is not there."""
    altitude = stepped(120.0 + wandering(4.0, 30.0))
    assert altitude_source(SECONDS, STANDS, altitude, barometer=True) == "barometric"
    assert altitude_source(SECONDS, STANDS, altitude * np.nan, barometer=True) == "none"


@needs_real_rides
def test_a_real_ride_is_told_by_its_data_as_its_unit_says() -> None:
    """The FIT file lists a barometer; its GPX export says nothing, and its halts show it."""
    told = telemetry.read_ride(REAL_RIDES / "good" / "satellite-hilly.fit")
    untold = telemetry.read_ride(REAL_RIDES / "good" / "satellite-hilly-a.gpx")
    assert told.barometer
    assert not untold.barometer
    for ride in (told, untold):
        columns = ride.samples.select("t_s", "speed_mps", "altitude_m").cast(pl.Float64)
        found = altitude_source(*(columns[name].to_numpy() for name in columns.columns))
        assert found == "barometric"
