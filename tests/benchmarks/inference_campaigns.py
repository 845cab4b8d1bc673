"""Many small campaigns, drawn at random: do intervals cover, do verdicts hold, are gears counted?

A campaign is a vehicle with two to four short rides. Vehicle, riders, roads, weather, sensors and
recording unit differ from one to the next; the number of a campaign is its seed.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace
from typing import TYPE_CHECKING

import numpy as np

from ridelab.campaign import Claim
from ridelab.drivetrain.stages import Drivetrain, from_ratios
from ridelab.gears.result import Interval
from ridelab.simulate import Rider, Wind
from tests.benchmarks.inference_cases import (
    BICYCLE,
    CALM,
    DOUBLE,
    EIGHTEEN,
    FOURTEEN,
    NINE,
    OTHER_WHEEL,
    PLAIN,
    QUICK,
    ROAD,
    SATELLITE,
    SEVEN,
    STEPLESS,
    THREE,
    TRIKE,
    TWELVE,
    WHEEL,
    Case,
    Day,
)
from tests.benchmarks.inference_counts import RIDDEN_S, ladder_errors
from tests.benchmarks.inference_found import measured, readings
from tests.benchmarks.inference_oracle import oracle_ladder
from tests.benchmarks.inference_relations import verdicts_on
from tests.benchmarks.inference_truth import true_gears

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ridelab.campaign.model import ClaimQuantity
    from ridelab.gears.result import VehicleGears
    from tests.benchmarks.inference_truth import TrueGear

KINDS = (
    (FOURTEEN, BICYCLE),
    (EIGHTEEN, TRIKE),
    (NINE, BICYCLE),
    (SEVEN, BICYCLE),
    (TWELVE, ROAD),
    (DOUBLE, ROAD),
)
UNITS = (WHEEL, OTHER_WHEEL, replace(WHEEL, cadence_fraction=True, power_meter=True), SATELLITE)
#: How likely each unit is met.
_UNIT_SHARES = (0.35, 0.25, 0.1, 0.3)
_RIDERS = (PLAIN, QUICK, CALM)
_ROADS = ("hills", "rolling", "town", "sweep")
#: One vehicle in four has one gear that is not what its data sheet says.
_WRONG_SHARE, _WRONG_BY = 0.25, (0.015, 0.05)
#: A claim may be off by so many tolerances; near one it could not be decided.
_OFF_BY = (-3.0, -1.6, -0.5, 0.0, 0.5, 1.6, 3.0)


@dataclass
class Tally:
    """What was counted over campaigns; lists have one entry a gear, a range or a step.

    ``errors``: kind of speed, error of a ratio, and the oracle's; ``stated_errors``: kind of speed
    and the standard error that the interval states, both of gears driven for long enough.
    ``counted``: gears of unpublished vehicles, right or not; ``sure``: probability stated of each.
    ``teeth``: sprockets suggested on chain drives, right or not; ``chains``, ``as_chains``:
    vehicles with a row of sprockets, and those with none, that were suggested one. ``placed``:
    vehicles ridden for many hours, the whole ladder where it is or not. ``said``: what is worth a
    look.
    """

    ratios: list[bool] = field(default_factory=list)
    ranges: list[bool] = field(default_factory=list)
    steps: list[bool] = field(default_factory=list)
    errors: list[tuple[str, float, float]] = field(default_factory=list)
    stated_errors: list[tuple[str, float]] = field(default_factory=list)
    claims: int = 0
    decided: int = 0
    false: list[str] = field(default_factory=list)
    counted: list[bool] = field(default_factory=list)
    sure: list[float] = field(default_factory=list)
    as_stepless: int = 0
    as_gears: int = 0
    discrete: int = 0
    stepless: int = 0
    teeth: list[bool] = field(default_factory=list)
    chains: list[bool] = field(default_factory=list)
    as_chains: int = 0
    placed: list[bool] = field(default_factory=list)
    said: list[str] = field(default_factory=list)

    def __add__(self, other: Tally) -> Tally:
        return Tally(*(getattr(self, f.name) + getattr(other, f.name) for f in fields(self)))


def drawn(number: int) -> Case:
    """Return the campaign of this number, its drivetrain published."""
    rng = np.random.default_rng([number, 1])
    drivetrain, body = KINDS[number % len(KINDS)]
    sensors = UNITS[int(rng.choice(len(UNITS), p=_UNIT_SHARES))]
    built = _as_built(drivetrain, rng) if rng.random() < _WRONG_SHARE else None
    return Case(
        f"campaign {number}", drivetrain, body, sensors, _days(rng), built=built,
        stated_off=float(rng.normal(0.0, 0.003)), seed=5000 + number,
    )  # fmt: skip


def _days(rng: np.random.Generator) -> tuple[Day, ...]:
    return tuple(
        Day(
            str(rng.choice(_ROADS)),
            _RIDERS[int(rng.integers(len(_RIDERS)))],
            Wind(float(rng.uniform(0.0, 5.0)), float(rng.uniform(0.0, 6.28))),
            int(rng.uniform(700, 1500)),
        )
        for _ in range(int(rng.integers(2, 5)))
    )


def _as_built(published: Drivetrain, rng: np.random.Generator) -> Drivetrain | None:
    """One ratio of a gearbox or hub is off; a sprocket has the teeth that it has."""
    for place, stage in enumerate(published.stages):
        if len(stage.choices) > 1 and not stage.teeth:
            ratios = [choice.ratio for choice in stage.choices]
            off = float(rng.choice([-1.0, 1.0]) * rng.uniform(*_WRONG_BY))
            ratios[int(rng.integers(len(ratios)))] *= 1.0 + off
            stages = list(published.stages)
            stages[place] = from_ratios(stage.name, ratios)
            return Drivetrain(published.name, tuple(stages))
    return None


def judged_campaign(number: int) -> Tally:
    """Measure one campaign: intervals, errors beside the oracle's, and verdicts."""
    case, tally = drawn(number), Tally()
    rides = case.rides()
    read = readings(case, rides)
    result = measured(case, read)
    gears = true_gears(rides)
    tally.said = [f"{case.name}: {problem.message}" for problem in result.problems]
    _count_intervals(result, gears, tally)
    found = {
        int(gear): float(np.log(metres))
        for gear, metres in result.gears.select("gear", "development_m").iter_rows()
    }
    told = oracle_ladder(rides, read)
    both = {gear: true for gear, true in gears.items() if gear in found and gear in told}
    ours, theirs = ladder_errors(found, both)[0], ladder_errors(told, both)[0]
    tally.errors = [(case.sensors.speed, ours[gear], theirs[gear]) for gear in ours]
    tally.stated_errors = [
        (case.sensors.speed, float(np.log(one.high / one.low)) / 3.92)
        for gear, one in _intervals(result).items()
        if gear in ours
    ]
    _judge(case, result, tally, np.random.default_rng([number, 2]))
    return tally


