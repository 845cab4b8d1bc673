"""Verdicts: the rule, each quantity, and the sentence that a reader gets."""

from __future__ import annotations

from typing import Any

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from ridelab.analysis import judge
from ridelab.analysis.verdicts import VERDICT_SCHEMA
from tests.analysis import ridden
from tests.analysis.ridden import verdict


@pytest.mark.parametrize(
    ("value", "word"),
    [(5.40, "holds"), (5.50, "undecided"), (5.60, "fails"), (5.30, "undecided"), (5.20, "fails")],
)
def test_range_is_judged_by_its_whole_interval(value: float, word: str) -> None:
    """5.40 ± 0.5 % lies in 2 % of 5.40, reaches over the limits of 5.3 and 5.5, misses the rest."""
    assert verdict({"quantity": "range", "value": value})["verdict"] == word


@given(
    measured=st.floats(5.0, 5.8),
    standard_error=st.floats(1e-3, 0.2),
    tolerance=st.floats(0.001, 0.1),
)
def test_holds_is_two_one_sided_tests(
    measured: float, standard_error: float, tolerance: float
) -> None:
    """TOST with scipy's normal distribution as reference: both one-sided p values below 2.5 %."""
    low, high = 5.4 * (1 - tolerance), 5.4 * (1 + tolerance)
    half = float(norm.ppf(0.975)) * standard_error
    span = ridden.measured_range(measured, half / measured)
    word = verdict({"quantity": "range", "value": 5.4, "tolerance": tolerance}, span=span)[
        "verdict"
    ]
    p_low = norm.sf((measured - low) / standard_error)
    p_high = norm.cdf((measured - high) / standard_error)
    if min(abs(p - limit) for p in (p_low, p_high) for limit in (0.025, 0.975)) < 1e-9:
        return  # on the limit itself rounding decides
    assert (word == "holds") == (max(p_low, p_high) < 0.025)
    assert (word == "fails") == (max(p_low, p_high) > 0.975)


@given(error=st.floats(0.0001, 0.05), more=st.floats(1.0, 5.0), value=st.floats(4.5, 6.5))
def test_less_certainty_never_decides(error: float, more: float, value: float) -> None:
    """A wider interval around the same value never turns undecided into a verdict."""
    claim = {"quantity": "range", "value": value}
    sharp = verdict(claim, span=ridden.measured_range(5.4, error))["verdict"]
    vague = verdict(claim, span=ridden.measured_range(5.4, error * more))["verdict"]
    assert vague in {sharp, "undecided"}


def test_measured_and_reason_come_along() -> None:
    """The row says what was measured, in the unit of the claim, and why in words."""
    row = verdict({"quantity": "range", "value": 5.4})
    assert row == {
        "claim": "c1",
        "vehicle": "heron",
        "verdict": "holds",
        "measured": pytest.approx(5.4),
        "measured_low": pytest.approx(5.373),
        "measured_high": pytest.approx(5.427),
        "reason": "within 2 % of the claim, uncertainty included",
    }


def test_range_not_ridden_to_its_end_names_the_gear() -> None:
    """Undecided says what to ride."""
    gears = ridden.measured(ridden.numbered(ridden.NINE[:8]))
    span = ridden.measured_range(2.41 / 0.55)
    row = verdict({"quantity": "range", "value": 5.4}, gears, span)
    assert row["verdict"] == "undecided"
    assert row["reason"] == (
        "gear 9 was not ridden long enough: ride 60 s of steady pedalling in it"
    )
    assert row["measured"] == pytest.approx(2.41 / 0.55)


def test_part_of_the_range_can_disprove_but_never_prove() -> None:
    """438 % of eight gears exceeds a claimed 400 % already; a claimed 438 % stays open."""
    gears = ridden.measured(ridden.numbered(ridden.NINE[:8]))
    span = ridden.measured_range(2.41 / 0.55)
    assert verdict({"quantity": "range", "value": 4.0}, gears, span)["verdict"] == "fails"
    assert verdict({"quantity": "range", "value": 4.38}, gears, span)["verdict"] == "undecided"


