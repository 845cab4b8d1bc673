"""Steady stretches and a published ladder -> where its gears are, and what does not fit it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ridelab.gears.counting import count_gears
from ridelab.gears.departures import Published, places
from ridelab.gears.discover import gathers
from ridelab.gears.ladder import LEAST_S, NoLadder, Rungs
from ridelab.gears.mixture import Anchor, Mixture, gathered, settle
from ridelab.gears.placement import Placement, half_a_step, offsets, place
from ridelab.gears.stretches import pooled

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from ridelab.drivetrain.ladder import Ladder
    from ridelab.gears.ladder import Stated
    from ridelab.gears.observations import Flags, Floats
    from ridelab.gears.stretches import Stretches

#: A common factor on the steps is told of from this far from 1 on.
FACTOR_TOLD = 0.02
#: A gear departs from its published ratio by about this much before the rides speak.
DEPARTURE_SD = 0.01
#: Ladders placed within this of each other settle alike.
SAME_PLACE = 0.006
#: So many gears are looked for beyond either end of the ladder as placed first.
MOST_BEYOND = 3
#: Stretches further than this from every gear, in ln(development), belong to none.
ASTRAY = 0.012
#: Further than this is unexplained in any case.
FURTHEST_ASTRAY = 0.025
#: That many seconds of them at one place are a gear of the published ladder if an unridden one is
#: this near and no other lies between;
STRANGER_S = 20.0
FURTHEST_DEPARTURE = 0.10
#: that many are a gear that nobody published. Soft pedalling, too, can hold still for a while.
STRANGER_TOLD_S = 60.0
#: Told of as well: that so much of the steady pedalling fits no published gear.
MOST_UNEXPLAINED = 0.25
#: Above this, riding that gathers nowhere is taken for a stepless drivetrain's.
WITHOUT_STEPS = 0.4


@dataclass(frozen=True)
class Matched:
    """Ladders in use for each place where a published one may sit, the most probable first.

    ``shifts``: by how much each ride is offset, ln(wheel of the ride over the wheel of all).
    """

    ladders: tuple[Rungs, ...]
    shifts: Floats


def match(parts: Sequence[Stretches], published: Ladder, stated: Stated) -> Matched | NoLadder:
    """Place a published ladder on the steady stretches of each ride.

    One scale is found first, then a small departure of each gear from its published ratio. Steady
    riding far from every gear moves an unridden neighbour there, or becomes a gear of its own,
    numbered above the published ones.
    """
    shifts, stretches = np.zeros(len(parts)), pooled(parts)
    if len(stretches) == 0:
        return NoLadder("no steady pedalling: the published ladder cannot be placed")
    placed = place(stretches, np.log(np.array(published.ratios)), stated)
    shifts = offsets(parts, placed) if len(parts) > 1 else shifts
    if shifts.any():
        stretches = pooled([part.shifted(by) for part, by in zip(parts, shifts, strict=True)])
        placed = place(stretches, np.log(np.array(published.ratios)), stated)
    ladders = _ladders(stretches, published, stated, placed)
    unexplained = ladders[0].unexplained_share or 0.0
    if unexplained > WITHOUT_STEPS and gathers(stretches) is False:
        return NoLadder(
            "the development varies without steps, though gears are published: is this the "
            "drivetrain that was ridden?",
            continuous=True,
        )
    return Matched(ladders, shifts)


def _ladders(
    stretches: Stretches, published: Ladder, stated: Stated, placed: Placement
) -> tuple[Rungs, ...]:
    """Return the ladders in use where the published one may sit; ``placed``: as published.

    Stretches gather where they do whatever the place, so that its gears, found once, tell how
    probable each place is. Gears that lie beyond its ends are among them: they may tell of another.
    """
    of_gear, beside = _combinations(published)
    ln_ratios = np.log(np.array(published.ratios))
    centres = placed.ln_developments[of_gear] + beside
    extended = _extended(stretches, centres, 2.0 * half_a_step(ln_ratios))
    there = _mixture(stretches, extended)
    both = Published(ln_ratios, np.sort(ln_ratios[of_gear] + beside))
    made = []
    for one in places(gathered(stretches, there), both, stated, placed.scatter):
        away = np.abs(one.ln_developments - placed.ln_developments).max()
        again = there if away < SAME_PLACE and len(extended) == len(centres) else None
        made.append(_ladder(stretches, published, one, again))
    return tuple(made)


def _extended(stretches: Stretches, centres: Floats, step: float) -> Floats:
    """Return the centres, and others further up and down by a step each while stretches go on."""
    y, seconds = stretches.ln_development, stretches.seconds
    low, high = [float(centres.min())], [float(centres.max())]
    while len(low) <= MOST_BEYOND and seconds[y < low[-1] - 0.5 * step].sum() > LEAST_S:
        low.append(low[-1] - step)
    while len(high) <= MOST_BEYOND and seconds[y > high[-1] + 0.5 * step].sum() > LEAST_S:
        high.append(high[-1] + step)
    return np.concatenate([low[:0:-1], centres, high[1:]])


def _mixture(stretches: Stretches, centres: Floats) -> Mixture:
    """Let every gear depart from its placement; wide at first, for those that depart far."""
    start = float(np.clip(np.diff(centres).min(initial=0.1) / 4.0, 0.004, 0.03))
    return settle(stretches, centres, start, Anchor(centres - centres[0], DEPARTURE_SD))


def _ladder(
    stretches: Stretches, published: Ladder, placed: Placement, mixture: Mixture | None
) -> Rungs:
    """Return the ladder in use if the published one sits in this place.

    ``mixture``: as settled there, if it was.
    """
    ln_ratios = np.log(np.array(published.ratios))
    centres = _settled(stretches, published, placed, mixture)
    unexplained = _unexplained(stretches, centres)
    return Rungs(
        ln_developments=centres.all,
        ln_ratios=centres.ratios(ln_ratios),
        numbers=centres.numbers,
        doubts=tuple(_doubts(placed, ln_ratios, unexplained)),
        placement_probability=placed.probability,
        unexplained_share=unexplained,
        expected=centres.expected(placed.ln_developments),
        log_prior=placed.log_prior,
        members=centres.members(published),
    )


@dataclass(frozen=True)
class _Centres:
    """ln(development) of the published gears, and of gears that nobody published, with seconds.

    ``spread``: of stretches around their gear.
    """

    gears: Floats
    strangers: tuple[tuple[float, float], ...]
    spread: float

    @property
    def _order(self) -> NDArray[np.int64]:
        return np.argsort(np.concatenate([self.gears, [at for at, _ in self.strangers]]))

    @property
    def all(self) -> Floats:
        """Return all of them, lowest first."""
        both = np.concatenate([self.gears, [at for at, _ in self.strangers]])
        return np.asarray(both[self._order], dtype=np.float64)

    @property
    def numbers(self) -> NDArray[np.int64]:
        """Return their numbers: published gears from 1, then the others."""
        return np.asarray(self._order + 1)

    def expected(self, placed: Floats) -> Floats:
        """Return where they were placed, in the order of ``all``; strangers where they are."""
        both = np.concatenate([placed, [at for at, _ in self.strangers]])
        return np.asarray(both[self._order])

    def members(self, published: Ladder) -> Floats | None:
        """Return ln of each combination's ratio over its gear's, in the order of ``all``."""
        most = max(len(gear.members) for gear in published.gears)
        if most == 1:
            return None
        of_gear = [
            np.resize(np.log(np.array(gear.members) / gear.ratio), most) for gear in published.gears
        ]
        return np.stack([*of_gear, *[np.zeros(most)] * len(self.strangers)], axis=1)[:, self._order]

    def ratios(self, ln_ratios: Floats) -> Floats:
        """Return the published ratios in the order of ``all``; nan for those not published."""
        padded = np.concatenate([ln_ratios, np.full(len(self.strangers), np.nan)])
        return np.asarray(padded[self._order])


def _settled(
    stretches: Stretches, published: Ladder, placed: Placement, mixture: Mixture | None
) -> _Centres:
    """Let every gear depart from its placement, and find a place for what fits none.

    Each combination is a place of its own: those that share a gear may lie 1.5 % apart.
    """
    of_gear, beside = _combinations(published)
    if mixture is None:
        mixture = _mixture(stretches, placed.ln_developments[of_gear] + beside)
    seconds = np.asarray(np.bincount(of_gear, mixture.seconds), dtype=np.float64)
    use = mixture.seconds + 1e-3
    centres = np.bincount(of_gear, use * (mixture.centres - beside)) / np.bincount(of_gear, use)
    strangers = []
    for at, how_long in gathered_outside(stretches, mixture.centres, mixture.spread):
        gear = _unridden_neighbour(at, centres, seconds)
        if gear is not None:
            centres[gear] = at
        elif how_long >= STRANGER_TOLD_S:
            strangers.append((at, how_long))
    return _Centres(np.sort(centres), tuple(strangers), mixture.spread)


def _combinations(published: Ladder) -> tuple[NDArray[np.int64], Floats]:
    """Return the gear, from 0, of each combination, and ln of its ratio over the gear's."""
    of_gear = [number for number, gear in enumerate(published.gears) for _ in gear.members]
    beside = [np.log(member / gear.ratio) for gear in published.gears for member in gear.members]
    return np.array(of_gear, dtype=np.int64), np.array(beside)