def _intervals(result: VehicleGears) -> dict[int, Interval]:
    rows = result.gears.select("gear", "ratio", "ratio_low", "ratio_high").iter_rows()
    return {int(gear): Interval(*interval) for gear, *interval in rows if None not in interval}


def _count_intervals(result: VehicleGears, gears: Mapping[int, TrueGear], tally: Tally) -> None:
    """Count which intervals hold the truth; gears that never drove have none to hold."""
    found = {gear: one for gear, one in _intervals(result).items() if gear in gears}
    true = {gear: float(np.exp(gears[gear].ln_ratio)) for gear in found}
    tally.ratios = [_holds(one, true[gear]) for gear, one in found.items()]
    for gear, below, *interval in result.steps.select(
        "gear", "below", "step", "step_low", "step_high"
    ).iter_rows():
        if gear in true and below in true:
            tally.steps.append(_holds(Interval(*interval), true[gear] / true[below] - 1.0))
    ends = result.range
    if ends is not None and ends.low_gear in true and ends.high_gear in true:
        low, high = ends.low_gear, ends.high_gear
        tally.ranges.append(_holds(ends.range, true[high] / true[low]))


def _holds(interval: Interval, true: float) -> bool:
    return bool(interval.low <= true <= interval.high)


def _judge(case: Case, result: VehicleGears, tally: Tally, rng: np.random.Generator) -> None:
    """Make claims that are true or false by the vehicle as built, and count false verdicts."""
    claims = _claims(case, _built_ratios(case), rng)
    verdicts = verdicts_on([claim for claim, _ in claims], case, result)
    for (claim, holds), verdict in zip(claims, verdicts.iter_rows(named=True), strict=True):
        tally.claims += 1
        if verdict["verdict"] not in {"holds", "fails"}:
            continue
        tally.decided += 1
        if (verdict["verdict"] == "holds") != holds:
            gear = f" of gear {claim.gear}" if claim.gear else ""
            tally.false.append(
                f"{_told_of(case)}: {claim.quantity}{gear} {claim.value:.4g} ± "
                f"{claim.tolerance:.2%} {verdict['verdict']}: {verdict['measured']:.4g} "
                f"({verdict['measured_low']} to {verdict['measured_high']})"
            )


