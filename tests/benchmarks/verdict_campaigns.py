"""Campaigns with claims whose truth is known, judged; then ridden as planned, and judged again."""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

import numpy as np

from ridelab.analysis import judge_and_plan
from ridelab.campaign import Claim
from ridelab.simulate import Piece, build_course, simulate_ride
from tests.benchmarks.inference_campaigns import drawn
from tests.benchmarks.inference_cases import Case, Day
from tests.benchmarks.inference_found import measured, readings
from tests.benchmarks.inference_relations import relations
from tests.benchmarks.inference_truth import true_gears

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import polars as pl

    from ridelab.campaign.model import Bound, ClaimQuantity, Which
    from ridelab.gears.result import VehicleGears
    from ridelab.simulate import SimulatedRide

#: How far the truth lies from the limit of a claim, in tolerances. Inside two limits it cannot lie
#: further from both than one.
DISTANCES = (0.5, 1.0, 2.0, 3.0, 5.0)
RIDDEN_S = 120.0
#: A measured rollout may be 0.5 % off; tyres differ from day to day beside that.
_MEASURED_WITHIN = 0.004
#: Where this many seconds of each gear are ridden in one sweep.
_SWEEP_S = 150.0


@dataclass(frozen=True)
class Told:
    """A claim and whether it is true; ``gears`` that it depends on, all ridden for long or not."""

    claim: Claim
    holds: bool
    distance: float
    gears: tuple[int, ...]
    long: bool = False
    word: str = ""
    what: str = ""


@dataclass
class Tally:
    """What was counted: claims as judged, those planned for as judged then, and seconds planned."""

    judged: list[Told] = field(default_factory=list)
    planned: list[Told] = field(default_factory=list)
    planned_s: list[float] = field(default_factory=list)
    campaigns: int = 0

    def __add__(self, other: Tally) -> Tally:
        return Tally(*(getattr(self, f.name) + getattr(other, f.name) for f in fields(self)))


def judged_campaign(number: int, ride_the_plan: bool) -> Tally:
    """Judge the claims of one campaign; every second one is ridden through all gears, for long."""
    case = _case(number)
    rides = case.rides()
    read = readings(case, rides)
    result = measured(case, read)
    told = _claims(case, np.random.default_rng([number, 7]))
    verdicts, plan = _judged(told, case, result)
    seconds = {gear: true.seconds for gear, true in true_gears(rides).items()}
    judged = [
        replace(
            one,
            word=word,
            long=all(seconds.get(gear, 0.0) >= RIDDEN_S for gear in one.gears),
            what=f"{number} {case.truth.name} {case.sensors.speed}: {_said(one, row)}",
        )
        for one, (word, row) in zip(told, verdicts, strict=True)
    ]
    tally = Tally(judged=judged, campaigns=1)
    if ride_the_plan and len(plan):
        _ride_the_plan(case, rides, told, plan, tally, number)
    return tally


def _case(number: int) -> Case:
    """Return the campaign of this number; its rollout was measured within what that allows."""
    off = np.random.default_rng([number, 8]).uniform(-_MEASURED_WITHIN, _MEASURED_WITHIN)
    case = replace(drawn(number), stated_off=float(off))
    if number % 2:
        rider = replace(case.days[0].rider, sweep_s=_SWEEP_S)
        gears = len(case.ladder.gears)
        day = Day("sweep", rider, case.days[0].wind, int(gears * (_SWEEP_S + 30.0) + 900))
        case = replace(case, days=(*case.days, day))
    return case


def _said(one: Told, row: Mapping[str, object]) -> str:
    claim = one.claim
    gear = f" gear {claim.gear}" if claim.gear else f" {claim.which or ''}"
    return (
        f"{claim.quantity}{gear} {claim.bound} {claim.value:.4g} ± {claim.tolerance:.2%} "
        f"({'true' if one.holds else 'false'}, {one.distance:g} from its limit) {row['verdict']}: "
        f"{row['measured']} ({row['measured_low']} to {row['measured_high']}); {row['reason']}"
    )


def _judged(
    told: Sequence[Told], case: Case, result: VehicleGears
) -> tuple[list[tuple[str, Mapping[str, object]]], pl.DataFrame]:
    verdicts, plan = judge_and_plan(**relations([one.claim for one in told], case, result))
    return [(row["verdict"], row) for row in verdicts.iter_rows(named=True)], plan


