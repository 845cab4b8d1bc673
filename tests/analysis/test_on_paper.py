"""Claims on paper: trade figures agree within their rounding, and false ones are named."""

from __future__ import annotations

from math import exp, log
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ridelab.analysis.on_paper import OnPaper, check_on_paper
from ridelab.campaign import Campaign, Claim, Vehicle
from ridelab.drivetrain import stages
from ridelab.drivetrain.stages import Drivetrain
from ridelab.drivetrain.wheel import Tyre

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.drivetrain.stages import Stage

MPH = 0.44704  # NIST SP 811
CRANK_LOW = {"gear": "lowest", "at_cadence_rpm": 60.0}
CRANK_HIGH = {"gear": "highest", "at_cadence_rpm": 100.0}


def claim(
    name: str,
    quantity: str,
    value: float,
    half_digit: float,
    **more: Any,  # noqa: ANN401 - any field of a claim
) -> Claim:
    """Return a claim on the drivetrain "hub", printed to twice half a digit."""
    printed = more.pop("printed", f"{value:g}")
    return Claim(name, "hub", quantity, value, half_digit / value, printed, **more)  # type: ignore[arg-type]


def speed(name: str, mph: float, **where: Any) -> Claim:  # noqa: ANN401 - as above
    """Return a speed printed in whole miles an hour."""
    return claim(name, "speed", mph * MPH, 0.5 * MPH, printed=f"{mph:g} mph", **where)


def range_of(name: str, percent: float, **more: Any) -> Claim:  # noqa: ANN401 - as above
    """Return a range printed in whole per cent."""
    return claim(name, "range", percent / 100, 0.005, printed=f"{percent:g} %", **more)


def paper(
    claims: Sequence[Claim],
    *built: Stage,
    vehicles: Sequence[Vehicle] = (),
) -> OnPaper:
    """Return what claims say on the drivetrain "hub", that of an even 14-speed hub if not given."""
    return check_on_paper(
        Campaign(
            "test",
            Path(),
            vehicles={one.name: one for one in vehicles},
            drivetrains={"hub": Drivetrain("hub", built or (fourteen(),))},
            claims=tuple(claims),
        )
    )


def fourteen(percent: float = 526) -> Stage:
    """Return 14 even speeds over a range printed in whole per cent."""
    return stages.from_range("hub", 14, percent / 100, 0.279, (0.005, 0.0005))


def culprits(found: OnPaper) -> list[set[str]]:
    """Return the claims of each contradiction."""
    return [set(one.claims) for one in found.contradictions]


def row(found: OnPaper, claim_id: str | None) -> dict[str, Any]:
    """Return the one row of a claim, of None what nobody claims."""
    return found.rows.filter(found.rows["claim"].eq_missing(claim_id)).row(0, named=True)


def test_lowest_and_highest_speed_bound_the_range() -> None:
    """60 rpm at 3 mph and 100 rpm at 28 mph, by hand from their rounded ends.

    Least: 27.5 · 60/100 / 3.5 = 4.714; most: 28.5 · 0.6 / 2.5 = 6.84. With 28 mph taken as exact it
    would be 4.8 to 6.72. 526 % lies within, so they agree. Speeds: common practice, no source.
    """
    claims = [speed("low", 3, **CRANK_LOW), speed("high", 28, **CRANK_HIGH)]
    alone = row(paper(claims), None)
    assert alone["about"] == "range"
    assert (alone["others_low"], alone["others_high"]) == pytest.approx((4.7143, 6.84), rel=1e-4)
    found = paper([*claims, range_of("range", 526)])
    assert found.contradictions == ()
    assert row(found, "range")["others_low"] == pytest.approx(27.5 * 0.6 / 3.5)
    assert row(found, "range")["agrees"]


@pytest.mark.parametrize(
    ("gears", "percent", "top_mph", "change_rpm"), [(14, 526, 28, 11), (18, 636, 33, 9)]
)
def test_trade_figures_agree_within_their_rounding(
    gears: int, percent: float, top_mph: float, change_rpm: float
) -> None:
    """Range, number, speeds and cadence change of 14 hub gears and of 18 crank-gearbox speeds.

    Common practice, no source. 5.26^(1/13) = 1.1362 and 6.36^(1/17) = 1.1150, so from 80 rpm the
    cadence rises by 10.9 and by 9.2.
    """
    claims = [
        range_of("range", percent),
        claim("gears", "gears", gears, 0.5),
        speed("low", 3, **CRANK_LOW),
        speed("high", top_mph, **CRANK_HIGH),
        claim("change", "cadence change", change_rpm, 0.5, which="mean", at_cadence_rpm=80.0),
    ]
    hub = stages.from_range("hub", gears, percent / 100, half_digits=(0.005, 0.0))
    found = paper(claims, hub)
    assert found.contradictions == ()
    assert found.rows.drop_nulls("claim")["agrees"].all()
    high = row(found, "change")["paper_high"]
    assert high == pytest.approx(80 * ((percent / 100) ** (1 / (gears - 1)) - 1), abs=0.02)


