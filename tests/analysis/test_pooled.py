"""Claims over several vehicles: when they are pooled, what then holds, and who departs."""

from __future__ import annotations

from math import log
from typing import TYPE_CHECKING, Any

import polars as pl
import pytest

from ridelab.analysis import gather_all, judge_evidence, pool_claims
from ridelab.analysis.evidence import gather
from ridelab.analysis.pooled_pieces import piece_of
from ridelab.analysis.verdicts import read_claims
from tests.analysis import ridden

if TYPE_CHECKING:
    from collections.abc import Mapping

RANGE = {"quantity": "range", "value": 5.4}


def pool(claims: pl.DataFrame, *relations: pl.DataFrame) -> pl.DataFrame:
    """Judge claims on all vehicles, the last of the relations, and pool the verdicts."""
    *measured, vehicles = relations
    every, evidence = list(read_claims(claims)), gather_all(vehicles, *measured)
    return pool_claims(every, judge_evidence(every, evidence)[0], evidence)


def pooled(
    claim: Mapping[str, Any],
    ranges: Mapping[str, float],
    error: float = 0.005,
    top: Mapping[str, float] | None = None,
    fleet: pl.DataFrame | None = None,
) -> dict[str, Any]:
    """One claim on vehicles of such ranges, known to ``error``; ``top``: their highest ratios."""
    highest = top or {}
    gears = pl.concat(
        ridden.measured(ridden.numbered((*ridden.NINE[:8], highest.get(name, 2.97))), error, name)
        for name in ranges
    )
    frames = (
        ridden.claims(claim),
        gears,
        pl.concat(ridden.measured_range(span, error, name) for name, span in ranges.items()),
        ridden.measured_steps(gears),
        ridden.published(),
        ridden.vehicles(*ranges) if fleet is None else fleet,
    )
    rows = pool(*frames)
    assert rows.height == 1
    return rows.row(0, named=True)


def test_one_vehicle_is_not_its_kind() -> None:
    """Its verdict stands, and the row says that it is one vehicle's."""
    row = pooled(RANGE, {"heron": 5.4})
    assert (row["vehicles"], row["left_out"], row["verdict"]) == (1, 0, "holds")
    assert row["measured"] == pytest.approx(5.4)
    assert "ridden on heron alone" in row["reason"]
    assert row["q"] is None


def test_vehicles_that_agree_decide_for_the_drivetrain() -> None:
    """Mean and Q are those of the vehicles; nobody is odd."""
    row = pooled(RANGE, {"heron": 5.40, "otter": 5.41, "tern": 5.39})
    assert (row["vehicles"], row["verdict"], row["odd_vehicle"]) == (3, "holds", None)
    assert row["measured"] == pytest.approx(5.4, rel=1e-3)
    assert row["measured_low"] < 5.4 < row["measured_high"]
    assert row["q_p"] > 0.3
    assert row["reason"].startswith("holds on each of 3 vehicles, heron, otter and tern")


def test_a_contradiction_is_never_pooled_away() -> None:
    """Two bear 540 % out, the third has another sprocket: undecided, and it is named."""
    row = pooled(RANGE, {"heron": 5.40, "otter": 5.40, "tern": 5.85})
    assert (row["verdict"], row["odd_vehicle"]) == ("undecided", "tern")
    assert row["odd_by"] == pytest.approx(5.85 / 5.40 - 1, rel=1e-3)
    assert row["q_p"] < 1e-6
    assert "holds on heron and otter, fails on tern" in row["reason"]
    assert "tern is 8.3 % above the mean of the other 2" in row["reason"]


def test_of_two_that_contradict_neither_is_odd() -> None:
    """Both are named."""
    row = pooled(RANGE, {"heron": 5.40, "tern": 5.85})
    assert (row["verdict"], row["odd_vehicle"]) == ("undecided", None)
    assert "holds on heron, fails on tern" in row["reason"]


def test_an_odd_vehicle_within_the_tolerance_is_told() -> None:
    """All bear the claim out, yet one of them departs from the others."""
    ranges = {"heron": 5.40, "otter": 5.40, "tern": 5.44, "wren": 5.40}
    row = pooled(RANGE, ranges, error=0.001)
    assert (row["verdict"], row["odd_vehicle"]) == ("holds", "tern")
    assert "tern is 0.74 % above the mean of the other 3" in row["reason"]


def test_the_mean_decides_what_single_vehicles_leave_open() -> None:
    """Each is known to 2.5 %, the limit is 2 %; eight of them are enough."""
    ranges = {f"v{n}": 5.4 * (1 + 0.002 * (n % 3 - 1)) for n in range(8)}
    row = pooled(RANGE, ranges, error=0.025)
    assert row["verdict"] == "holds"
    assert row["reason"].startswith("within 2 % of the claim, uncertainty included (mean over 8")
    assert pooled(RANGE, dict(list(ranges.items())[:2]), error=0.025)["verdict"] == "undecided"