def test_range_without_rides_names_both_ends() -> None:
    """Nothing measured at all: ride the two gears that the range lies between."""
    row = verdict({"quantity": "range", "value": 5.4}, ridden.measured({}), ridden.no_range())
    assert (row["verdict"], row["measured"]) == ("undecided", None)
    assert row["reason"] == (
        "gears 1 and 9 were not ridden long enough: ride 60 s of steady pedalling in each"
    )


@pytest.mark.parametrize("quantity", ["range", "step"])
def test_one_gear_has_neither_range_nor_step(quantity: str) -> None:
    """However it was ridden; nobody is asked to ride gears that do not exist."""
    for ratios in ({}, {1: 2.0}):
        row = verdict(
            {"quantity": quantity, "value": 1.5, "which": "largest"},
            ridden.measured(ratios, published=(2.0,)),
            ridden.no_range(),
            ridden.published((2.0,)),
        )
        assert row["verdict"] == "untestable"
        assert row["reason"] == f"one gear has no {quantity}"


@pytest.mark.parametrize(
    ("ridden_range", "word", "reason"),
    [
        (3.80, "holds", "within 2 %"),
        (3.50, "undecided", "60 s at its lowest and 60 s at its highest"),
        (3.86, "undecided", "reaches across the limit"),
        (4.20, "undecided", "soft pedalling"),
    ],
)
def test_stepless_range_holds_once_ridden_and_never_fails(
    ridden_range: float, word: str, reason: str
) -> None:
    """Claimed 380 %: reached; not reached, there may be more; exceeded, as soft pedalling does."""
    row = verdict(
        {"quantity": "range", "value": 3.8},
        ridden.measured({}),
        ridden.measured_range(ridden_range),
        ridden.published(()),
    )
    assert row["verdict"] == word
    assert reason in row["reason"]


@pytest.mark.parametrize(
    "claim",
    [
        {"quantity": "gears", "value": 9.0},
        {"quantity": "ratio", "value": 0.55, "gear": "lowest"},
        {"quantity": "step", "value": 0.2, "which": "mean"},
        {"quantity": "speed", "value": 7.0, "gear": "highest", "at_cadence_rpm": 90.0},
    ],
)
def test_stepless_has_no_gears_to_test(claim: dict[str, Any]) -> None:
    """Only a range can be seen on a stepless drivetrain."""
    row = verdict(claim, ridden.measured({}), ridden.measured_range(3.8), ridden.published(()))
    assert row["verdict"] == "untestable"
    assert "stepless" in row["reason"]


def test_quantity_that_telemetry_cannot_show_is_untestable() -> None:
    """What no ride shows says why; so does what this version does not know."""
    row = verdict({"quantity": "noise", "value": None, "tolerance": None})
    assert (row["verdict"], row["reason"]) == ("untestable", "a ride file holds no sound")
    row = verdict({"quantity": "comfort", "value": 0.95})
    assert (row["verdict"], row["reason"]) == ("untestable", "no ride shows this: comfort")


def test_a_step_is_never_read_as_efficiency() -> None:
    """However exactly the gears are measured."""
    row = verdict({"quantity": "efficiency", "value": None, "tolerance": None})
    assert row["verdict"] == "untestable"
    assert "neither a step nor a range says anything of efficiency" in row["reason"]


def test_range_needs_no_wheel() -> None:
    """A quotient of ratios holds whatever the wheel was said to be."""
    odd = ridden.vehicles("heron", stated_rollout_m=2.1)
    assert verdict({"quantity": "range", "value": 5.4}, fleet=odd)["verdict"] == "holds"


def test_step_between_two_gears() -> None:
    """1.04 / 0.84 - 1 = 23.8 %; two errors of 0.5 % add in squares to 0.7 %."""
    row = verdict({"quantity": "step", "value": 0.238, "gear": "4", "tolerance": 0.05})
    assert row["verdict"] == "holds"
    assert row["measured"] == pytest.approx(0.2381, abs=1e-4)
    half = (row["measured_high"] - row["measured_low"]) / 2
    assert half == pytest.approx(1.2381 * 0.005 * 2**0.5, rel=0.01)