def test_a_third_trade_figure_agrees_with_nothing_else_to_hold_it() -> None:
    """295 % for six crank-gearbox speeds (common practice, no source): 24.1 % a step on average."""
    claims = [range_of("range", 295), claim("step", "step", 0.241, 0.0005, which="mean")]
    six = stages.from_range("box", 6, 2.95, half_digits=(0.005, 0.0))
    assert paper(claims, six).contradictions == ()


def test_speeds_too_far_apart_for_the_range_are_named_with_it() -> None:
    """33 mph at 100 rpm and 3 mph at 60 rpm mean 557 % at least (32.5 · 0.6 / 3.5), not 526 %."""
    claims = [
        range_of("range", 526),
        speed("low", 3, **CRANK_LOW),
        speed("high", 33, **CRANK_HIGH),
        claim("ratio", "ratio", 0.279, 0.0005, gear=1),
    ]
    found = paper(claims)
    assert culprits(found) == [{"range", "low", "high"}]
    assert found.contradictions[0].message == (
        "range (range: 526 %) stands for 525.5 to 526.5 %, but low (speed in the lowest gear at "
        "60 rpm: 3 mph) and high (speed in the highest gear at 100 rpm: 33 mph) make it 557.1 to "
        "804.0 %: 5.8 % more"
    )
    assert [row(found, one.id)["agrees"] for one in claims] == [False, False, False, True]
    (problem,) = found.problems("campaign.toml")
    assert (problem.severity, problem.stage, problem.path) == ("warning", "paper", "campaign.toml")


def test_the_mean_step_follows_from_range_and_number() -> None:
    """1.136^13 = 5.25, by hand; 12.6 % steps would make 4.68, and the number is needed for that."""
    claims = [
        range_of("range", 526),
        claim("gears", "gears", 14, 0.5),
        claim("step", "step", 0.126, 0.0005, which="mean"),
    ]
    assert {"range", "gears", "step"} in culprits(paper(claims))
    assert row(paper(claims[:2]), "range")["others_low"] is None
    claims[2] = claim("step", "step", 0.136, 0.0005, which="mean")
    found = paper(claims)
    assert found.contradictions == ()
    ends = row(found, "range")["others_low"], row(found, "range")["others_high"]
    assert ends == pytest.approx((1.1355**13, 1.1365**13), rel=1e-6)


def test_evenness_bounds_the_range_by_its_smallest_step() -> None:
    """A smallest step of 10 % and all steps within 1 %: by hand 1.10^13 to 1.10 · (1.10·1.01)^12.

    Taken with their rounding: 9.5 to 10.5 %, and up to 1.5 %.
    """
    claims = [
        claim("gears", "gears", 14, 0.5),
        claim("small", "step", 0.10, 0.005, which="smallest"),
        claim("even", "evenness", 0.01, 0.005, bound="at most"),
    ]
    implied = row(paper(claims), None)
    most = 1.105 * (1.105 * 1.015) ** 12
    assert implied["about"] == "range"
    assert (implied["others_low"], implied["others_high"]) == pytest.approx((1.095**13, most))
    large = claim("large", "step", 0.13, 0.005, which="largest")
    assert {"small", "even", "large"} in culprits(paper([*claims, large]))


def test_development_speed_and_rollout_tie_ratio_to_metres() -> None:
    """A ratio of 1.5 at 2.0 m a turn is 3.0 m, at 60 rpm 3 m/s: 3.2 m/s are too fast."""
    claims = [
        claim("ratio", "ratio", 1.5, 0.005, gear="highest"),
        claim("rollout", "rollout", 2.0, 0.005),
        claim("speed", "speed", 3.2, 0.05, gear="highest", at_cadence_rpm=60.0),
    ]
    assert {"ratio", "rollout", "speed"} in culprits(paper(claims))
    claims[2] = claim("metres", "development", 3.0, 0.05, gear="highest")
    assert {"ratio", "rollout", "metres"} not in culprits(paper(claims))
    without = row(paper([claims[0], claims[2]]), None)
    assert without["about"] == "rollout"
    ends = without["others_low"], without["others_high"]
    assert ends == pytest.approx((2.95 / 1.505, 3.05 / 1.495))