def _built_ratios(case: Case) -> dict[int, float]:
    """Return the ratio of each published gear as built: the mean of its settings."""
    from ridelab.simulate import Gears, from_drivetrain

    gearing = from_drivetrain(case.truth, case.built)
    if not isinstance(gearing, Gears):
        return {}
    members: dict[int, list[float]] = {}
    for setting in gearing.settings:
        members.setdefault(setting.gear, []).append(float(np.log(setting.ratio)))
    return {gear: float(np.exp(np.mean(logs))) for gear, logs in sorted(members.items())}


def _claims(
    case: Case, ratios: Mapping[int, float], rng: np.random.Generator
) -> list[tuple[Claim, bool]]:
    """Draw claims, and say of each whether it is true."""
    numbers, values = list(ratios), list(ratios.values())
    pick = [int(i) for i in rng.choice(len(numbers), 2, replace=False)]
    above = int(rng.integers(1, len(numbers)))
    drawn_claims = [
        _claim("range", values[-1] / values[0], rng, (0.005, 0.02)),
        *(_claim("ratio", values[i], rng, (0.005, 0.02), gear=numbers[i]) for i in pick),
        _claim(
            "step", values[above] / values[above - 1] - 1.0, rng, (0.05, 0.1), gear=numbers[above]
        ),
        _claim(
            "development", values[pick[0]] * case.body.rollout_m, rng, (0.015, 0.03),
            gear=numbers[pick[0]],
        ),
    ]  # fmt: skip
    more = int(rng.integers(0, 2))
    count = Claim("gears", case.truth.name, "gears", len(numbers) + more, 0.0, "n")
    return [*drawn_claims, (count, more == 0)]


def _claim(
    quantity: ClaimQuantity, true: float, rng: np.random.Generator, tolerances: tuple[float, float],
    gear: int | None = None,
) -> tuple[Claim, bool]:  # fmt: skip
    tolerance = float(rng.uniform(*tolerances))
    off = float(rng.choice(_OFF_BY))
    claim = Claim(
        quantity, "", quantity, true / (1.0 + off * tolerance), tolerance, "printed", gear=gear
    )
    return claim, abs(off) < 1.0


