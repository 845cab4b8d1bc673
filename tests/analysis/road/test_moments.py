"""What samples stand for: time, way and climbing, counted by hand."""

from __future__ import annotations

from math import pi
from typing import Any

import numpy as np
import polars as pl
import pytest

from ridelab.analysis.road import MOMENT_SCHEMA, PROFILE_SCHEMA, RoadProfile, ridden_road
from ridelab.analysis.road.moments import DEAD_BAND_M, RESOLUTION_M
from ridelab.simulate import simulate_ride
from ridelab.telemetry.ride import PAUSE_SCHEMA, SAMPLE_SCHEMA
from tests.simulate.rides import hub_ride

NO_PAUSE = PAUSE_SCHEMA.to_frame()


def samples(t_s: list[float] | np.ndarray, **known: object) -> pl.DataFrame:
    """Samples at these times; what is not given is unknown, and the timer runs."""
    columns: dict[str, Any] = {"t_s": t_s, "timer_running": [True] * len(t_s), **known}
    empty = [None] * len(t_s)
    return pl.DataFrame(
        {name: columns.get(name, empty) for name in SAMPLE_SCHEMA.names()}, schema=SAMPLE_SCHEMA
    )


def on_hills(
    height_m: float, length_m: float, way_m: float = 6000.0, noise_m: float = 0.0
) -> pl.DataFrame:
    """A ride at 6 m/s over sine hills, one sample a second."""
    way = np.arange(0.0, way_m, 6.0)
    noise = np.random.default_rng(3).normal(0.0, noise_m, len(way))
    altitude = 100.0 - height_m * np.cos(2.0 * pi * way / length_m) + noise
    return samples(np.arange(len(way), dtype=float), distance_m=way, altitude_m=altitude)


def test_a_sample_stands_until_the_next_ten_seconds_at_most() -> None:
    """The last one stands for nothing: nobody knows what came after."""
    moments, _ = ridden_road(samples([0.0, 1.0, 3.0, 30.0]), NO_PAUSE)
    assert moments.schema == MOMENT_SCHEMA
    assert moments["n"].to_list() == [0, 1, 2, 3]
    assert moments["seconds"].to_list() == [1.0, 2.0, 10.0, 0.0]


def test_nothing_is_counted_across_a_pause_of_the_timer() -> None:
    """From 2.5 s on the timer stood; a sample in it stands for nothing."""
    pause = pl.DataFrame({"start_s": [2.5], "end_s": [7.0]}, schema=PAUSE_SCHEMA)
    running = [True, True, False, True, True]
    told = samples([0.0, 2.0, 5.0, 7.0, 8.0], timer_running=running)
    moments, _ = ridden_road(told, pause)
    assert moments["seconds"].to_list() == [2.0, 0.5, 0.0, 1.0, 0.0]


def test_way_is_by_distance_where_it_grows_else_by_speed() -> None:
    """A distance that starts anew, or is not there, is made up for by the speed."""
    told = samples(
        [0.0, 1.0, 2.0, 3.0, 4.0],
        distance_m=[0.0, 5.0, 1.0, None, None],
        speed_mps=[9.0, 9.0, 8.0, None, 7.0],
    )
    moments, _ = ridden_road(told, NO_PAUSE)
    assert moments["metres"].to_list() == [5.0, 9.0, 8.0, None, 0.0]


def test_of_a_silence_only_the_time_that_is_counted_has_a_way() -> None:
    """300 m in 60 s: ten of these seconds count, and their share of the way."""
    moments, _ = ridden_road(samples([0.0, 60.0], distance_m=[0.0, 300.0]), NO_PAUSE)
    assert moments["metres"].to_list() == [50.0, 0.0]


@pytest.mark.parametrize("noise_m", [0.0, 0.2])
def test_climbing_on_sine_hills_is_that_of_the_filtered_hills(noise_m: float) -> None:
    """Six hills of 40 m, 1 km long, at a resolution of 120 m: each keeps (sin(x) / x)² of it.

    x = π · 120 / 1000, so 95.3 %: 6 · 2 · 20 m · 0.953 = 228.8 m up and as much down.
    """
    _, profile = ridden_road(on_hills(20.0, 1000.0, noise_m=noise_m), NO_PAUSE)
    x = pi * RESOLUTION_M["unknown"] / 1000.0
    expected = 6 * 2 * 20.0 * (np.sin(x) / x) ** 2
    assert list(profile) == PROFILE_SCHEMA.names()
    assert profile["altitude_source"] == "unknown"
    assert profile["climb_m"] == pytest.approx(expected, rel=0.01)
    assert profile["descent_m"] == pytest.approx(expected, rel=0.01)


