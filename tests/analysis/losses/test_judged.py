"""Claims on efficiency by what two power meters read."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest
import scipy.stats

from ridelab.analysis.evidence import Evidence, Passed, gather
from ridelab.analysis.verdicts import judge_one, judge_together
from ridelab.campaign import Claim
from tests.analysis import ridden

if TYPE_CHECKING:
    from ridelab.analysis.verdict import Verdict

EXACT = Passed(0.96, 0.002, 8.0, 0.01)


def evidence(passed: dict[int | None, Passed], **known: Any) -> Evidence:  # noqa: ANN401 - as given
    """Heron, ridden in full, with these readings."""
    gears = ridden.measured(ridden.numbered())
    [row] = ridden.vehicles("heron").to_dicts()
    found = gather(
        row,
        gears,
        ridden.measured_range(5.4),
        ridden.measured_steps(gears),
        ridden.published(),
    )
    return replace(found, passed=passed, **known)


def claim(value: float, tolerance: float, **more: Any) -> Claim:  # noqa: ANN401 - as given
    """A claim on the efficiency of nine."""
    return Claim("c", "nine", "efficiency", value, tolerance, f"{100 * value:g} %", **more)


def test_an_interval_has_the_scatter_by_students_t_and_all_of_the_accuracy() -> None:
    """The quantile is that of scipy; at a hundredth of the risk the accuracy is not widened."""
    read = EXACT.efficiency()
    half = 0.002 * scipy.stats.t.ppf(0.975, 8) + 0.01
    assert read.high / read.value == pytest.approx(read.value / read.low)
    assert read.high == pytest.approx(0.96 * 2.718281828459045**half)
    surer = EXACT.efficiency(0.01)
    wider = 0.002 * scipy.stats.t.ppf(1 - 0.025 / 100, 8) + 0.01
    assert surer.high == pytest.approx(0.96 * 2.718281828459045**wider)


@pytest.mark.parametrize(
    ("said", "word"),
    [
        (claim(0.96, 0.03), "holds"),
        (claim(0.99, 0.005), "fails"),
        (claim(0.93, 0.005), "fails"),
        (claim(0.99, 0.02), "undecided"),
        (claim(0.94, 0.001, bound="at least"), "holds"),
        (claim(0.98, 0.001, bound="at least"), "fails"),
        (claim(0.97, 0.001, bound="at most"), "undecided"),
    ],
)
def test_claims_are_judged_as_all_others(said: Claim, word: str) -> None:
    """94.6 to 97.4 %: within the limits, outside, or across one."""
    assert judge_one(said, evidence({None: EXACT, 3: EXACT})).word == word


def test_a_gear_nobody_rode_under_both_meters_is_to_be_ridden() -> None:
    """The mean is no answer for it."""
    found = judge_one(claim(0.96, 0.03, gear=9), evidence({None: EXACT, 3: EXACT}))
    assert found.word == "undecided"
    assert "gear 9 was not ridden long enough" in found.reason


def test_a_shared_accuracy_is_named_as_what_leaves_a_claim_open() -> None:
    """Riding longer would not help; where scatter leaves it open, it would."""
    blunt = judge_one(claim(0.96, 0.005), evidence({None: EXACT}))
    assert "only more accurate meters" in blunt.reason
    scattered = judge_one(
        claim(0.96, 0.02, gear=3), evidence({3: Passed(0.96, 0.02, 3.0, 0.005), None: EXACT})
    )
    assert "ride longer in gear 3" in scattered.reason


def test_efficiency_is_one_of_the_claims_that_are_judged_together() -> None:
    """Of twenty on their very limit of 95 % none is surely enough within it."""
    edge = EXACT.efficiency().high * 1.0001
    every = [claim(edge, 1e-9, bound="at most") for _ in range(20)]
    alone = judge_one(every[0], evidence({None: EXACT}))
    assert alone.word == "holds"
    together: list[Verdict] = [one for _, one in judge_together(every, evidence({None: EXACT}))]
    assert {one.word for one in together} == {"undecided"}
    assert "for one of 20 claims judged together" in together[0].reason


def test_more_than_everything_is_never_measured() -> None:
    """Within accuracy and scatter it is drawn to 100 %; beyond, the meters disagree."""
    above = judge_one(claim(0.99, 0.005), evidence({None: Passed(1.005, 0.002, 8.0, 0.02)}))
    assert above.measured is not None
    assert above.measured.value == above.measured.high == 1
    beyond = judge_one(claim(0.99, 0.005), evidence({None: Passed(1.1, 0.002, 8.0, 0.02)}))
    assert (beyond.word, beyond.measured) == ("undecided", None)
    assert "set both to zero" in beyond.reason


def test_a_stepless_drivetrain_has_one_efficiency() -> None:
    """And none in a gear."""
    smooth = evidence({None: EXACT}, published={}, ratios={})
    assert judge_one(claim(0.96, 0.03), smooth).word == "holds"
    assert judge_one(claim(0.96, 0.03, gear="highest"), smooth).word == "untestable"