def unpublished_campaign(number: int) -> Tally:
    """Measure a vehicle of which nothing is published: are its gears counted, or called none?

    Every third rides each gear for more than a minute, in a sweep. A count is right if it is that
    of the gears that drove; campaigns with a gear that drove for less than a minute do not count.
    """
    rng, tally = np.random.default_rng([number, 3]), Tally()
    kinds = (*KINDS[:5], (THREE, BICYCLE))
    drivetrain, body = kinds[number % len(kinds)]
    sensors = UNITS[int(rng.choice(len(UNITS), p=_UNIT_SHARES))]
    if number % 3:
        rider = replace(_RIDERS[int(rng.integers(len(_RIDERS)))], sweep_s=75.0)
        days: tuple[Day, ...] = tuple(Day("sweep", rider, duration_s=2100) for _ in range(2))
    else:
        days = _days(rng)
    case = Case(f"unpublished {number}", drivetrain, body, sensors, days, given=False,
                seed=9000 + number)  # fmt: skip
    rides = case.rides()
    result = measured(case, readings(case, rides))
    tally.discrete, tally.as_stepless = 1, int(result.stepless)
    _count_teeth(drivetrain, result, tally)
    seconds = [gear.seconds for gear in true_gears(rides).values()]
    if min(seconds) >= RIDDEN_S:
        tally.counted = [len(result.gears) == len(seconds)]
        tally.sure = [result.count_probability or 0.0]
    if result.stepless or (tally.counted and not tally.counted[0]):
        found = "stepless" if result.stepless else f"{len(result.gears)} gears"
        tally.said = [f"{_told_of(case)}: {found} for {len(seconds)}"]
    return tally


def _count_teeth(drivetrain: Drivetrain, result: VehicleGears, tally: Tally) -> None:
    """Count what was suggested of sprockets, beside those that the drivetrain shifts over."""
    row = {
        driven for stage in drivetrain.stages if len(stage.teeth) > 1 for _, driven in stage.teeth
    }
    told = result.teeth["sprocket"].drop_nulls().to_list()
    if row:
        tally.chains = [bool(told)]
        tally.teeth = [sprocket in row for sprocket in told]
    else:
        tally.as_chains = int(bool(told))


def _told_of(case: Case) -> str:
    roads = ", ".join(day.road for day in case.days)
    return f"{case.name} ({case.truth.name}, {case.sensors.speed}; {roads})"


def much_ridden_campaign(number: int) -> Tally:
    """Measure a vehicle ridden for some ten hours by one rider: what no hour shows, many may.

    The ladder is where it is if the wheel is found within a third of its smallest step.
    """
    rng = np.random.default_rng([number, 5])
    drivetrain, body = KINDS[number % len(KINDS)]
    sensors = UNITS[int(rng.choice(len(UNITS), p=_UNIT_SHARES))]
    rider = Rider(hunting=0.1, cadence_rpm=float(rng.uniform(62.0, 90.0)))
    days = tuple(
        replace(day, rider=rider, duration_s=int(rng.uniform(2400, 6000)))
        for _ in range(3)
        for day in _days(rng)
    )
    case = Case(f"much ridden {number}", drivetrain, body, sensors, days,
                stated_off=float(rng.normal(0.0, 0.003)), seed=15_000 + number)  # fmt: skip
    result = measured(case, readings(case, case.rides()))
    steps = np.diff(np.log(case.ladder.ratios))
    off = np.inf if result.rollout is None else np.log(result.rollout.value / body.rollout_m)
    placed = bool(abs(off) < steps.min() / 3.0)
    said = [f"{_told_of(case)}: the wheel is off by {np.expm1(off):+.1%}"]
    return Tally(placed=[placed], said=[] if placed else said)


def stepless_campaign(number: int) -> Tally:
    """Measure a stepless vehicle, published as such every fourth time: are gears named?"""
    rng = np.random.default_rng([number, 4])
    sensors = UNITS[int(rng.choice(len(UNITS), p=_UNIT_SHARES))]
    case = Case(f"stepless {number}", STEPLESS, BICYCLE, sensors, _days(rng),
                given=number % 4 == 0, seed=12_000 + number)  # fmt: skip
    result = measured(case, readings(case, case.rides()))
    named = not result.stepless and len(result.gears) > 0
    said = [f"{_told_of(case)}: {len(result.gears)} gears"]
    return Tally(stepless=1, as_gears=int(named), said=said if named else [])