def test_climbing_of_the_moments_adds_up_to_that_of_the_ride() -> None:
    """Every metre that the ride climbs belongs to a sample, and downhill to none."""
    moments, profile = ridden_road(on_hills(20.0, 1000.0), NO_PAUSE)
    assert moments["climb_m"].sum() == pytest.approx(profile["climb_m"])
    downhill = moments.filter(pl.col("grade") < -0.001)
    assert downhill["climb_m"].sum() == pytest.approx(0.0, abs=1e-6)


def test_swings_below_the_dead_band_climb_nothing() -> None:
    """Ripples of 1.6 m are what altitudes of unknown source may do by themselves."""
    assert DEAD_BAND_M["unknown"] == 2.0
    _, profile = ridden_road(on_hills(0.8, 1500.0), NO_PAUSE)
    assert (profile["climb_m"], profile["descent_m"]) == (0.0, 0.0)


def test_altitude_set_anew_is_no_climb() -> None:
    """28 m between two samples, as one real unit does after a halt, and on the move."""
    flat = on_hills(0.0, 1000.0)
    jump = pl.when(pl.col("t_s") > 300).then(28.0).otherwise(0.0)
    _, profile = ridden_road(flat.with_columns(pl.col("altitude_m") + jump), NO_PAUSE)
    assert profile["climb_m"] == 0.0


def test_weather_during_a_halt_is_no_climb() -> None:
    """An hour at a café while the pressure falls: 8 m by the altimeter, none by the road."""
    before = np.arange(0.0, 300.0)
    halt = np.arange(300.0, 3900.0)
    after = np.arange(3900.0, 4200.0)
    way = np.concatenate([6.0 * before, np.full(3600, 1800.0), 1800.0 + 6.0 * (after - 3900.0)])
    altitude = np.concatenate([np.zeros(300), np.linspace(0.0, 8.0, 3600), np.full(300, 8.0)])
    told = samples(np.concatenate([before, halt, after]), distance_m=way, altitude_m=altitude)
    moments, profile = ridden_road(told, NO_PAUSE)
    assert profile["climb_m"] == pytest.approx(0.0)
    assert moments["grade"].abs().max() == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize("without", ["altitude_m", "distance_m"])
def test_without_altitude_or_way_nothing_climbs_and_nothing_is_claimed(without: str) -> None:
    """Unknown is null, not level."""
    told = on_hills(20.0, 1000.0).with_columns(pl.lit(None, pl.Float64).alias(without))
    moments, profile = ridden_road(told, NO_PAUSE)
    assert moments.select("grade", "climb_m").null_count().row(0) == (len(told), len(told))
    assert (profile["climb_m"], profile["resolution_m"]) == (None, None)
    assert profile["altitude_source"] == ("none" if without == "altitude_m" else "unknown")


def test_a_ride_of_one_sample_has_one_empty_moment() -> None:
    """Files are cut off anywhere."""
    moments, profile = ridden_road(samples([0.0], altitude_m=[5.0]), NO_PAUSE)
    assert moments["seconds"].to_list() == [0.0]
    assert (profile["lowest_m"], profile["highest_m"]) == (5.0, 5.0)


def test_grade_of_a_simulated_ride_is_off_by_what_its_barometer_drifts() -> None:
    """Against the road at the same resolution: nine of ten within two standard deviations.

    The simulated barometer drifts by 1.5 m within 300 s, so by 1.5 · sqrt(2 / 300) = 0.12 m in a
    second and its square root in more. Of what it drifts over 60 m sqrt(2 / 3) is left between the
    means of two windows side by side: 0.7 % of grade at 4 m/s.
    """
    made = simulate_ride(hub_ride(duration_s=1800), 5)
    moments, _ = ridden_road(made.recorded, made.pauses, barometer=True)
    course = made.scenario.course
    spaced = 10.0 * np.arange(len(course.altitude_m), dtype=np.float64)
    road = RoadProfile.of(spaced, course.altitude_m, 60.0)
    assert road is not None
    way = np.asarray(np.interp(made.truth["t_s"] + 0.5, made.trace.t_s, made.trace.wheel_m))
    truth = road.grade_at(way)
    off = np.abs(moments["grade"].fill_null(np.nan).to_numpy() - truth)
    speed = made.truth["speed_mps"].to_numpy()
    drift = 0.12 * np.sqrt(60.0 / np.maximum(speed, 1.0)) * np.sqrt(2.0 / 3.0) / 60.0
    rides = (speed > 2.0) & (way < course.length_m - 200.0)
    assert rides.sum() > 1000
    assert (off < 2.0 * drift)[rides].mean() > 0.9
