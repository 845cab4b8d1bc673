"""Decoding: habits, densities, and the one-sidedness of the freewheel."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from ridelab.gears.decode import Habits, _above, _shift_rates, decode
from ridelab.gears.observations import Observations, observe
from tests.gears.riding import COAST, EVEN_14, ride

DEVELOPMENTS = np.log(2.1 * np.array(EVEN_14))


def observed(schedule: list[tuple[int, int]]) -> Observations:
    """Return observations of a ride on the even 14-speed ladder."""
    seen = observe(ride(schedule, EVEN_14))
    assert isinstance(seen, Observations)
    return seen


def test_rates_out_of_a_state_are_the_habits() -> None:
    """Every gear is left at the rate stated, for a near one sooner than for a far one."""
    rates = _shift_rates(DEVELOPMENTS, Habits())
    np.testing.assert_allclose(rates.sum(axis=1), 0.0, atol=1e-12)
    np.testing.assert_allclose(-np.diag(rates), Habits().shift_hz)
    assert rates[6, 7] > rates[6, 9] > rates[6, 13]


@pytest.mark.parametrize("sigma", [0.002, 0.01, 0.05])
def test_excess_density_is_scipys(sigma: float) -> None:
    """The exponentially modified normal density equals scipy.stats.exponnorm's."""
    excess = np.linspace(-4 * sigma, 1.5, 400)
    expected = stats.exponnorm(K=0.25 / sigma, scale=sigma).pdf(excess)
    ours = _above(excess, np.full_like(excess, sigma), 0.25)
    np.testing.assert_allclose(ours, expected, rtol=1e-6, atol=1e-9)


def test_gears_are_named_and_shifts_placed() -> None:
    """On a clean ride every sample two seconds away from a shift has its true gear."""
    schedule = [(5, 60), (6, 60), (9, 60), (3, 60)]
    decoded = decode(observed(schedule), DEVELOPMENTS)
    truth = np.repeat([4, 5, 8, 2], 60)
    away = np.ones(240, dtype=bool)
    for shift in (60, 120, 180):
        away[shift - 2 : shift + 2] = False
    assert (decoded.gear[away] == truth[away]).all()
    assert decoded.coupled[away].all()


def test_selected_gear_persists_while_coasting() -> None:
    """With the crank standing, the gear stays what it was and is decoupled."""
    decoded = decode(observed([(8, 60), (COAST, 15), (8, 60)]), DEVELOPMENTS)
    assert (decoded.gear == 7).all()
    assert not decoded.coupled[61:74].any()


def test_slow_pedalling_is_decoupled_not_a_higher_gear() -> None:
    """The crank turning too slowly for its wheel reads high and wanders: no gear drives it."""
    seen = observed([(8, 180)])
    rng = np.random.default_rng(2)
    seen.ln_development[80:100] += rng.uniform(0.1, 0.5, 20)
    decoded = decode(seen, DEVELOPMENTS)
    driven_elsewhere = decoded.coupled & (decoded.gear != 7)
    assert driven_elsewhere[80:100].sum() <= 1
    assert not driven_elsewhere[:80].any()
    assert not driven_elsewhere[100:].any()


def test_development_below_a_gear_is_never_its_decoupled_riding() -> None:
    """A crank cannot overrun its freewheel: steady riding below a gear is another gear."""
    seen = observed([(8, 90), (6, 12), (8, 90)])
    decoded = decode(seen, DEVELOPMENTS)
    assert (decoded.gear[92:100] == 5).all()


def test_a_shift_there_and_back_is_no_soft_pedalling() -> None:
    """Three seconds in the next higher gear, the samples of the shifts half way: two shifts."""
    seen = observed([(8, 90), (9, 5), (8, 90)])
    seen.ln_development[90] = 0.5 * (DEVELOPMENTS[7] + DEVELOPMENTS[8])
    seen.ln_development[94] = 0.5 * (DEVELOPMENTS[7] + DEVELOPMENTS[8])
    decoded = decode(seen, DEVELOPMENTS)
    assert (decoded.gear[91:94] == 8).all()
    assert decoded.coupled[91:94].all()
    assert (decoded.gear[96:] == 7).all()


def test_turns_counted_twice_are_no_lower_gear() -> None:
    """A cadence that doubles every other second or so leaves the gear what it was, and undriven."""
    seen = observed([(8, 180)])
    doubled = np.arange(90, 102)[np.random.default_rng(3).random(12) < 0.6]
    seen.ln_development[doubled] -= np.log(2.0)
    decoded = decode(seen, DEVELOPMENTS)
    assert (decoded.gear == 7).all()
    assert not decoded.coupled[doubled].any()


def test_evidence_of_no_drive_tells_soft_pedalling_from_a_gear() -> None:
    """A crank that turns along at nearly another gear's pace: what the vehicle did decides."""
    seen = observed([(8, 90), (11, 20), (8, 90)])
    seen.ln_development[90:110] += np.random.default_rng(4).normal(0.0, 0.012, 20)
    alone = decode(seen, DEVELOPMENTS)
    assert alone.coupled[93:107].mean() > 0.7
    driven = np.zeros(200)
    driven[90:110] = -1.5
    told = decode(seen, DEVELOPMENTS, driven=driven)
    assert not told.coupled[93:107].any()
