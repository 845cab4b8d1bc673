"""Test rides that are planned: what they ask for, and whether that is enough and not too much."""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING, Any

import polars as pl
import pytest

from ridelab.analysis import judge_and_plan
from tests.analysis import ridden

if TYPE_CHECKING:
    from collections.abc import Mapping

_PRECISION = {
    "vehicle": "heron", "freedom": 40, "spell_sd": 0.002, "ride_sd": 0.001, "second_sd": 0.01,
    "second_mps": 0.0, "bias_mps": 0.0, "cadence_low_rpm": 70.0, "cadence_high_rpm": 90.0,
}  # fmt: skip

_STEP_4 = {"quantity": "step", "gear": "4", "value": 0.238, "tolerance": 0.08}
#: Gears 3 to 5 were not ridden.
_FEW = {gear: ratio for gear, ratio in ridden.numbered().items() if gear not in {3, 4, 5}}


def _seconds(plan: pl.DataFrame) -> float:
    return float(sum(plan["seconds"].to_list()))


def _planned(
    *claims: Mapping[str, Any],
    gears: Mapping[int, float] | None = None,
    error: float = 0.008,
    **precision: float,
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Verdicts and plan for claims on a vehicle whose gears are known to ``error``, each apart."""
    ratios = ridden.numbered() if gears is None else gears
    ridden_for = {"seconds": pl.lit(300.0), "distance_m": 400.0 * pl.col("development_m")}
    measured = ridden.measured(ratios, error).with_columns(**ridden_for)
    variance = (error / ridden.Z) ** 2
    covariance = pl.DataFrame(
        [("heron", g, o, variance if g == o else 0.0) for g, o in product(ratios, ratios)],
        schema=["vehicle", "gear", "other", "covariance"],
        orient="row",
    )
    ends = (min(ratios), max(ratios))
    span = ridden.measured_range(ratios[ends[1]] / ratios[ends[0]], error * 2**0.5)
    return judge_and_plan(
        ridden.claims(*claims),
        measured,
        span,
        ridden.measured_steps(measured),
        ridden.published(),
        ridden.vehicles("heron"),
        measured_covariance=covariance,
        measured_precision=pl.DataFrame([_PRECISION | precision]),
    )


def test_what_is_decided_needs_no_ride() -> None:
    """5.4 ± 2 % is within 5 % of the claim."""
    verdicts, plan = _planned({"quantity": "range", "value": 5.4, "tolerance": 0.05})
    assert verdicts["verdict"].to_list() == ["holds"]
    assert plan.is_empty()


def test_only_the_gears_that_a_claim_depends_on_are_ridden() -> None:
    """A step is open for two gears; some minutes in them settle it."""
    _, plan = _planned(_STEP_4, gears=_FEW)
    assert plan["gear"].to_list() == [3, 4]
    assert plan["claims"].to_list() == ["c1", "c1"]
    assert 120.0 <= _seconds(plan) <= 600.0


def test_sensors_of_both_kinds_on_one_vehicle_are_no_error() -> None:
    """What satellites may be off by, 3 mm/s, is more than the wheel sensor's rides left open."""
    step = ridden.numbered()[4] / ridden.numbered()[3] - 1.0
    on_the_limit = {**_STEP_4, "value": step / 1.08}
    verdicts, plan = _planned(on_the_limit, error=0.0005, bias_mps=0.003)
    assert verdicts["verdict"].to_list() == ["undecided"]
    assert plan.is_empty()


def test_a_gear_that_nobody_rode_is_ridden_for_a_minute_at_least() -> None:
    """And the verdict says so too, with a speed: 0.55 x 1.5 m at 70 rpm is 0.96 m/s, 3.5 km/h."""
    gears = {gear: ratio for gear, ratio in ridden.numbered().items() if gear > 1}
    claim = {"quantity": "range", "value": 5.4, "tolerance": 0.03}
    verdicts, plan = _planned(claim, gears=gears, error=0.002)
    row = plan.row(0, named=True)
    assert (row["gear"], row["spells"], row["seconds"]) == (1, 2, 60.0)
    assert row["speed_low_mps"] == pytest.approx(0.55 * 1.5 * 70 / 60)
    assert verdicts["reason"][0] == (
        "gear 1 was not ridden long enough: ride 60 s of steady pedalling in it, above 3.5 km/h"
    )


def test_a_verdict_asks_for_no_more_speed_than_its_plan() -> None:
    """2.97 x 1.5 m at 150 rpm were 11.1 m/s; nobody is asked for more than 10."""
    gears = {gear: ratio for gear, ratio in ridden.numbered().items() if gear < 9}
    claim = {"quantity": "range", "value": 5.4, "tolerance": 0.03}
    fast = {"cadence_low_rpm": 150.0, "cadence_high_rpm": 170.0}
    for bias_mps in (0.0, 0.002):
        verdicts, plan = _planned(claim, gears=gears, error=0.002, bias_mps=bias_mps, **fast)
        assert plan.select("gear", "speed_low_mps").rows() == [(9, pytest.approx(10.0))]
        assert verdicts["reason"][0].endswith("in it, above 36.0 km/h")


def test_claims_that_share_a_gear_share_its_spells() -> None:
    """Two claims together cost less than one after the other."""
    one = _STEP_4 | {"tolerance": 0.1}
    other = {"quantity": "step", "gear": "5", "value": 0.231, "tolerance": 0.1}
    alone = [_seconds(_planned(claim, gears=_FEW)[1]) for claim in (one, other)]
    together = _planned(one, other, gears=_FEW)[1]
    assert together["gear"].to_list() == [3, 4, 5]
    assert _seconds(together) < sum(alone)
    assert together.filter(pl.col("gear") == 4)["claims"].to_list() == ["c1, c2"]


def test_more_noise_asks_for_more_riding() -> None:
    """Twice the scatter of spells and seconds takes more spells."""
    quiet = _planned(_STEP_4, gears=_FEW)[1]
    noisy = _planned(_STEP_4, gears=_FEW, spell_sd=0.004, second_sd=0.02)[1]
    assert _seconds(noisy) > _seconds(quiet)


def test_satellite_speed_asks_for_a_brisker_cadence() -> None:
    """What it is off by weighs less at speed."""
    usual = _planned(_STEP_4, gears=_FEW)[1]
    brisk = _planned(_STEP_4, gears=_FEW, bias_mps=0.002)[1]
    assert usual["gear"].to_list() == brisk["gear"].to_list() == [3, 4]
    assert (brisk["speed_low_mps"] > usual["speed_low_mps"]).all()


def test_a_claim_on_its_very_limit_is_not_planned_for() -> None:
    """However long the ride, it would be decided either way by chance; the reason says so."""
    value = (1.04 / 0.84 - 1) / 1.05
    claim = {"quantity": "step", "gear": "4", "value": value, "tolerance": 0.05}
    verdicts, plan = _planned(claim, error=0.001, spell_sd=0.01)
    assert plan.is_empty()
    assert "half an hour more may well not decide it" in verdicts["reason"][0]


def test_where_the_wheel_leaves_too_much_open_riding_is_not_all_that_helps() -> None:
    """A measured rollout is known to 0.5 %, which is more than a claim of 0.4 % allows."""
    claim = {"quantity": "ratio", "gear": "highest", "value": 2.97, "tolerance": 0.004}
    gears = {gear: ratio for gear, ratio in ridden.numbered().items() if gear < 9}
    verdicts, plan = _planned(claim, gears=gears)
    assert plan.is_empty()
    assert "a measured rollout leaves too much open" in verdicts["reason"][0]


def test_nobody_is_asked_to_ride_faster_than_ten_metres_a_second() -> None:
    """The cadence is lower there: 2.97 x 1.5 m at 135 rpm would be that fast."""
    claim = {"quantity": "ratio", "gear": "highest", "value": 2.97, "tolerance": 0.025}
    gears = {gear: ratio for gear, ratio in ridden.numbered().items() if gear < 9}
    _, plan = _planned(claim, gears=gears, cadence_low_rpm=150.0, cadence_high_rpm=170.0)
    assert plan["speed_low_mps"].max() == pytest.approx(10.0)
