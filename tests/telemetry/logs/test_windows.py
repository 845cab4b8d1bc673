"""Channels of different rates come onto one time base, and nothing is made up."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ridelab.telemetry.logs.windows import averaged, pace
from tests.telemetry.logs.logged import logger, read, table, told


def columns(n: int, rate_hz: float, **every: int) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """Rows at a rate; each channel counts rows, with a value in every so-manieth."""
    t = np.arange(n) / rate_hz
    values = {
        name: np.where(np.arange(n) % step == 0, np.arange(n), np.nan)
        for name, step in every.items()
    }
    return t, {name: one.astype(float) for name, one in values.items()}


def test_full_rows_up_to_ten_a_second_come_out_as_they_went_in() -> None:
    """Also where they come unevenly."""
    for t in (np.arange(50) / 10, np.cumsum(np.linspace(0.2, 3.0, 50))):
        speed = np.arange(50.0)
        slowest = pace(t, speed)
        assert slowest
        times, found = averaged(t, {"speed": speed}, slowest)
        assert times == pytest.approx(t, abs=0)
        assert found["speed"] == pytest.approx(speed, abs=0)


def test_hundred_rows_a_second_become_four() -> None:
    """Means of 25 rows, at the mean of their times."""
    t, found = columns(1000, 100, speed=1)
    slowest = pace(t, found["speed"])
    assert slowest
    times, means = averaged(t, found, slowest)
    assert times == pytest.approx(np.arange(40) / 4 + 0.12)
    assert means["speed"] == pytest.approx(np.arange(40) * 25 + 12)


def test_slower_channel_sets_the_pace() -> None:
    """Cadence once a second keeps its values and times; speed is the mean around each."""
    t, found = columns(2001, 100, speed=1, cadence=100)
    slowest = pace(t, found["cadence"])
    assert slowest
    times, means = averaged(t, found, slowest)
    assert times == pytest.approx(np.arange(21))
    assert means["cadence"] == pytest.approx(np.arange(21) * 100)
    assert means["speed"][1:-1] == pytest.approx(np.arange(1, 20) * 100, abs=0.51)


def test_silence_of_the_slower_channel_is_null_and_the_other_goes_on() -> None:
    """Ten seconds without cadence: windows of a second each, with speed alone."""
    t, found = columns(3000, 100, speed=1, cadence=100)
    found["cadence"][1050:2050] = np.nan
    slowest = pace(t, found["cadence"])
    assert slowest
    times, means = averaged(t, found, slowest)
    silent = np.isnan(means["cadence"]) & (times < 29)
    assert silent.sum() == pytest.approx(10, abs=1)
    assert ((times[silent] > 10.4) & (times[silent] < 20.6)).all()
    assert np.isfinite(means["speed"]).all()
    assert (np.diff(times) > 0).all()


def test_what_comes_before_and_after_the_slower_channel_is_kept() -> None:
    """Its first and last values do not bound the ride."""
    t, found = columns(3000, 100, speed=1, cadence=100)
    found["cadence"][:1000] = found["cadence"][2000:] = np.nan
    slowest = pace(t, found["cadence"])
    assert slowest
    times, _ = averaged(t, found, slowest)
    assert times[0] < 1
    assert times[-1] > 29


@settings(deadline=None)
@given(
    st.lists(st.floats(0.01, 5), min_size=2, max_size=80),
    st.integers(1, 9),
    st.integers(1, 9),
)
def test_means_lie_within_what_was_measured(steps: list[float], one: int, other: int) -> None:
    """Whatever the rates: times increase and stay in the ride, no value beyond its channel's."""
    t, found = columns(len(steps), 1, speed=one, cadence=other)
    t = np.cumsum(steps)
    paces = [pace(t, values) for values in found.values()]
    known = [one for one in paces if one]
    if not known:
        return
    times, means = averaged(t, found, max(known, key=lambda one: one.interval_s))
    assert (np.diff(times) > 0).all()
    assert t[0] <= times[0]
    assert times[-1] <= t[-1]
    for name, values in means.items():
        inside = values[np.isfinite(values)]
        assert len(inside)
        assert inside.min() >= np.nanmin(found[name])
        assert inside.max() <= np.nanmax(found[name])


def test_averaging_is_told() -> None:
    """How many rows became how many samples."""
    rows = [(n / 50, 5, 60) for n in range(500)]
    ride = read(table("t,speed,cadence", rows))
    assert len(ride.samples) == 40
    assert "500 rows, 0.02 s apart: averaged to 40 samples, 0.25 s apart" in told(ride)


def test_pulses_set_the_pace_by_their_own_rate() -> None:
    """One turn of the crank in 0.8 s: that is a window, though rows come at 100 a second."""
    bench = logger(speed=1.0, crank_pulses=1.0)
    rows = [(n / 100, 5, n // 80) for n in range(8000)]
    ride = read(table("t,speed,crank_pulses", rows), bench)
    steps = np.diff(ride.samples["t_s"].to_numpy())
    assert float(np.median(steps)) == pytest.approx(0.8, abs=0.01)
    known = ride.samples["cadence_rpm"].drop_nulls()
    assert known.to_list() == pytest.approx([75.0] * len(known))
    assert len(known) > 90