def test_the_mean_never_decides_against_a_vehicle() -> None:
    """Five are open and their mean fails, but one clearly bears the claim out."""
    ranges = {f"v{n}": 5.4 * 1.03 for n in range(9)}
    open_on_each = pooled(RANGE, ranges, error=0.02)
    assert open_on_each["verdict"] == "fails"
    gears = pl.concat(ridden.measured(ridden.numbered(), 0.005, name) for name in (*ranges, "tern"))
    spans = [ridden.measured_range(span, 0.02, name) for name, span in ranges.items()]
    frames = (
        ridden.claims(RANGE),
        gears,
        pl.concat([*spans, ridden.measured_range(5.45, 0.005, "tern")]),
        ridden.measured_steps(gears),
        ridden.published(),
        ridden.vehicles(*ranges, "tern"),
    )
    row = pool(*frames).row(0, named=True)
    assert row["verdict"] == "undecided"
    assert "holds on tern, open on the others" in row["reason"]


def test_vehicles_that_were_not_ridden_enough_are_counted_and_named() -> None:
    """The row rests on the others."""
    gears = pl.concat(
        [
            ridden.measured(ridden.numbered(), vehicle="heron"),
            ridden.measured(ridden.numbered(ridden.NINE[:8]), vehicle="otter"),
        ]
    )
    spans = {"heron": 5.4, "otter": 2.41 / 0.55}
    frames = (
        ridden.claims(RANGE),
        gears,
        pl.concat(ridden.measured_range(span, 0.005, name) for name, span in spans.items()),
        ridden.measured_steps(gears),
        ridden.published(),
        ridden.vehicles("heron", "otter"),
    )
    row = pool(*frames).row(0, named=True)
    assert (row["vehicles"], row["left_out"], row["verdict"]) == (1, 1, "holds")
    assert row["reason"].endswith("not ridden enough, or in doubt: otter")


def test_counts_are_compared_one_by_one() -> None:
    """Nine gears on each: no mean of counts is made."""
    row = pooled({"quantity": "gears", "value": 9.0}, {"heron": 5.4, "otter": 5.4})
    assert (row["vehicles"], row["verdict"], row["q"]) == (2, "holds", None)
    assert row["measured"] == 9
    assert "a count is compared vehicle by vehicle" in row["reason"]


def test_extreme_steps_are_compared_one_by_one() -> None:
    """A mean would keep the error that the largest of several has on each."""
    claim = {"quantity": "step", "value": 0.238, "which": "largest", "tolerance": 0.2}
    row = pooled(claim, {"heron": 5.4, "otter": 5.4}, top={"otter": 2.98})
    assert row["q"] is None
    assert "extreme steps are compared vehicle by vehicle" in row["reason"]


TOP_SPEED = {
    "quantity": "speed",
    "value": 2.97 * ridden.ROLLOUT_M * 1.5,
    "gear": "highest",
    "at_cadence_rpm": 90.0,
}


def test_metres_on_one_wheel_are_pooled_with_what_the_wheel_leaves_open() -> None:
    """A measured rollout is known to 0.5 %, however many vehicles roll on such wheels."""
    row = pooled(TOP_SPEED, {f"v{n}": 5.4 for n in range(12)}, error=0.0001)
    assert row["verdict"] == "holds"
    assert log(row["measured_high"] / row["measured_low"]) > 0.0099


def test_metres_on_different_wheels_are_not_pooled() -> None:
    """A speed on 1.5 m and on 2.1 m of rollout is not one number."""
    fleet = pl.concat(
        [
            ridden.vehicles("heron"),
            ridden.vehicles("otter", stated_rollout_m=2.1, effective_rollout_m=2.1),
        ]
    )
    row = pooled(TOP_SPEED, {"heron": 5.4, "otter": 5.4}, fleet=fleet)
    assert row["q"] is None
    assert "theirs differ in size" in row["reason"]


def test_what_no_ride_shows_stays_untestable() -> None:
    """However many vehicles there are; so does a drivetrain that nobody rode stay undecided."""
    claim = {"quantity": "noise", "value": None, "tolerance": None}
    row = pooled(claim, {"heron": 5.4, "otter": 5.4})
    assert (row["vehicles"], row["verdict"]) == (0, "untestable")
    row = pooled(RANGE | {"drivetrain": "ten"}, {"heron": 5.4})
    assert (row["vehicles"], row["left_out"], row["verdict"]) == (0, 0, "undecided")


@pytest.mark.parametrize(
    "claim",
    [
        RANGE,
        {"quantity": "step", "value": 0.238, "gear": "4"},
        {"quantity": "cadence change", "value": 19.0, "gear": "4", "at_cadence_rpm": 80.0},
        {"quantity": "step", "value": 0.23, "which": "mean"},
        {"quantity": "ratio", "value": 2.97, "gear": "highest"},
        TOP_SPEED,
    ],
)
def test_a_piece_is_the_interval_taken_apart(claim: dict[str, Any]) -> None:
    """Error times 1.96 and what is open make the half widths; the wheel is open by ±0.5 %."""
    gears = ridden.measured(ridden.numbered())
    evidence = gather(
        ridden.vehicles("heron").row(0, named=True),
        gears,
        ridden.measured_range(5.4),
        ridden.measured_steps(gears),
        ridden.published(),
    )
    (read,) = read_claims(ridden.claims(claim))
    piece = piece_of(read, evidence)
    assert piece is not None
    wheel = 0.005 if claim["quantity"] in {"ratio", "speed"} else 0.0
    assert piece.down == pytest.approx(wheel, abs=2e-4)
    assert piece.up == pytest.approx(wheel, abs=2e-4)
    sharp = 0.005 if claim["quantity"] in {"ratio", "speed", "range"} else None
    if sharp:
        assert piece.error * ridden.Z == pytest.approx(sharp, rel=0.02)
