"""Spells under two power meters: where they begin and end, and what is left out."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from ridelab.analysis.losses import spells_of
from tests.analysis.losses.made import GEAR_S, LOSSES, Pair, samples

EXACT = Pair(noise=0.0, drift=0.0)


def test_a_spell_is_one_gear_without_its_ends() -> None:
    """69 s of pedalling, 2 s off at either end, cut after 60 s: 60 s, and a rest too short."""
    found = spells_of(samples(EXACT, rounds=1))
    assert found.gear.tolist() == [1, 2, 3, 4, 5]
    assert found.seconds.tolist() == [60.0] * 5
    assert 1 - found.wheel_j / found.crank_j == pytest.approx(np.array(LOSSES), abs=0.002)


@pytest.mark.parametrize("lag_s", [1, 3])
def test_a_meter_that_trails_is_set_right(lag_s: int) -> None:
    """The energies are those of the same seconds again."""
    found = spells_of(samples(Pair(noise=0.02, drift=0.0, lag_s=lag_s)))
    assert found.lag_s == lag_s
    straight = spells_of(samples(Pair(noise=0.02, drift=0.0)))
    assert straight.lag_s == 0
    assert found.wheel_j / found.crank_j == pytest.approx(
        straight.wheel_j / straight.crank_j, abs=0.01
    )


def test_steady_power_says_nothing_of_a_lag() -> None:
    """Two noises do not go together."""
    rng = np.random.default_rng(8)
    table = samples(EXACT)
    flat = table.with_columns(
        power_w=pl.Series(200 + rng.standard_normal(len(table))),
        wheel_power_w=pl.Series(190 + rng.standard_normal(len(table))),
    )
    assert spells_of(flat).lag_s == 0


def test_pauses_silences_and_unknown_powers_end_a_spell() -> None:
    """Energy over a time that nobody recorded is none."""
    first = samples(EXACT, rounds=1).head(GEAR_S)
    paused = first.with_columns(timer_running=~pl.col("t_s").is_between(30, 32))
    silent = first.filter(~pl.col("t_s").is_between(30, 45))
    unknown = first.with_columns(
        wheel_power_w=pl.when(~pl.col("t_s").is_between(30, 32)).then("wheel_power_w")
    )
    for table in (paused, unknown):
        assert len(spells_of(table).seconds) == 2
        assert spells_of(table).seconds.sum() < 60
    assert spells_of(silent).seconds.tolist() == pytest.approx([25, 18], abs=2)


def test_unsure_gears_and_soft_pedalling_are_left_out() -> None:
    """Meters are stated to be exact from some 50 W on."""
    table = samples(EXACT, rounds=1)
    unsure = table.with_columns(gear_probability=pl.lit(0.7))
    soft = table.with_columns(pl.col("power_w", "wheel_power_w") / 10)
    for one in (unsure, soft):
        assert len(spells_of(one).seconds) == 0


def test_a_meter_that_does_not_read_is_told() -> None:
    """Zero watts at the wheel while the crank turns is no loss of everything."""
    table = samples(EXACT, rounds=1)
    found = spells_of(
        table.with_columns(
            wheel_power_w=pl.when(pl.col("gear") != 2).then("wheel_power_w").otherwise(0)
        )
    )
    assert found.not_reading == 1
    assert found.gear.tolist() == [1, 3, 4, 5]


def test_without_gears_all_pedalling_is_one() -> None:
    """On a stepless drivetrain."""
    table = samples(EXACT, rounds=1).with_columns(gear=pl.lit(None, pl.Int32))
    assert len(spells_of(table).seconds) == 0
    assert set(spells_of(table, stepless=True).gear.tolist()) == {0}


def test_a_ride_without_a_sample_has_no_spell() -> None:
    """Nothing breaks."""
    assert len(spells_of(samples(EXACT).head(0)).seconds) == 0
    assert len(spells_of(samples(EXACT).head(1)).seconds) == 0
