"""Does a ladder depart from what is published, or from itself: a clutch, a sprocket, a setting?

Five questions are asked of each vehicle: does the wheel roll as stated; is a gear off its published
ratio in all rides; does one drift as months go by; do its spells scatter more than those of the
other gears; do all gears of one ride depart together, as a unit set to another wheel makes them.

A departure below what cannot matter, or cannot be told, is none (``WITHIN``): each test asks
whether it is larger than that. All tests of all vehicles are held to one chance of a false alarm,
5 % for the whole fleet, after Holm (1979, Scandinavian Journal of Statistics 6, 65-70): so that a
shop of twenty sound vehicles sees an alarm once in twenty fleets, not one a day.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log, sqrt
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
from polars import col

from ridelab.analysis.health_words import Question, said
from ridelab.drivetrain.wheel import accepted_rollout_m

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from typing import Any

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

#: One chance in twenty of an alarm in a fleet without a fault.
CHANCE = 0.05
#: Departures that are none, as a share of a development. Of one gear: half a percent, a fifth of a
#: tooth on a large sprocket. Of one gear in time: the same. Of a whole ride: 1.5 %, load and
#: pressure of a tyre (common practice, no source).
WITHIN = {"gear off": 0.005, "gear drifts": 0.005, "ride apart": 0.015}
#: A gear may scatter half as much again as the others.
SCATTERS_BY = 1.5
_SPELLS = 3  # of a gear in a ride, and more, for its mean to say something
_RIDES = 4  # for a drift, and for the spread of rides to be told from rides
_SPREAD_SPELLS = 12
_LEAST_SD = 0.001
_ALIKE = 0.01  # a rollout is not known better than that
#: Of a tyre from one day to the next: pressure and warmth (common practice, no source).
_DAY_SD = 0.002
_MAD = 1.4826  # of a normal distribution, any statistics table

HEALTH_SCHEMA = pl.Schema(
    {
        "vehicle": pl.String(),
        "kind": pl.String(),
        "gear": pl.Int32(),
        "ride": pl.String(),
        "finding": pl.String(),
        "size": pl.Float64(),
        "size_low": pl.Float64(),
        "size_high": pl.Float64(),
        "chance": pl.Float64(),
        "tests": pl.Int32(),
    }
)


def ladder_health(
    vehicles: pl.DataFrame,
    measured_gears: pl.DataFrame,
    measured_precision: pl.DataFrame,
    spells: pl.DataFrame,
    printed_within: Mapping[tuple[str, int], float] | None = None,
    moves_chain: Mapping[str, bool] | None = None,
) -> pl.DataFrame:
    """Return the rows of ``ladder_health``: findings, and a word on each vehicle without any.

    ``vehicles``, ``measured_gears`` and ``measured_precision`` are the relations; ``spells``:
    ``gear_spells`` with ``vehicle`` and ``started_at``; ``printed_within``: what the printed digits
    of a published ratio leave open, by (drivetrain, gear), as a share; ``moves_chain``: whether a
    drivetrain's gears are changed by moving a chain, which says what to look at.
    """
    tests: dict[str, list[Question]] = {name: [] for name in vehicles["vehicle"]}
    freedom = dict(measured_precision.select("vehicle", "freedom").iter_rows())
    for vehicle in vehicles.iter_rows(named=True):
        name = vehicle["vehicle"]
        if vehicle["stepless"] is not False:
            continue
        gears = measured_gears.filter(col("vehicle") == name)
        df = float(freedom.get(name, 1))
        tests[name] += [
            *_wheel(vehicle, gears, df),
            *_gears_off(vehicle, gears, df, printed_within or {}),
        ]
        tests[name] += _within_itself(name, spells.filter(col("vehicle") == name))
    clear = dict(_clear([test for own in tests.values() for test in own]))
    chains = {
        name: (moves_chain or {}).get(drivetrain)
        for name, drivetrain in vehicles.select("vehicle", "drivetrain").iter_rows()
    }
    rows = []
    for name, own in tests.items():
        chain = chains.get(name)
        findings = [_row(test, clear[test], len(own), chain) for test in own if test in clear]
        rows += findings or [_without(name, len(own))]
    return pl.DataFrame(rows, schema=HEALTH_SCHEMA, orient="row")


def _clear(tests: Sequence[Question]) -> Iterator[tuple[Question, float]]:
    """Yield the tests that chance does not explain, each with its p value after Holm."""
    highest = 0.0
    for place, test in enumerate(sorted(tests, key=lambda one: one.p_value)):
        highest = max(highest, min(1.0, test.p_value * (len(tests) - place)))
        if highest >= CHANCE:
            return
        yield test, highest


def _beyond(size: float, error: float, within: float, freedom: float) -> float:
    """Return how likely a departure no larger than ``within`` would look as large as this."""
    from scipy.stats import t as student

    return float(student.sf((abs(size) - within) / max(error, 1e-9), max(freedom, 1.0)))


def _wheel(vehicle: Mapping[str, Any], gears: pl.DataFrame, freedom: float) -> Iterator[Question]:
    """Ask whether the wheel rolls as far as one of its stated rollout may."""
    low, high = vehicle["effective_rollout_low_m"], vehicle["effective_rollout_high_m"]
    stated = vehicle["stated_rollout_m"]
    if vehicle["drivetrain"] is None or low is None or stated is None:
        return
    least, most = accepted_rollout_m(stated, is_measured=vehicle["rollout_is_measured"])
    size, error = log(vehicle["effective_rollout_m"] / stated), _error(low, high, freedom)
    middle, within = log(least * most / stated**2) / 2, log(most / least) / 2
    p_value = _beyond(size - middle, error, within, freedom)
    steps = gears.sort("gear")["published_ratio"].log().diff().drop_nulls().to_numpy()
    like_a_step = bool((np.abs(np.abs(size) - steps) < _ALIKE).any())
    yield Question(
        vehicle["vehicle"], "wheel", size, error, p_value, freedom, like_a_step=like_a_step
    )


def _gears_off(
    vehicle: Mapping[str, Any],
    gears: pl.DataFrame,
    freedom: float,
    printed_within: Mapping[tuple[str, int], float],
) -> Iterator[Question]:
    """Ask of each gear whether it is off its published ratio; three or more tell which one is."""
    known = gears.drop_nulls(["published_ratio", "ratio_low", "ratio_high"])
    if len(known) < 3:
        return
    for row in known.iter_rows(named=True):
        size = log(row["ratio"] / row["published_ratio"])
        error = _error(row["ratio_low"], row["ratio_high"], freedom)
        within = WITHIN["gear off"] + printed_within.get((vehicle["drivetrain"], row["gear"]), 0.0)
        p_value = _beyond(size, error, within, freedom)
        yield Question(vehicle["vehicle"], "gear off", size, error, p_value, freedom, row["gear"])


def _error(low: float, high: float, freedom: float) -> float:
    """Return the standard error behind a 95 % interval after Student."""
    from scipy.stats import t as student

    return log(high / low) / 2 / float(student.ppf(0.975, max(freedom, 1.0)))


@dataclass(frozen=True)
class _Spells:
    """Spells of one vehicle: what is left of ln(development) beside its gear's and its ride's.

    ``within``: what is left beside those of the same gear in the same ride, nan where these are
    few: a gear that drifts does not scatter.
    """

    gear: NDArray[np.int64]
    ride: NDArray[np.int64]
    day: Floats
    apart: Floats
    within: Floats
    of_ride: Floats
    names: tuple[str, ...]


def _within_itself(vehicle: str, spells: pl.DataFrame) -> Iterator[Question]:
    """Ask what spells tell without any published figure: drifts, scatter, rides apart."""
    if spells.is_empty():
        return
    told = _parted(spells)
    yield from _rides_apart(vehicle, told)
    for gear in np.unique(told.gear):
        yield from _drifts(vehicle, told, int(gear))
        yield from _scatters(vehicle, told, int(gear))


def _parted(spells: pl.DataFrame) -> _Spells:
    """Part ln(development) into gear, ride and rest by medians in turn (Tukey's median polish)."""
    rides = spells.select("ride", "started_at").unique().sort("started_at", "ride")
    names = tuple(rides["ride"])
    place = {ride: n for n, ride in enumerate(names)}
    ride = np.array([place[one] for one in spells["ride"]])
    start = rides["started_at"].dt.epoch("s").to_numpy() / 86_400.0
    gear = spells["gear"].to_numpy().astype(np.int64)
    rest = np.log(spells["development_m"].to_numpy())
    of_ride = np.zeros(len(names))
    for _ in range(8):
        for one in np.unique(gear):
            rest[gear == one] -= np.median(rest[gear == one])
        for n in range(len(names)):
            middle = float(np.median(rest[ride == n]))
            of_ride[n] += middle
            rest[ride == n] -= middle
    within = np.full(len(rest), np.nan)
    for one in np.unique(gear):
        for n in np.unique(ride[gear == one]):
            those = (gear == one) & (ride == n)
            if those.sum() >= _SPELLS:
                within[those] = rest[those] - np.median(rest[those])
    return _Spells(gear, ride, (start - start[0])[ride], rest, within, of_ride, names)


def _rides_apart(vehicle: str, told: _Spells) -> Iterator[Question]:
    """Ask of each ride whether all its gears depart from those of the other rides."""
    counts = np.bincount(told.ride, minlength=len(told.names))
    enough = np.flatnonzero(counts >= _SPELLS)
    if len(enough) < 2:
        return
    errors = {n: _of_mean(told.apart[told.ride == n]) for n in enough}
    # of two rides nobody knows which is apart: the difference is told once, of the later
    for n in enough if len(enough) > 2 else enough[1:]:
        others = enough[enough != n]
        size = float(told.of_ride[n] - np.median(told.of_ride[others]))
        known = max(errors[other] for other in others) / sqrt(len(others))
        if len(others) >= _RIDES:
            known = max(known, 1.25 * _spread(told.of_ride[others]) / sqrt(len(others)))
        error = sqrt(errors[n] ** 2 + known**2 + _DAY_SD**2)
        freedom = float(min(counts[enough]) - 1)
        p_value = _beyond(size, error, WITHIN["ride apart"], freedom)
        yield Question(vehicle, "ride apart", size, error, p_value, freedom, ride=told.names[n])


def _drifts(vehicle: str, told: _Spells, gear: int) -> Iterator[Question]:
    """Ask whether a gear changes with the days, by a straight line through its rides' means."""
    mine = told.gear == gear
    means, days = [], []
    for n in np.unique(told.ride[mine]):
        own = told.apart[mine & (told.ride == n)]
        if len(own) >= _SPELLS:
            means.append(float(np.median(own)))
            days.append(float(told.day[told.ride == n][0]))
    span = max(days, default=0.0) - min(days, default=0.0)
    if len(means) < _RIDES or span < 1.0:
        return
    centred = np.array(days) - np.mean(days)
    slope = float(centred @ np.array(means) / (centred @ centred))
    left = np.array(means) - np.mean(means) - slope * centred
    freedom = float(len(means) - 2)
    deviation = max(sqrt(float(left @ left) / freedom), _LEAST_SD)
    size, error = slope * span, span * deviation / sqrt(float(centred @ centred))
    p_value = _beyond(size, error, WITHIN["gear drifts"], freedom)
    yield Question(vehicle, "gear drifts", size, error, p_value, freedom, gear)


def _scatters(vehicle: str, told: _Spells, gear: int) -> Iterator[Question]:
    """Ask whether a gear's spells scatter more than half as much again as those of the others.

    Compares distances from the middle by ranks (Mann and Whitney), the gear's shrunk by that half.
    """
    from scipy.stats import mannwhitneyu

    own = told.gear == gear
    mine, others = (np.abs(told.within[which & ~np.isnan(told.within)]) for which in (own, ~own))
    if len(mine) < _SPREAD_SPELLS or len(others) < _SPREAD_SPELLS:
        return
    p_value = float(mannwhitneyu(mine / SCATTERS_BY, others, alternative="greater").pvalue)
    ratio = max(float(np.median(mine)), 1e-6) / max(float(np.median(others)), _LEAST_SD / 2)
    # the logarithm of a spread has an error of about 1.17 / sqrt(n), where a median tells it
    error = 1.17 * sqrt(1 / len(mine) + 1 / len(others))
    yield Question(vehicle, "gear scatters", log(ratio), error, p_value, float(len(mine) - 1), gear)


def _spread(values: Floats) -> float:
    return float(max(_MAD * np.median(np.abs(values - np.median(values))), _LEAST_SD))


def _of_mean(values: Floats) -> float:
    """Return the standard error of a median, a quarter above that of a mean of normal values."""
    return 1.25 * _spread(values) / sqrt(len(values))


def _row(test: Question, chance: float, tests: int, moves_chain: bool | None) -> tuple[object, ...]:
    from scipy.stats import t as student

    half = float(student.ppf(0.975, max(test.freedom, 1.0))) * test.error
    ends = (exp(test.size + side) - 1 for side in (0.0, -half, half))
    finding = said(test, moves_chain)
    return (test.vehicle, test.kind, test.gear, test.ride, finding, *ends, chance, tests)


def _without(vehicle: str, tests: int) -> tuple[object, ...]:
    words = "no departure that chance would not explain" if tests else "nothing ridden to test"
    kind = "sound" if tests else "not tested"
    return (vehicle, kind, None, None, words, None, None, None, None, tests)