def _ride_the_plan(
    case: Case,
    rides: Sequence[SimulatedRide],
    told: Sequence[Told],
    plan: pl.DataFrame,
    tally: Tally,
    number: int,
) -> None:
    """Ride what was planned, and judge again by all rides together."""
    spells = {row["gear"]: (row["spells"], row["seconds"]) for row in plan.iter_rows(named=True)}
    rounds = max(count for count, _ in spells.values())
    order = tuple(
        (gear, seconds / count + 4.0)
        for turn in range(rounds)
        for gear, (count, seconds) in sorted(spells.items())
        if turn < count
    )
    rider = replace(case.days[0].rider, sweep_plan=order, spell_every_s=300.0)
    seconds = sum(one for _, one in order)
    day = Day("sweep", rider, case.days[0].wind, int(1.5 * seconds + 15.0 * len(order) + 300.0))
    scenario = case.scenario(day)
    length_m = 14.0 * day.duration_s
    course = build_course((Piece(300), Piece(length_m, grade=-0.003, sweep=True)), number)
    ridden = simulate_ride(replace(scenario, course=course), 77_000 + number)
    every = [*rides, ridden]
    result = measured(case, readings(case, every))
    verdicts, _ = _judged(told, case, result)
    planned = {name for row in plan["claims"] for name in row.split(", ")}
    tally.planned_s.append(float(plan["seconds"].sum()))
    for place, (one, (word, row)) in enumerate(zip(told, verdicts, strict=True)):
        if f"c{place}" in planned:
            what = f"{number} {case.truth.name} {case.sensors.speed}, planned: {_said(one, row)}"
            tally.planned.append(replace(one, word=word, what=what))


def _claims(case: Case, rng: np.random.Generator) -> list[Told]:
    """Draw claims on all that can be measured, at all distances from their limits."""
    from tests.benchmarks.inference_campaigns import _built_ratios

    built = _built_ratios(case)
    numbers, ratios = list(built), list(built.values())
    steps = [above / below - 1.0 for below, above in pairwise(ratios)]
    one, other = (int(i) for i in rng.choice(len(numbers), 2, replace=False))
    up = [int(i) for i in rng.choice(np.arange(1, len(numbers)), 2, replace=False)]
    gears, ends = tuple(numbers), (numbers[0], numbers[-1])
    metres = case.body.rollout_m
    uneven = (1.0 + max(steps)) / (1.0 + min(steps)) - 1.0
    draw = _Draw(rng)
    found = [
        draw("range", ratios[-1] / ratios[0], (0.01, 0.03), ends),
        draw("ratio", ratios[one], (0.015, 0.03), (numbers[one],), gear=numbers[one]),
        draw("ratio", ratios[other], (0.015, 0.03), (numbers[other],), gear=numbers[other]),
        draw("development", ratios[one] * metres, (0.015, 0.03), (numbers[one],),
             gear=numbers[one]),
        draw("speed", ratios[-1] * metres * 1.5, (0.015, 0.03), ends[1:], gear="highest",
             at_cadence_rpm=90.0),
        *(
            draw("step", steps[at - 1], (0.05, 0.15), (numbers[at - 1], numbers[at]),
                 gear=numbers[at])
            for at in up
        ),
        draw("step", (ratios[-1] / ratios[0]) ** (1 / len(steps)) - 1.0, (0.02, 0.1), ends,
             which="mean"),
        draw("step", max(steps), (0.05, 0.15), gears, which="largest"),
        draw("cadence change", steps[up[0] - 1] * 80.0, (0.05, 0.15),
             (numbers[up[0] - 1], numbers[up[0]]), gear=numbers[up[0]], at_cadence_rpm=80.0),
        draw.at_most("evenness", uneven, gears),
    ]  # fmt: skip
    more = int(rng.integers(0, 2))
    count = Claim("gears", case.truth.name, "gears", len(numbers) + more, 0.0, "n")
    return [*found, Told(count, more == 0, 1.0, gears)]


class _Draw:
    """Draws claims around true values."""

    #: What a claim on evenness may be off by at least: of even steps a share would be nothing.
    LEAST = 0.01

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng = rng

    def at_most(self, quantity: ClaimQuantity, true: float, gears: tuple[int, ...]) -> Told:
        """Return a claim on something that can be nothing at all."""
        distance = float(self.rng.choice(DISTANCES))
        off = distance * max(0.2 * true, self.LEAST)
        holds = bool(self.rng.integers(0, 2)) or true <= off
        limit = true + off if holds else true - off
        claim = Claim(quantity, "", quantity, limit / 1.05, 0.05, "printed", bound="at most")
        return Told(claim, holds, distance, gears)

    def __call__(
        self,
        quantity: ClaimQuantity,
        true: float,
        tolerances: tuple[float, float],
        gears: tuple[int, ...],
        gear: int | Literal["lowest", "highest"] | None = None,
        which: Which | None = None,
        at_cadence_rpm: float | None = None,
    ) -> Told:
        """Return a claim; the truth lies ``distance`` tolerances from its nearest limit."""
        rng = self.rng
        tolerance = float(rng.uniform(*tolerances))
        distance = float(rng.choice(DISTANCES))
        holds = bool(rng.integers(0, 2))
        one_sided = holds and distance > 1.0
        bound: Bound = ("at least", "at most")[int(rng.integers(2))] if one_sided else "about"
        inward = (1.0 - distance) if holds else (1.0 + distance)
        side = float(rng.choice([-1.0, 1.0]))
        if bound == "at least":
            side = -1.0
        elif bound == "at most":
            side = 1.0
        claim = Claim(
            quantity, "", quantity, true / (1.0 + side * inward * tolerance), tolerance, "printed",
            gear=gear, which=which, at_cadence_rpm=at_cadence_rpm, bound=bound,
        )  # fmt: skip
        return Told(claim, holds, distance, gears)
