"""Profiles of roads whose height is known in closed form."""

from __future__ import annotations

from math import pi, sin

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridelab.analysis.road import RoadProfile, swings
from ridelab.analysis.road.profile import CELLS


def hill(
    length_m: float, height_m: float, way_m: float = 12_000.0
) -> tuple[np.ndarray, np.ndarray]:
    """A road of sine hills, one sample every 5 m."""
    along = np.arange(0.0, way_m, 5.0)
    return along, height_m * np.sin(2.0 * pi * along / length_m)


def kept(length_m: float, resolution_m: float) -> float:
    """Share of a sine that two moving averages keep: (sin(x) / x)², any textbook on filters."""
    x = pi * resolution_m / length_m
    return (sin(x) / x) ** 2


@pytest.mark.parametrize("length_m", [300.0, 600.0, 2000.0])
@pytest.mark.parametrize("resolution_m", [60.0, 240.0])
def test_sine_hills_keep_what_the_filter_is_known_to_keep(
    length_m: float, resolution_m: float
) -> None:
    """Height and grade shrink by the transfer function of a moving average, taken twice.

    Within 1.5 % of the hill: the grid has nine cells to a window.
    """
    along, altitude = hill(length_m, 20.0)
    road = RoadProfile.of(along, altitude, resolution_m)
    assert road is not None
    inner = along[(along > 1000.0) & (along < 11_000.0)]
    phase = 2.0 * pi * inner / length_m
    share, steepest = kept(length_m, resolution_m), 20.0 * 2.0 * pi / length_m
    off = road.height_at(inner) - 20.0 * share * np.sin(phase)
    assert np.abs(off).max() < 0.015 * 20.0
    off = road.grade_at(inner) - steepest * share * np.cos(phase)
    assert np.abs(off).max() < 0.015 * steepest


@pytest.mark.parametrize("grade", [-0.08, 0.0, 0.05])
def test_constant_grade_is_told_up_to_both_ends(grade: float) -> None:
    """A straight road has one grade, whatever the smoothing."""
    along = np.arange(0.0, 1000.0, 7.0)
    road = RoadProfile.of(along, 30.0 + grade * along, 120.0)
    assert road is not None
    assert road.grade_at(along) == pytest.approx(np.full(len(along), grade), abs=1e-9)


def test_steps_of_a_barometer_hardly_blur_the_grade() -> None:
    """0.2 m over 60 m of a road of 3 %: within 0.2 % at every place."""
    along = np.arange(0.0, 3000.0, 6.0)
    road = RoadProfile.of(along, np.round(0.03 * along * 5.0) / 5.0, 60.0)
    assert road is not None
    assert np.abs(road.grade_at(along[20:-20]) - 0.03).max() < 0.002


def test_long_silence_of_the_altimeter_stays_unknown() -> None:
    """300 m without altitudes are not bridged at a resolution of 60 m; 40 m are."""
    along = np.arange(0.0, 2000.0, 5.0)
    altitude = 0.04 * along
    altitude[(along > 500.0) & (along < 540.0)] = np.nan
    altitude[(along > 1000.0) & (along < 1300.0)] = np.nan
    road = RoadProfile.of(along, altitude, 60.0)
    assert road is not None
    assert road.grade_at(np.array([520.0])) == pytest.approx(0.04)
    assert np.isnan(road.grade_at(np.array([1150.0]))).all()


def test_less_road_than_two_windows_has_no_profile() -> None:
    """Nothing can be told of 100 m at a resolution of 60 m."""
    along = np.arange(0.0, 100.0, 5.0)
    assert RoadProfile.of(along, 0.05 * along, 60.0) is None


@pytest.mark.parametrize(
    ("heights", "turns"),
    [
        pytest.param([0, 5, 0, 5], [0, 1, 2, 3], id="every swing"),
        pytest.param([0, 5, 4.5, 9], [0, 3], id="a dip below the dead band"),
        pytest.param([0, 0.5, 0.2, 0.6], [], id="nothing but noise"),
        pytest.param([0, -0.5, 5, 4.8], [1, 2], id="from the lowest, to the highest"),
        pytest.param([3, 3, 0, 0, 3], [0, 2, 4], id="level at the turns"),
        pytest.param([2, 2, 2], [], id="level"),
    ],
)
def test_swings(heights: list[float], turns: list[int]) -> None:
    """As counted by hand, with a dead band of 1 m."""
    found = swings(np.array(heights, float), 1.0)
    assert np.array(heights)[found].tolist() == np.array(heights)[turns].tolist()


@given(st.lists(st.floats(-50.0, 50.0), min_size=1, max_size=60), st.floats(0.1, 10.0))
def test_swings_alternate_and_are_none_too_small(heights: list[float], dead_band: float) -> None:
    """Each is at least the dead band, up and down in turn; nothing larger is left out."""
    height = np.array(heights)
    found = swings(height, dead_band)
    steps = np.diff(height[found])
    assert (np.abs(steps) >= dead_band).all()
    assert (steps[1:] * steps[:-1] < 0.0).all()
    if height.max() - height.min() > dead_band:
        assert len(found) >= 2


def test_a_grid_has_a_middle() -> None:
    """An even number of cells would shift the road by half a cell."""
    assert CELLS % 2 == 1
