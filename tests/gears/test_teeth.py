"""Whole teeth are found where a ladder has some, with what rides cannot tell, and nowhere else."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ridelab.gears import measure_vehicle
from ridelab.gears.teeth import LADDERS, random_ladder, share_by_chance, suggest_teeth
from ridelab.gears.tooth_fit import fit_teeth
from ridelab.simulate import Rider, build_course, simulate_ride
from tests.benchmarks.inference_cases import as_read
from tests.gears.riding import EVEN_14, ride, sweep
from tests.simulate.rides import SWEEP, chain_ride, hub_ride

if TYPE_CHECKING:
    import polars as pl

    from ridelab.gears.observations import Floats

CASSETTE = (25, 23, 21, 19, 17, 16, 15, 14, 13, 12)
ROW = (32, 28, 25, 22, 20, 18, 16, 14, 13, 12, 11)
#: Errors of about 0.15 %, as a wheel sensor leaves.
WRONG = np.array([10, -15, 5, -10, 20, -5, 0, 15, -20, 10]) * 1e-4


def ladder(chainring: float = 50, row: tuple[int, ...] = CASSETTE, metres: float = 2.1) -> Floats:
    """ln(development) of one chainring, lowest first."""
    return np.asarray(np.log(metres * chainring / np.array(row)))


def test_a_chain_drive_is_recognised_with_its_teeth() -> None:
    """Ten gears measured to 0.15 %; by chance none of the random ladders fits as well."""
    found = suggest_teeth(ladder() + WRONG, np.full(10, 0.0015))
    assert found is not None
    fit, by_chance = found
    assert tuple(fit.sprocket) == CASSETTE
    assert (fit.rings, by_chance) == (1, 1 / (1 + LADDERS))
    assert fit.rms == pytest.approx(np.std(WRONG), rel=0.02)


@settings(max_examples=20, deadline=None)
@given(st.floats(0.3, 3.0), st.integers(22, 60))
def test_wheel_and_chainring_are_not_told(metres: float, chainring: int) -> None:
    """Only their product enters: the sprockets are the same whatever it is."""
    fit = fit_teeth(ladder(chainring, metres=metres) + WRONG, np.full(10, 0.0015), 1)
    assert fit is not None
    assert tuple(fit.sprocket) == CASSETTE
    assert np.exp(fit.ln_scale) == pytest.approx(metres * chainring, rel=0.002)


def test_two_chainrings_share_a_row() -> None:
    """34 and 50 teeth before eleven sprockets: their ratio to 0.1 %, and every sprocket."""
    both = np.concatenate([ladder(34, ROW), ladder(50, ROW)])
    distinct = np.sort(both)
    distinct = distinct[np.append(True, np.diff(distinct) > 0.015)]
    found = suggest_teeth(distinct, np.full(len(distinct), 0.001))
    assert found is not None
    fit, _ = found
    assert fit.rings == 2
    assert np.exp(fit.ln_ring_ratio) == pytest.approx(50 / 34, rel=0.001)
    assert set(fit.sprocket.tolist()) == set(ROW)


def test_a_gear_that_fits_no_teeth_is_left_out() -> None:
    """Gear 5 lies 2 % off, as two gears measured as one would."""
    off = ladder() + WRONG
    off[4] += 0.02
    found = suggest_teeth(off, np.full(10, 0.0015))
    assert found is not None
    fit, _ = found
    assert np.flatnonzero(~fit.fits).tolist() == [4]
    assert tuple(np.delete(fit.sprocket, 4)) == tuple(np.delete(CASSETTE, 4))


@pytest.mark.parametrize("gears", [7, 9, 14, 18])
@pytest.mark.parametrize("sd", [0.0005, 0.002])
def test_an_even_ladder_is_no_cassette(gears: int, sd: float) -> None:
    """Hubs and gearboxes step evenly, whole teeth do not."""
    even = np.linspace(0.0, np.log(5.26), gears) + 1.0
    assert suggest_teeth(even, np.full(gears, sd)) is None


def test_random_ladders_are_no_cassettes() -> None:
    """Of 30 ladders without any teeth behind them at most one is taken for a chain drive."""
    draw = np.random.default_rng(11)
    like = np.linspace(0.9, 2.3, 10)
    sd = np.full(10, 0.002)
    found = [suggest_teeth(random_ladder(like, draw), sd) is not None for _ in range(30)]
    assert sum(found) <= 1


def test_blunt_measurements_tell_nothing() -> None:
    """To 1.5 % whole teeth explain random ladders as well, and the share of those is told."""
    sd = np.full(10, 0.015)
    fit = fit_teeth(ladder() + 10 * WRONG, sd, 1)
    assert fit is not None
    assert share_by_chance(fit, ladder() + 10 * WRONG, sd, most=5) > 0.02
    assert suggest_teeth(ladder() + 10 * WRONG, sd) is None


def test_random_ladders_keep_their_ends_and_distance() -> None:
    """As many gears, the same ends, none closer than 1.5 %."""
    random = random_ladder(ladder(), np.random.default_rng(5))
    assert random[[0, -1]].tolist() == pytest.approx(ladder()[[0, -1]].tolist())
    assert np.diff(random).min() >= 0.015 - 1e-12


def suggested(ratios: tuple[float, ...], rollout_m: float | None) -> pl.DataFrame:
    """What is suggested of a vehicle of which nothing is published, from two small rides."""
    gears = range(1, len(ratios) + 1)
    rides = [ride(sweep(gears), ratios, seed=seed, name=str(seed)) for seed in (1, 2)]
    return measure_vehicle("heron", rides, None, rollout_m).teeth


def test_a_ridden_cassette_is_told_with_the_chainring_of_the_stated_wheel() -> None:
    """50 teeth at 2.1 m; without a rollout the chainring stays open."""
    ratios = tuple(50 / teeth for teeth in CASSETTE)
    found = suggested(ratios, 2.1)
    assert found["sprocket"].to_list() == list(CASSETTE)
    assert found["chainring"].unique().to_list() == [50]
    assert found["residual"].abs().max() < 0.003  # type: ignore[operator]
    assert suggested(ratios, None)["chainring"].null_count() == len(CASSETTE)


def test_a_ridden_hub_gear_is_told_no_teeth() -> None:
    """Fourteen even steps."""
    assert suggested(EVEN_14, 2.1).is_empty()


def test_a_simulated_double_is_told_with_both_chainrings() -> None:
    """24 and 38 teeth before nine sprockets, every gear ridden in two simulated rides."""
    course = build_course(SWEEP, 4)
    scenario = chain_ride(course=course, rider=Rider(sweep_s=45.0), duration_s=1500)
    rides = [as_read(simulate_ride(scenario, seed), str(seed)) for seed in (1, 2)]
    found = measure_vehicle("x", rides, None, 2.15).teeth.drop_nulls("ring")
    assert found["ring_ratio"][0] == pytest.approx(38 / 24, rel=0.002)
    assert set(found["chainring"].to_list()) == {24, 38}
    assert set(found["sprocket"].to_list()) == {36, 30, 26, 22, 19, 17, 15, 13, 11}


def test_a_simulated_hub_is_told_no_teeth() -> None:
    """Fourteen even gears on the same road."""
    scenario = hub_ride(course=build_course(SWEEP, 4), rider=Rider(sweep_s=45.0), duration_s=1500)
    rides = [as_read(simulate_ride(scenario, seed), str(seed)) for seed in (1, 2)]
    found = measure_vehicle("x", rides, None, 2.1)
    assert len(found.gears) >= 10
    assert found.teeth.is_empty()
