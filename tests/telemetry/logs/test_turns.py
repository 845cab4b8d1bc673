"""Counts of pulses become the rates that made them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ridelab.telemetry.logs.turns import STANDS_AFTER_S, Turning, turning
from ridelab.telemetry.notes import Notes


def counted(t: np.ndarray, turns: np.ndarray, notes: Notes | None = None) -> Turning:
    """Rates of a count."""
    return turning(t, turns.astype(float), "pulses", notes or Notes(Path("x.csv")))


@settings(deadline=None)
@given(st.floats(0.5, 12.0), st.integers(1, 6))
def test_steady_turning_has_its_rate(rate: float, per_turn: int) -> None:
    """At 100 rows a second, each rate is right to two rows in the time between its pulses."""
    t = np.arange(0, 30, 0.01)
    found = counted(t, np.floor(t * rate * per_turn) / per_turn)
    known = found.rate[np.isfinite(found.rate)]
    assert known == pytest.approx(rate, rel=0.02 * rate * per_turn + 1e-9)
    assert float(np.mean(known)) == pytest.approx(rate, rel=0.01)
    assert found.interval_s == pytest.approx(1 / rate / per_turn, abs=0.0101)


def test_nothing_is_known_before_the_first_pulse_or_just_after_the_last() -> None:
    """And nothing turns where there has been no pulse for three seconds."""
    t = np.arange(0, 10, 0.1)
    turns = np.where(t < 1.95, 0, np.where(t < 2.95, 1, 2))
    rate = counted(t, turns).rate
    assert np.isnan(rate[t < 1.85]).all()
    assert rate[(t > 2.05) & (t < 2.95)] == pytest.approx(1.0)
    after = t - 3.0
    assert np.isnan(rate[(after > 0.05) & (after < STANDS_AFTER_S - 0.05)]).all()
    assert (rate[after > STANDS_AFTER_S + 0.05] == 0).all()


def test_long_stop_between_two_pulses_is_standing() -> None:
    """One turn in twenty seconds is coasting, not pedalling three turns a minute."""
    t = np.arange(0, 30, 0.1)
    turns = np.select([t < 4.95, t < 24.95], [np.floor(t + 0.05), 5.0], np.floor(t + 0.05) - 19)
    rate = counted(t, turns).rate
    assert (rate[(t > 5.05) & (t < 24.9)] == 0).all()
    assert rate[(t > 2.1) & (t < 4.9)] == pytest.approx(1.0)


def test_never_a_pulse_is_standing_throughout() -> None:
    """After three seconds."""
    found = counted(np.arange(0, 10, 0.1), np.full(100, 7.0))
    assert np.nanmax(found.rate) == 0
    assert found.turns.max() == 0


def test_count_that_falls_back_is_counted_on() -> None:
    """A logger that starts anew: no rate across, no turn lost elsewhere, and told."""
    t = np.arange(0, 20, 0.1)
    turns = np.floor(t * 2 + 0.01)
    turns[100:] -= turns[100]
    notes = Notes(Path("x.csv"))
    found = counted(t, turns, notes)
    assert np.nanmax(found.rate) == pytest.approx(2.0)
    assert np.nanmin(found.rate) == pytest.approx(2.0)
    assert found.turns[-1] == pytest.approx(39 - 1, abs=1)
    [problem] = notes.problems
    assert "falls back 1 time, first after 10 s" in problem.message


def test_rows_without_a_count_stay_unknown() -> None:
    """Other channels may come more often."""
    t = np.arange(0, 10, 0.1)
    turns = np.floor(t)
    turns[1::2] = np.nan
    rate = counted(t, turns).rate
    assert np.isnan(rate[1::2]).all()
    assert np.isfinite(rate[20:90:2]).all()


def test_resolution_is_that_of_the_rows() -> None:
    """Two pulses late by up to a row: a hundredth of a second in one, times the root of two."""
    t = np.arange(0, 30, 0.01)
    found = counted(t, np.floor(t + 1e-6))
    assert found.resolution == pytest.approx(0.01 * 2**0.5, rel=1e-3)
    rates = counted(t, np.floor(t * 1.003)).rate
    scatter = float(np.nanstd(rates[200:]))
    assert scatter < found.resolution / 12**0.5 * 1.5
