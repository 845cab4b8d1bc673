"""Geodesic distances, against a published worked example and a general-purpose library."""

from __future__ import annotations

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given
from hypothesis import strategies as st

from ridelab.telemetry.geodesy import distance_m, running_m

LAT, LON = st.floats(-90, 90), st.floats(-180, 180)
NEAR = st.floats(-0.01, 0.01)


def reference_m(lat1: float, lon1: float, lat2: float, lon2: float) -> float:
    """GeographicLib (Karney 2013, "Algorithms for geodesics"), accurate to 15 nm."""
    length: float = Geodesic.WGS84.Inverse(lat1, lon1, lat2, lon2)["s12"]
    return length


def test_the_worked_example_of_the_national_survey() -> None:
    """Flinders Peak to Buninyong, 54 972.271 m, on GRS 80 (value from memory).

    Geoscience Australia, GDA technical manual. GRS 80 and WGS 84 differ by 0.1 mm in the minor
    axis, which changes this line by less than the last digit printed.
    """
    peak = (-(37 + 57 / 60 + 3.72030 / 3600), 144 + 25 / 60 + 29.52440 / 3600)
    buninyong = (-(37 + 39 / 60 + 10.15610 / 3600), 143 + 55 / 60 + 35.38390 / 3600)
    assert float(distance_m(*peak, *buninyong)) == pytest.approx(54_972.271, abs=0.0006)


@given(LAT, LON, LAT, LON)
def test_any_distance_agrees_with_the_library(
    lat1: float, lon1: float, lat2: float, lon2: float
) -> None:
    """Within 0.1 mm, or nan where the points are nearly opposite."""
    ours, theirs = float(distance_m(lat1, lon1, lat2, lon2)), reference_m(lat1, lon1, lat2, lon2)
    if np.isnan(ours):
        assert theirs > 19_900_000
    else:
        assert ours == pytest.approx(theirs, abs=1e-4)


@given(LAT, LON, NEAR, NEAR)
def test_steps_of_a_ride_agree_to_a_hundredth_of_a_millimetre(
    lat: float, lon: float, north: float, east: float
) -> None:
    """Where the formula's own differences of nearly equal numbers would show."""
    lat2 = float(np.clip(lat + north, -90, 90))
    ours = float(distance_m(lat, lon, lat2, lon + east))
    assert ours == pytest.approx(reference_m(lat, lon, lat2, lon + east), abs=1e-5)


def test_many_pairs_are_computed_at_once_and_unknown_ones_stay_unknown() -> None:
    """One degree along the equator and along the meridian there (GeographicLib)."""
    lengths = distance_m([0, 0, np.nan, 0], [0, 0, 0, 5], [0, 1, 1, 0], [1, 0, 0, 5])
    expected = [reference_m(0, 0, 0, 1), reference_m(0, 0, 1, 0), np.nan, 0.0]
    np.testing.assert_allclose(lengths, expected, atol=1e-5)


def test_the_date_line_is_no_barrier() -> None:
    """From 179.9 east to 179.9 west."""
    ours = float(distance_m(10, 179.9, 10, -179.9))
    assert ours == pytest.approx(reference_m(10, 0, 10, 0.2), abs=1e-5)


def test_running_distance_passes_over_unknown_positions() -> None:
    """The hop over a hole counts, the one from run to run does not."""
    lat = np.array([np.nan, 0.0, 1.0, np.nan, 2.0, 9.0, 10.0])
    along = running_m(lat, np.zeros(7), np.array([0, 0, 0, 0, 0, 1, 1]))
    first = reference_m(0, 0, 1, 0)
    second = first + reference_m(1, 0, 2, 0)
    third = second + reference_m(9, 0, 10, 0)
    np.testing.assert_allclose(along, [np.nan, 0, first, np.nan, second, second, third], rtol=1e-9)