def test_step_with_a_gear_missing_names_it() -> None:
    """Only the gear that was not ridden is asked for."""
    gears = ridden.measured({4: 1.04, 5: 1.28, 6: 1.58})
    row = verdict({"quantity": "step", "value": 0.238, "gear": "4"}, gears)
    assert row["verdict"] == "undecided"
    assert row["reason"].startswith("gear 3 was not ridden long enough")


def test_there_is_no_step_to_the_lowest_gear() -> None:
    """Said in words; not a crash."""
    row = verdict({"quantity": "step", "value": 0.2, "gear": "1"})
    assert row["verdict"] == "untestable"


@pytest.mark.parametrize(
    ("gears", "span", "step"), [(14, 5.26, 0.136), (18, 6.36, 0.115)], ids=["hub", "gearbox"]
)
def test_mean_step_follows_from_range_and_count(gears: int, span: float, step: float) -> None:
    """Common practice, no source: 14 gears over 526 % step by 13.6 %, 18 over 636 % by 11.5 %."""
    ratios = [span ** (n / (gears - 1)) for n in range(gears)]
    row = verdict(
        {"quantity": "step", "value": step},  # mean where the claim does not say which
        ridden.measured(ridden.numbered(ratios), published=ratios),
        ridden.measured_range(span, 0.001),
        ridden.published(ratios),
    )
    assert row["verdict"] == "holds"
    assert row["measured"] == pytest.approx(step, abs=5e-4)


def test_largest_and_smallest_step() -> None:
    """The largest step is that from 0.55 to 0.68, the smallest that from 2.41 to 2.97."""
    steps = [b / a - 1 for a, b in zip(ridden.NINE, ridden.NINE[1:], strict=False)]
    for which, expected in (("largest", max(steps)), ("smallest", min(steps))):
        row = verdict({"quantity": "step", "value": expected, "which": which, "tolerance": 0.1})
        assert row["measured"] == pytest.approx(expected)
        assert row["verdict"] == "holds"


@pytest.mark.parametrize("value", [0.5, 0.0235, 0.2348, 0.1])
def test_mean_step_of_a_part_decides_nothing(value: float) -> None:
    """Gears 1 to 7 step by 23.5 % in the mean, by hand; the other two may step as they like."""
    gears = ridden.measured(ridden.numbered(ridden.NINE[:7]))
    row = verdict({"quantity": "step", "value": value}, gears, ridden.measured_range(1.95 / 0.55))
    assert row["measured"] == pytest.approx((1.95 / 0.55) ** (1 / 6) - 1)
    assert row["verdict"] == "undecided"
    assert row["reason"].startswith("gear 9 was not ridden long enough")


def test_mean_step_needs_the_ends_only() -> None:
    """Range and count make it, so a gear between them may be missing."""
    gears = ridden.measured({n: r for n, r in ridden.numbered().items() if n != 5})
    row = verdict({"quantity": "step", "value": (2.97 / 0.55) ** (1 / 8) - 1}, gears)
    assert row["verdict"] == "holds"


@pytest.mark.parametrize("which", ["largest", "smallest"])
def test_extreme_step_never_holds_with_a_gear_missing(which: str) -> None:
    """Gear 5 of nine was not ridden: the step into it and out of it may be anything."""
    gears = ridden.measured({n: r for n, r in ridden.numbered().items() if n != 5}, error=0.001)
    steps = [b / a - 1 for a, b in zip(ridden.NINE, ridden.NINE[1:], strict=False)]
    value = (max if which == "largest" else min)(steps)
    for tolerance in (0.05, 0.5, 0.9):
        row = verdict(
            {"quantity": "step", "value": value, "which": which, "tolerance": tolerance}, gears
        )
        assert row["verdict"] == "undecided"
        assert row["reason"].startswith("gear 5 was not ridden long enough")