def test_each_claim_is_held_against_the_ladder_and_the_wheel() -> None:
    """A hub of 0.279 to 1.467 on 1.49 to 1.61 m: the claims that miss it, each by itself."""
    heron = Vehicle("heron", "trike", ("*",), tyre=Tyre(50, 406), drivetrain="hub")
    egret = Vehicle("egret", "trike", ("*",), rollout_m=2.0, drivetrain="hub")
    claims = [
        range_of("range", 540),
        claim("metres", "development", 2.3, 0.05, gear="highest"),
        claim("roll", "rollout", 2.1, 0.05, vehicle="egret"),
        claim("step", "step", 0.15, 0.005, gear=7),
    ]
    found = paper(claims, vehicles=[heron, egret])
    told = {(one.claims, one.vehicle, frozenset(one.sources)) for one in found.contradictions}
    assert told == {
        (("range",), None, frozenset({"ladder"})),
        (("step",), None, frozenset({"ladder"})),
        (("metres",), "egret", frozenset({"ladder", "wheel"})),
        (("roll",), "egret", frozenset({"wheel"})),
        (("metres", "roll"), "egret", frozenset({"ladder"})),
    }
    assert row(found, "step")["paper_high"] == pytest.approx(5.265 ** (1 / 13) - 1, rel=1e-3)
    assert sum(found.rows["claim"] == "metres") == 2  # once a wheel
    assert sum(found.rows["claim"] == "range") == 1


def test_rounded_ratios_leave_the_published_range_open() -> None:
    """2.97 over 0.55, each to a hundredth: 2.965 / 0.555 = 5.34 to 2.975 / 0.545 = 5.46."""
    box = stages.from_ratios("box", [0.55, 1.28, 2.97], 0.005)
    found = paper([range_of("near", 546), range_of("far", 548)], box)
    assert culprits(found) == [{"near", "far"}, {"far"}]
    ends = row(found, "far")["paper_low"], row(found, "far")["paper_high"]
    assert ends == pytest.approx((2.965 / 0.555, 2.975 / 0.545), rel=1e-4)


def test_gears_and_overlap_are_counted() -> None:
    """Two rings and two sprockets in the same proportion: 4 combinations, 3 of them distinct."""
    chain = stages.from_teeth("chain", [20, 40], [40, 20])
    right = [claim("gears", "gears", 3, 0.5), claim("overlap", "overlap", 1, 0.5)]
    assert paper(right, chain).contradictions == ()
    wrong = [claim("gears", "gears", 4, 0.5), claim("least", "overlap", 2, 0.5, bound="at least")]
    found = paper(wrong, chain)
    assert culprits(found) == [{"gears"}, {"least"}]
    assert found.contradictions[0].message == (
        "gears (number of distinct gears: 4): of the 4 combinations of hub, 3 are distinct, where "
        "those within 1.5 % of each other are one"
    )
    # two steps of 13.6 % make 29 %, one makes less than 19.9 %: pairs
    assert culprits(paper([claim("coarse", "gears", 7, 0.5, within=0.199)])) == []
    assert culprits(paper([claim("fine", "gears", 7, 0.5, within=0.10)])) == [{"fine"}]


def test_bounds_on_one_side_contradict_on_that_side_only() -> None:
    """At least 500 % agrees with 526 %, at most 500 % does not."""
    least, most = (range_of("bound", 500, bound=bound) for bound in ("at least", "at most"))
    assert paper([least, range_of("range", 526)]).contradictions == ()
    assert {"bound", "range"} in culprits(paper([most, range_of("range", 526)]))


def test_what_no_ride_shows_is_left_out() -> None:
    """Efficiency bounds no ratio."""
    nan = float("nan")
    words = Claim("words", "hub", "efficiency", nan, nan, "97 %")
    found = paper([words])
    assert (found.contradictions, found.rows.height) == ((), 0)


def test_one_gear_and_a_stepless_hub_have_what_they_have() -> None:
    """A range above 1 contradicts a single gear; a stepless hub has its two ends."""
    single = stages.from_teeth("chain", [32], [16])
    found = paper([range_of("range", 120)], single)
    (one,) = found.contradictions
    assert one.message == (
        "range (range: 120 %) stands for 119.5 to 120.5 %, but the single published gear makes it "
        "100.0 %: 16 % less"
    )
    hub = stages.stepless("hub", 0.5, 1.9, 0.05)
    claims = [range_of("range", 380), claim("top", "ratio", 1.9, 0.05, gear="highest")]
    assert paper(claims, hub).contradictions == ()
    assert culprits(paper([range_of("range", 500)], hub)) == [{"range"}]


