"""Means over vehicles, held against statsmodels, a published example, and invented vehicles."""

from __future__ import annotations

from math import sqrt
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.meta_analysis import combine_effects  # type: ignore[import-untyped]

from ridelab.analysis.random_effects import ODD_RISK, Piece, odd_one, pool

figures = st.lists(st.tuples(st.floats(-1, 1), st.floats(0.01, 0.5)), min_size=2, max_size=12)


def pieces(*figures: tuple[float, float], down: float = 0.0, up: float = 0.0) -> list[Piece]:
    """Vehicles a, b, c, … with a figure and its standard error."""
    return [Piece(chr(97 + n), at, error, down, up) for n, (at, error) in enumerate(figures)]


def combined(figures: list[tuple[float, float]]) -> Any:  # noqa: ANN401 - statsmodels has no stubs
    """Statsmodels on the same; it does not cut a negative variance between vehicles off at 0."""
    at, error = (np.array(column) for column in zip(*figures, strict=True))
    with np.errstate(all="ignore"):
        return combine_effects(at, error**2, method_re="dl", use_t=True)


@given(figures)
def test_mean_spread_and_q_are_those_of_statsmodels(figures: list[tuple[float, float]]) -> None:
    """DerSimonian and Laird's; without variance between vehicles, the fixed-effect mean."""
    found, theirs = pool(pieces(*figures)), combined(figures)
    mean = theirs.mean_effect_re if theirs.tau2 > 0 else theirs.mean_effect_fe
    assert found.at == pytest.approx(mean, abs=1e-9)
    assert found.spread**2 == pytest.approx(max(theirs.tau2, 0.0), abs=1e-9)
    assert found.q == pytest.approx(theirs.q, rel=1e-6, abs=1e-9)
    assert found.p == pytest.approx(theirs.test_homogeneity().pvalue, abs=1e-6)


@given(figures)
def test_interval_is_hartung_and_knapps_or_wider(figures: list[tuple[float, float]]) -> None:
    """Statsmodels' own, where chance agreement does not make that narrower than the errors."""
    found, theirs = pool(pieces(*figures)), combined(figures)
    kind = "re" if theirs.tau2 > 0 else "fe"
    hksj = sqrt(getattr(theirs, f"var_hksj_{kind}"))
    plain = getattr(theirs, f"sd_eff_w_{kind}")
    assert found.error == pytest.approx(max(hksj, plain), rel=1e-6)
    if kind == "re" and hksj > plain:
        low, high = theirs.conf_int(use_t=True)[3]
        assert found.ends() == pytest.approx((low, high), rel=1e-6, abs=1e-9)


def test_one_figure_within_all_spans_is_no_contradiction() -> None:
    """3 % apart by 0.1 % each, but every wheel may be 2 % off."""
    apart = [(0.0, 0.001), (0.03, 0.001)]
    assert pool(pieces(*apart)).p < 1e-6
    assert pool(pieces(*apart, down=0.02, up=0.02)).p == pytest.approx(1.0)


def test_what_a_span_leaves_counts() -> None:
    """Spans of 1 % leave 1 % of the 3 %: by hand, twice 5 standard errors squared."""
    found = pool(pieces((0.0, 0.001), (0.03, 0.001), down=0.01, up=0.01))
    assert found.q == pytest.approx(2 * 5**2, rel=1e-6)


def test_spans_do_not_average_out() -> None:
    """A hundred vehicles on one kind of wheel know it no better than one."""
    found = pool(pieces(*[(0.0, 0.001)] * 26, down=0.04, up=0.01))
    low, high = found.ends()
    assert low < -0.04
    assert high > 0.01
    assert high - low < 0.0512


def test_odd_vehicle_is_named_with_how_far_it_is_off() -> None:
    """A sprocket of another size among three that are alike."""
    found = odd_one(pieces((0.0, 0.002), (0.001, 0.002), (0.08, 0.002), (-0.001, 0.002)))
    assert found is not None
    assert found.vehicle == "c"
    assert found.off == pytest.approx(0.08, abs=1e-6)


@pytest.mark.parametrize(
    "figures",
    [
        [(0.0, 0.001), (0.08, 0.001)],  # two: either may be the odd one
        [(0.0, 0.001), (0.0, 0.001), (0.08, 0.001), (0.08, 0.001)],  # two kinds
        [(0.0, 0.01), (0.001, 0.01), (0.02, 0.01)],  # within their errors
    ],
)
def test_nobody_is_odd_where_that_is_not_sure(figures: list[tuple[float, float]]) -> None:
    """Neither of two, nor half of them, nor who is within its error."""
    assert odd_one(pieces(*figures)) is None


def test_a_wheel_that_may_be_off_makes_nobody_odd() -> None:
    """Its span is granted to the vehicle and to the others."""
    figures = [(0.0, 0.001), (0.001, 0.001), (0.03, 0.001)]
    assert odd_one(pieces(*figures)) is not None
    assert odd_one(pieces(*figures, down=0.02, up=0.02)) is None


@pytest.mark.parametrize("vehicles", [3, 5, 8])
def test_alike_vehicles_are_rarely_called_odd_and_the_interval_holds(vehicles: int) -> None:
    """5 % of fleets at most, and 95 % of intervals; 2,000 fleets, so 5 % is known to 1.5 %."""
    chance = np.random.default_rng(7)
    odd = held = 0
    for _ in range(2000):
        errors = chance.uniform(0.5, 2.0, vehicles)
        fleet = pieces(*zip(chance.normal(0, errors), errors, strict=True))
        odd += odd_one(fleet) is not None
        low, high = pool(fleet).ends()
        held += low <= 0 <= high
    assert odd / 2000 <= ODD_RISK + 0.015
    assert held / 2000 >= 0.935


def test_interval_holds_where_vehicles_truly_differ() -> None:
    """A spread between vehicles as large as their errors; five of them."""
    chance = np.random.default_rng(11)
    held = 0
    for _ in range(2000):
        at = chance.normal(0, 1, 5) + chance.normal(0, 1, 5)
        low, high = pool(pieces(*((float(one), 1.0) for one in at))).ends()
        held += low <= 0 <= high
    assert held / 2000 >= 0.935
