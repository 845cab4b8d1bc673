"""Undecided claims -> the shortest test ride that should decide them.

A claim is decided once the interval of what it speaks of lies on one side of its limits. What that
interval will be after more riding follows from what the rides so far left uncertain
(``gears.result.Precision``): n spells of some seconds in a gear add n / (spell_sd^2 + second_sd^2 /
seconds) to what is known of it, as in the mixed model that gears are measured by, with an error of
their own that all gears of the new ride share. Where the value will then lie is not known; it is
taken as normal around where it was measured, as far as that may still move, and around the
published value for gears that nobody rode. A claim is planned for if it would be decided in 92 %
of cases.

Claims are taken up by what they would cost alone, cheapest first, each with the spells that the
claims before it need anyway; every spell goes where it makes the claim's interval shrink most. In
the end spells that all planned claims can spare are taken back. So the plan is short, not provably
the shortest.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil, inf, sqrt
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from ridelab.analysis.evidence import TAIL, quantile
from ridelab.analysis.goals import Goal, goals
from ridelab.analysis.pace import pace

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from numpy.typing import NDArray

    from ridelab.analysis.evidence import Evidence
    from ridelab.analysis.verdict import Verdict
    from ridelab.campaign import Claim
    from ridelab.gears.result import Precision

    Floats = NDArray[np.float64]

#: One row a vehicle and gear to ride: the columns of the relation ``test_ride_plan``.
PLAN_SCHEMA = pl.Schema(
    {
        "vehicle": pl.String(),
        "gear": pl.Int32(),
        "seconds": pl.Float64(),
        "spells": pl.Int32(),
        "speed_low_mps": pl.Float64(),
        "speed_high_mps": pl.Float64(),
        "cadence_low_rpm": pl.Float64(),
        "cadence_high_rpm": pl.Float64(),
        "claims": pl.String(),
        "instruction": pl.String(),
    }
)
#: How long one spell lasts, and how much of it is lost to changing gear at its ends.
SPELL_S, LOST_S = 30.0, 4.0
#: A gear that was never measured is ridden for a minute at least.
FIRST_SPELLS = 2
#: Nobody is asked for more than this for one claim: half an hour.
MOST_SPELLS = 60
#: A claim is planned for if it would be decided this often.
ASSURANCE = 0.92
#: How far a gear that nobody rode may be off its published ratio; standard deviation, relative.
UNRIDDEN_SD = 0.003
#: What rides to come leave uncertain may be more than what rides so far did.
MARGIN = 1.05


@dataclass(frozen=True)
class Ride:
    """Spells to ride on one vehicle, by gear, for which claims, and which cannot be planned for.

    ``hopeless``: too near their limits; ``shut``: what the wheel leaves open is too much.
    """

    spells: Mapping[int, int]
    decides: Mapping[str, tuple[int, ...]]
    hopeless: tuple[str, ...] = ()
    shut: tuple[str, ...] = ()


def plan_ride(claims: Sequence[tuple[Claim, Verdict]], evidence: Evidence) -> Ride:
    """Return the ride that should decide the undecided claims on one vehicle."""
    wanted = {
        claim.id: found
        for claim, verdict in claims
        if verdict.word == "undecided" and (found := goals(claim, evidence))
    }
    if not wanted or evidence.precision is None:
        return Ride({}, {})
    outlook = _Outlook(evidence, evidence.precision, len(wanted))
    alone = {claim: outlook.spells_for(found, {}) for claim, found in wanted.items()}
    vain = [claim for claim, spells in alone.items() if spells is None]
    shut = tuple(claim for claim in vain if any(goal.shut for goal in wanted[claim]))
    hopeless = tuple(claim for claim in vain if claim not in shut)
    order = sorted(
        (sum(spells.values()), claim) for claim, spells in alone.items() if spells is not None
    )
    spells: dict[int, int] = {}
    for _, claim in order:
        more = outlook.spells_for(wanted[claim], spells)
        spells = spells if more is None else more
    planned = {claim: wanted[claim] for _, claim in order}
    spells = outlook.spared(planned, spells)
    decides = {claim: _gears(found) for claim, found in planned.items()}
    return Ride(spells, decides, hopeless, shut)


def _gears(found: Iterable[Goal]) -> tuple[int, ...]:
    return tuple(sorted({gear for goal in found for gear in goal.weights}))


class _Outlook:
    """What would be known after riding so many more spells in each gear."""

    def __init__(self, evidence: Evidence, precision: Precision, claims: int) -> None:
        self.evidence, self.precision, self.claims = evidence, precision, claims
        self.numbers = tuple(evidence.published)
        self.place = {gear: place for place, gear in enumerate(self.numbers)}
        now = self._now()
        ridden = [self.place[gear] for gear in evidence.ratios]
        block = np.ix_(ridden, ridden)
        self.bias = self._bias()
        self.bias *= _share(self.bias[ridden], now[block])
        sampled = now - np.diag(self.bias**2)
        self.information = np.zeros_like(now)
        self.information[block] = np.linalg.pinv(sampled[block], hermitian=True)
        self.now = now
        self.unridden = np.ones(len(self.numbers), dtype=bool)
        self.unridden[ridden] = False

    def _now(self) -> Floats:
        covariance = self.evidence.covariance
        return np.array(
            [[covariance.get((one, other), 0.0) for other in self.numbers] for one in self.numbers]
        )

    def _bias(self) -> Floats:
        """Return what the speed so far may be off by in each gear, as a share of it."""
        speeds = self.evidence.speeds_mps
        known = [speeds.get(gear) or inf for gear in self.numbers]
        return self.precision.bias_mps / np.array(known)

    def after(self, spells: Mapping[int, int]) -> Floats:
        """Return the covariance of ln(development) once they were ridden."""
        known = self.precision
        added, bias = np.zeros(len(self.numbers)), self.bias.copy()
        before = np.diag(self.information)
        for gear, count in spells.items():
            speed_mps = pace(gear, self.evidence)[0]
            each = known.spell_sd**2 + (
                known.second_sd**2 + (known.second_mps / speed_mps) ** 2
            ) / (SPELL_S - LOST_S)
            at = self.place[gear]
            added[at] = count / (each * MARGIN**2)
            new = known.bias_mps / speed_mps
            bias[at] = (before[at] * bias[at] + added[at] * new) / (before[at] + added[at])
        loose = 1.0 / known.ride_sd**2 + added.sum()
        information = self.information + np.diag(added) - np.outer(added, added) / loose
        information += np.eye(len(added)) * 1e-3
        return np.asarray(np.linalg.inv(information) + np.diag(bias**2))

    def sure(self, goal: Goal, spells: Mapping[int, int], covariance: Floats, parts: int) -> float:
        """Return the probability that a goal would be reached."""
        from scipy.special import ndtr

        weights = self._weights(goal)
        after = float(weights @ covariance @ weights)
        if any(self.unridden[self.place[g]] and not spells.get(g) for g in goal.weights):
            return 0.0
        moves = float(weights @ self.now @ weights) - after
        if any(self.unridden[self.place[g]] for g in goal.weights):
            moves = after + len(goal.weights) * UNRIDDEN_SD**2
        moves = sqrt(max(moves, 1e-12))
        more = sum(spells.values()) - sum(1 for gear in spells if self.unridden[self.place[gear]])
        later = replace(self.precision, freedom=max(self.precision.freedom + more, 3))
        reach = quantile(later, TAIL / (self.claims * parts)) * sqrt(after)
        low, high = goal.low + goal.down + reach, goal.high - goal.up - reach
        inside = max(float(ndtr((high - goal.at) / moves) - ndtr((low - goal.at) / moves)), 0.0)
        if low >= high:
            inside = 0.0
        above = float(ndtr((goal.at - (goal.high + goal.down + reach)) / moves))
        below = float(ndtr((goal.low - goal.up - reach - goal.at) / moves))
        return inside + above + below

    def decided(self, found: Sequence[Goal], spells: Mapping[int, int]) -> bool:
        """Whether a claim would be decided often enough."""
        return self._worst(found, spells)[0] >= ASSURANCE

    def _worst(
        self, found: Sequence[Goal], spells: Mapping[int, int]
    ) -> tuple[float, Goal, Floats]:
        covariance = self.after(spells)
        chances = [self.sure(goal, spells, covariance, len(found)) for goal in found]
        worst = int(np.argmin(chances))
        return chances[worst], found[worst], covariance

    def spells_for(self, found: Sequence[Goal], given: Mapping[int, int]) -> dict[int, int] | None:
        """Return the given spells and those that a claim needs beside.

        None if half an hour is not enough.
        """
        spells = dict(given)
        added = 0
        for gear in _gears(found):
            if self.unridden[self.place[gear]]:
                added += max(FIRST_SPELLS - spells.get(gear, 0), 0)
                spells[gear] = max(spells.get(gear, 0), FIRST_SPELLS)
        while True:
            chance, worst, covariance = self._worst(found, spells)
            if chance >= ASSURANCE:
                return spells
            if added >= MOST_SPELLS + FIRST_SPELLS * len(_gears(found)):
                return None
            gear = self._most_telling(worst, spells, covariance)
            step = max(1, ceil(0.1 * spells.get(gear, 0)))
            spells[gear] = spells.get(gear, 0) + step
            added += step

    def _most_telling(self, goal: Goal, spells: Mapping[int, int], covariance: Floats) -> int:
        """Return the gear in which one more spell makes the interval of a goal shrink most."""
        pull = (covariance @ self._weights(goal)) ** 2
        return max(
            goal.weights, key=lambda gear: pull[self.place[gear]] / (1 + spells.get(gear, 0))
        )

    def spared(
        self, planned: Mapping[str, Sequence[Goal]], spells: Mapping[int, int]
    ) -> dict[int, int]:
        """Return the spells without those that every planned claim can do without."""
        kept = dict(spells)
        for gear in sorted(kept, key=lambda gear: -kept[gear]):
            least = FIRST_SPELLS if self.unridden[self.place[gear]] else 0
            while kept.get(gear, 0) > least:
                fewer = {one: count - (one == gear) for one, count in kept.items()}
                fewer = {one: count for one, count in fewer.items() if count}
                if not all(self.decided(found, fewer) for found in planned.values()):
                    break
                kept = fewer
        return kept

    def _weights(self, goal: Goal) -> Floats:
        weights = np.zeros(len(self.numbers))
        for gear, weight in goal.weights.items():
            weights[self.place[gear]] = weight
        return weights


def _share(bias: Floats, covariance: Floats) -> float:
    """Return how much of a bias a covariance can hold, 1 for all of it.

    The bias is that of the worst rides. Where others, without any, weigh more, little of it is left
    in what is known, and to take all of it out would leave variances below 0.
    """
    known = np.linalg.pinv(covariance, hermitian=True)
    most = float(np.linalg.eigvalsh(bias[:, None] * known * bias).max(initial=0.0))
    return 1.0 if most < 1.0 else sqrt(0.5 / most)


def plan_rows(ride: Ride, evidence: Evidence) -> pl.DataFrame:
    """Return ``PLAN_SCHEMA`` for one vehicle, gears in order."""
    rows = []
    for gear, spells in sorted(ride.spells.items()):
        slow, fast, low_rpm, high_rpm = pace(gear, evidence)
        named = [claim for claim, gears in ride.decides.items() if gear in gears]
        seconds = spells * SPELL_S
        is_known = evidence.wheel is not None
        rows.append(
            {
                "vehicle": evidence.vehicle,
                "gear": gear,
                "seconds": seconds,
                "spells": spells,
                "speed_low_mps": slow if is_known else None,
                "speed_high_mps": fast if is_known else None,
                "cadence_low_rpm": low_rpm,
                "cadence_high_rpm": high_rpm,
                "claims": ", ".join(named),
                "instruction": _instruction(gear, spells, low_rpm, high_rpm),
            }
        )
    return pl.DataFrame(rows, schema=PLAN_SCHEMA)


def _instruction(gear: int, spells: int, low_rpm: float, high_rpm: float) -> str:
    times = "once" if spells == 1 else f"{spells} times"
    return (
        f"gear {gear}: {times} {SPELL_S:.0f} s of steady pedalling at {low_rpm:.0f} to "
        f"{high_rpm:.0f} rpm; between two of them change gear or rest"
    )