def test_largest_step_can_be_disproved_by_some_gears() -> None:
    """One step of 23.6 % ridden is enough against "none above 20 %", not for "24 % at most"."""
    gears = ridden.measured({1: 0.55, 2: 0.68}, error=0.001)
    small = verdict({"quantity": "step", "value": 0.20, "which": "largest"}, gears)
    assert small["verdict"] == "fails"
    fitting = verdict({"quantity": "step", "value": 0.236, "which": "largest"}, gears)
    assert fitting["verdict"] == "undecided"
    assert "gears 3 to 9 were not ridden long enough" in fitting["reason"]
    larger = verdict({"quantity": "step", "value": 0.30, "which": "largest"}, gears)
    assert larger["verdict"] == "undecided"


def test_every_vehicle_with_the_drivetrain_is_judged() -> None:
    """Two with it, one of another drivetrain: two rows, in the order of vehicles."""
    fleet = ridden.vehicles("heron", "egret", "crane").with_columns(
        drivetrain=pl.Series(["nine", "nine", "other"])
    )
    gears = pl.concat(
        [
            ridden.measured(ridden.numbered()),
            ridden.measured(ridden.numbered() | {9: 2.7}, vehicle="egret"),
        ]
    )
    claims = ridden.claims({"quantity": "ratio", "value": 2.97, "gear": "highest"})
    steps = ridden.measured_steps(gears)
    rows = judge(claims, gears, ridden.no_range(), steps, ridden.published(), fleet)
    assert rows.select("vehicle", "verdict").rows() == [("heron", "holds"), ("egret", "fails")]


def test_claim_on_one_vehicle_is_judged_on_that_alone() -> None:
    """Two vehicles have the drivetrain; the claim names one of them."""
    rows = judge(
        ridden.claims({"quantity": "range", "value": 5.4, "vehicle": "egret"}),
        ridden.measured({}),
        ridden.no_range(),
        ridden.measured_steps(ridden.measured({})),
        ridden.published(),
        ridden.vehicles("heron", "egret"),
    )
    assert rows["vehicle"].to_list() == ["egret"]


def test_drivetrain_that_nobody_rode() -> None:
    """The claim is not lost: one row without a vehicle."""
    row = verdict({"quantity": "range", "value": 5.4, "drivetrain": "unseen"})
    assert (row["vehicle"], row["verdict"]) == (None, "undecided")
    assert row["reason"] == "no vehicle with this drivetrain was ridden"


def test_no_claims_no_verdicts() -> None:
    """An empty frame has the columns of the relation all the same."""
    rows = judge(
        ridden.claims(),
        ridden.measured({}),
        ridden.no_range(),
        ridden.measured_steps(ridden.measured({})),
        ridden.published(),
        ridden.vehicles("heron"),
    )
    assert rows.is_empty()
    assert rows.schema == VERDICT_SCHEMA


def test_gear_measured_without_uncertainty_counts_as_not_measured() -> None:
    """No interval, no verdict."""
    gears = ridden.measured(ridden.numbered()).with_columns(
        pl.when(pl.col("gear") != 4).then(name).alias(name)
        for name in ("ratio_low", "development_low_m")
    )
    row = verdict({"quantity": "ratio", "value": 1.04, "gear": "4"}, gears)
    assert row["verdict"] == "undecided"


def test_evenness_that_may_be_perfect_is_left_open_in_words() -> None:
    """Steps that may all be equal: the interval begins at 0, which has no logarithm."""
    ratios = [0.8 * 1.2**n for n in range(9)]
    found = verdict(
        {"quantity": "evenness", "value": 0.004, "bound": "at most"},
        gears=ridden.measured(ridden.numbered(ratios), published=ratios),
        span=ridden.measured_range(ratios[-1] / ratios[0]),
        ladder=ridden.published(ratios),
    )
    assert (found["verdict"], found["measured_low"]) == ("undecided", 0.0)
    assert "ride longer" in found["reason"]