LADDERS = st.lists(st.floats(0.02, 0.4), min_size=2, max_size=12)


def rounded(
    name: str,
    quantity: str,
    value: float,
    half_digit: float,
    **more: Any,  # noqa: ANN401 - as above
) -> Claim:
    """Return a claim of a true value as it is printed, to twice half a digit."""
    return claim(name, quantity, round(value / half_digit / 2) * half_digit * 2, half_digit, **more)


def true_claims(steps: list[float], lowest: float, rollout_m: float) -> list[Claim]:
    """Return what a maker would print of a ladder, everything of it true."""
    ratios = [lowest]
    for step in steps:
        ratios.append(ratios[-1] * (1 + step))
    top, gears = ratios[-1], len(ratios)
    even = (1 + max(steps)) / (1 + min(steps)) - 1
    return [
        rounded("range", "range", top / lowest, 0.005),
        rounded("mean", "step", (top / lowest) ** (1 / len(steps)) - 1, 0.0005, which="mean"),
        rounded("largest", "step", max(steps), 0.0005, which="largest"),
        rounded("smallest", "step", min(steps), 0.0005, which="smallest"),
        rounded("ratio", "ratio", ratios[gears // 2], 0.0005, gear=gears // 2 + 1),
        rounded("rollout", "rollout", rollout_m, 0.0005),
        rounded("metres", "development", top * rollout_m, 0.005, gear="highest"),
        rounded("speed", "speed", lowest * rollout_m, 0.005, gear="lowest", at_cadence_rpm=60.0),
        claim("even", "evenness", even + 0.01, 0.0005, bound="at most"),
    ]


def ladder(steps: list[float], lowest: float) -> Stage:
    """Return the ladder of these steps, exactly."""
    ratios = [lowest]
    for step in steps:
        ratios.append(ratios[-1] * (1 + step))
    return stages.from_ratios("box", ratios)


@settings(max_examples=40, deadline=None)
@given(steps=LADDERS, lowest=st.floats(0.3, 1.0), rollout_m=st.floats(1.2, 2.3))
def test_a_true_sheet_never_contradicts_itself(
    steps: list[float], lowest: float, rollout_m: float
) -> None:
    """Whatever the ladder: rounding alone makes no contradiction."""
    claims = true_claims(steps, lowest, rollout_m)
    heron = Vehicle("heron", "trike", ("*",), rollout_m=rollout_m, drivetrain="hub")
    found = paper(claims, ladder(steps, lowest), vehicles=[heron])
    assert found.contradictions == ()
    for one in claims:
        low, high = one.limits
        told = row(found, one.id)
        assert told["paper_low"] is None or told["paper_low"] <= high + 1e-5
        assert told["paper_high"] is None or told["paper_high"] >= low - 1e-5


@settings(max_examples=40, deadline=None)
@given(
    steps=LADDERS,
    lowest=st.floats(0.3, 1.0),
    which=st.integers(0, 7),
    above=st.booleans(),
    beyond=st.floats(0.03, 0.5),
)
def test_a_claim_beyond_its_rounding_is_always_named(
    steps: list[float], lowest: float, which: int, above: bool, beyond: float
) -> None:
    """One claim of a true sheet is pushed off: every contradiction names it, and there is one."""
    rollout_m = 2.0
    claims = true_claims(steps, lowest, rollout_m)
    true = claims[which]
    offset = 1.0 if true.quantity == "step" else 0.0
    factor = exp(log1p(beyond) * (1 if above else -1))
    low, high = true.limits
    start = high if above else low
    pushed = (offset + start) * factor - offset
    if pushed <= 0.001:
        pushed = (offset + high) * (1 + beyond) - offset
    claims[which] = claim(
        true.id, true.quantity, pushed, 1e-6, gear=true.gear, which=true.which,
        at_cadence_rpm=true.at_cadence_rpm,
    )  # fmt: skip
    heron = Vehicle("heron", "trike", ("*",), rollout_m=rollout_m, drivetrain="hub")
    found = paper(claims, ladder(steps, lowest), vehicles=[heron])
    assert found.contradictions
    assert all(true.id in one.claims for one in found.contradictions)


def log1p(share: float) -> float:
    """Return ln(1 + share)."""
    return log(1 + share)