def _doubts(placed: Placement, ln_ratios: Floats, unexplained: float) -> list[str]:
    """Say what speaks against the published ladder."""
    said = []
    if abs(placed.factor - 1.0) >= FACTOR_TOLD:
        step = float(np.diff(ln_ratios).mean())
        said.append(
            f"the steps are {'wider' if placed.factor > 1 else 'narrower'} throughout than "
            f"published: {np.expm1(placed.factor * step):.1%} on average instead of "
            f"{np.expm1(step):.1%}"
        )
    if unexplained > MOST_UNEXPLAINED:
        said.append(
            f"{unexplained:.0%} of the steady pedalling fits no published gear: is this the "
            "drivetrain that was ridden?"
        )
    return said


def _astray(stretches: Stretches, centres: Floats, spread: float) -> Flags:
    off = np.abs(stretches.ln_development[:, None] - centres).min(axis=1)
    return np.asarray(off > np.maximum(ASTRAY, 4.0 * np.hypot(stretches.sd, spread)))


def _unexplained(stretches: Stretches, centres: _Centres) -> float:
    # A spread fitted to riding without gears would explain all of it.
    astray = _astray(stretches, centres.gears, min(centres.spread, 0.25 * FURTHEST_ASTRAY))
    return float(stretches.seconds[astray].sum() / stretches.seconds.sum())


def gathered_outside(
    stretches: Stretches, centres: Floats, spread: float
) -> list[tuple[float, float]]:
    """Return where stretches gather that belong to no gear: ln(development), and seconds there.

    Only a narrow gathering counts: drifting development is no gear. ``spread``: of stretches around
    their gear.
    """
    found = count_gears(stretches, _astray(stretches, centres, spread))
    if found is None:
        return []
    pairs = zip(found.centres, found.seconds, strict=True)
    return [(float(at), float(s)) for at, s in pairs if s >= STRANGER_S]


def _unridden_neighbour(at: float, centres: Floats, seconds: Floats) -> int | None:
    """Return the nearest gear that nobody else rode and that keeps its order there, if any."""
    for gear in np.argsort(np.abs(centres - at))[:2]:
        others = np.delete(centres, gear)
        keeps_order = int(np.searchsorted(others, at)) == gear
        unridden = seconds[gear] < 0.25 * STRANGER_S
        if keeps_order and unridden and abs(centres[gear] - at) < FURTHEST_DEPARTURE:
            return int(gear)
    return None
