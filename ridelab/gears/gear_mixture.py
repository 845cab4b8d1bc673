"""Steady stretches as a mixture of a given number of gears, and its evidence.

In its gear a stretch is Student's t, with an error of its own; it may also be in none. Fitted by
expectation maximisation (Dempster, Laird and Rubin 1977; Lange, Little and Taylor 1989 for t). The
evidence is the probability of the stretches if nothing but the number of gears is given, integrated
by Laplace's approximation (MacKay 2003, "Information theory, inference, and learning algorithms",
chapters 27 and 28).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from ridelab.drivetrain.ladder import MERGE_WITHIN
from ridelab.gears.decode import TAIL_DOF, Habits
from ridelab.gears.mixture import ONE_PIECE_S

if TYPE_CHECKING:
    from ridelab.gears.observations import Flags, Floats
    from ridelab.gears.stretches import Stretches

#: Within one hold errors last: after its first piece, it takes this long for the next one.
MEMORY_S = 40.0
#: All within this of ln(development) count for no more pieces than about so many.
ONE_PLACE, MOST_PIECES = 0.05, 30.0
#: The share of holds in which the crank does not drive: of brief ones that lie above the hold
#: before and the one after, as soft pedalling does; of other brief ones (the seconds around a
#: shift); how long such holds last; and what is left of long ones.
LOOSE_ABOVE, LOOSE_OTHER, LOOSE_S, LOOSE_ALWAYS = 0.9, 0.1, 12.0, 0.01
#: Developments of all vehicles lie within so much of each other in the logarithm (1 to 12 m).
REACH = 2.5
#: Before the rides speak: 95 % of the mean steps of ladders lie between 3 and 60 %;
STEP, STEP_SD = float(np.log(0.12)), 0.7
#: steps of one ladder are alike within these standard deviations of their logarithm, the former of
#: most ladders, the latter of those of two stages, or of which not every gear is ridden;
ALIKE_SD, ALIKE_SHARE = (0.4, 0.9), (0.7, 0.3)
#: stretches in one gear scatter by about 0.3 % (tyre, temperature, load) beside their own errors,
CONSTANTS = np.array([0.001, 0.0015, 0.0022, 0.0033, 0.005, 0.007, 0.01])
CONSTANT, CONSTANT_SD = float(np.log(0.003)), 0.7
#: which are about 1.3 times what they show: an error that outlasts a stretch shows a part of it.
FACTORS = np.array([1.0, 1.3, 1.7, 2.2])
FACTOR, FACTOR_SD = float(np.log(1.3)), 0.35
#: Prior number of pieces of evidence in each gear (Jeffreys).
PRIOR_PIECES = 0.5
#: Gears closer than this are one.
CLOSEST = float(np.log1p(MERGE_WITHIN))


@dataclass(frozen=True)
class Pieces:
    """Stretches as evidence; ``weight``: how many pieces each is, ``loose``: prior of no gear."""

    y: Floats
    sd: Floats
    seconds: Floats
    weight: Floats
    loose: Floats


@dataclass(frozen=True, eq=False)
class Guess:
    """Gears, lowest first, and the spread of stretches around them."""

    centres: Floats
    shares: Floats
    constant: float
    factor: float

    def without(self, gear: int) -> Guess:
        """Return the same without a gear."""
        shares = np.delete(self.shares, gear)
        return Guess(
            np.delete(self.centres, gear), shares / shares.sum(), self.constant, self.factor
        )

    def split(self, gear: int, apart: float) -> Guess:
        """Return the same with a gear made two that are so far apart."""
        ends = self.centres[gear] + np.array([-0.5, 0.5]) * apart
        centres = np.insert(np.delete(self.centres, gear), gear, ends)
        half = np.full(2, 0.5 * self.shares[gear])
        shares = np.insert(np.delete(self.shares, gear), gear, half)
        return Guess(centres, shares, self.constant, self.factor)

    def parted(self) -> Guess:
        """Return the same with the closest two at least ``CLOSEST`` apart."""
        steps = np.diff(self.centres)
        gear = int(steps.argmin())
        if steps[gear] >= CLOSEST:
            return self
        centres = self.centres.copy()
        centres[gear : gear + 2] += np.array([-0.5, 0.5]) * (1.001 * CLOSEST - steps[gear])
        return replace(self, centres=centres)

    def joined(self, gear: int) -> Guess:
        """Return the same with a gear and the one above it made one."""
        both = self.shares[gear : gear + 2]
        fewer = self.without(gear)
        centres, shares = fewer.centres.copy(), fewer.shares.copy()
        centres[gear] = float((both * self.centres[gear : gear + 2]).sum() / both.sum())
        shares[gear] = float(both.sum())
        return Guess(centres, shares / shares.sum(), self.constant, self.factor)


def evidence_weights(stretches: Stretches) -> Floats:
    """Return how many pieces of evidence each stretch is: those of one hold share their errors."""
    held_s = np.bincount(stretches.hold, stretches.seconds)[stretches.hold]
    of_hold = np.minimum(1.0, held_s / ONE_PIECE_S) + held_s / MEMORY_S
    return np.asarray(stretches.seconds / held_s * of_hold)


def pieces_of(stretches: Stretches, among: Flags) -> Pieces:
    """Return some of the stretches as evidence; all of them tell which were soft pedalling."""
    numbers, hold = np.unique(stretches.hold, return_inverse=True)
    held_s = np.bincount(hold, stretches.seconds)
    y = np.bincount(hold, stretches.seconds * stretches.ln_development) / held_s
    next_too = np.diff(numbers) == 1
    before = np.append(-np.inf, np.where(next_too, y[:-1], -np.inf))
    after = np.append(np.where(next_too, y[1:], -np.inf), -np.inf)
    brief = np.where(y > np.maximum(before, after), LOOSE_ABOVE, LOOSE_OTHER)
    loose = LOOSE_ALWAYS + brief * np.exp(-((held_s / LOOSE_S) ** 2))
    return Pieces(
        stretches.ln_development[among],
        stretches.sd[among],
        stretches.seconds[among],
        _saturated(stretches.ln_development, evidence_weights(stretches))[among],
        loose[hold][among],
    )


def _saturated(y: Floats, weight: Floats) -> Floats:
    """Return the weights, less where much was ridden at one place.

    Stretches in one gear are not quite as the mixture has it, and however long it was ridden, the
    shape of their distribution tells of no second gear (a coarsened likelihood; Miller and Dunson
    2019).
    """
    order = np.argsort(y, kind="stable")
    before = np.concatenate([[0.0], np.cumsum(weight[order])])
    low, high = (np.searchsorted(y[order], y + side * ONE_PLACE) for side in (-1.0, 1.0))
    return np.asarray(weight / (1.0 + (before[high] - before[low]) / MOST_PIECES))


def sigma_of(pieces: Pieces, guess: Guess) -> Floats:
    """Return how far each stretch scatters around its gear."""
    return np.asarray(np.hypot(guess.constant, guess.factor * pieces.sd))


def members(pieces: Pieces, guess: Guess) -> tuple[Floats, Floats]:
    """Return the pieces of evidence of each stretch in each gear, and each one's log density.

    In its gear a stretch is Student's t. Otherwise it lies anywhere, or above its gear, as soft
    pedalling does.
    """
    sigma = sigma_of(pieces, guess)[:, None]
    excess = pieces.y[:, None] - guess.centres
    core = _HEIGHT / sigma * (1.0 + (excess / sigma) ** 2 / TAIL_DOF) ** (-0.5 * (TAIL_DOF + 1.0))
    density = (1.0 - pieces.loose)[:, None] * guess.shares * core
    soft = np.exp(-np.maximum(excess, 0.0) / Habits.excess) / Habits.excess * (excess > 0)
    loose = 0.5 / REACH + 0.5 * soft @ guess.shares
    total = density.sum(axis=1) + pieces.loose * loose
    return np.asarray((pieces.weight / total)[:, None] * density), np.log(total)


def _height() -> float:
    from math import gamma, pi, sqrt

    return gamma((TAIL_DOF + 1.0) / 2.0) / gamma(TAIL_DOF / 2.0) / sqrt(TAIL_DOF * pi)


_HEIGHT = _height()


def seconds_in(pieces: Pieces, guess: Guess) -> Floats:
    """Return the seconds of steady riding in each gear."""
    member, _ = members(pieces, guess)
    return np.asarray((pieces.seconds / pieces.weight) @ member)


def improved(pieces: Pieces, guess: Guess, rounds: int) -> Guess:
    """Return the guess after some rounds of expectation maximisation (Lange et al. 1989 for t)."""
    for _ in range(rounds):
        member, _ = members(pieces, guess)
        sigma = sigma_of(pieces, guess)[:, None]
        off2 = (pieces.y[:, None] - guess.centres) ** 2
        pull = member * (TAIL_DOF + 1.0) / (TAIL_DOF + off2 / sigma**2)
        precision = pull / sigma**2
        total = precision.sum(axis=0)
        moved = (precision * pieces.y[:, None]).sum(axis=0) / np.maximum(total, 1e-12)
        centres = np.where(total > 0, moved, guess.centres)
        shares = member.sum(axis=0) + PRIOR_PIECES
        off2 = (pieces.y[:, None] - centres) ** 2
        constant, factor = _spread(pieces, member.sum(axis=1), (pull * off2).sum(axis=1))
        order = np.argsort(centres)
        guess = Guess(centres[order], (shares / shares.sum())[order], constant, factor)
    return guess


def _spread(pieces: Pieces, inside: Floats, square: Floats) -> tuple[float, float]:
    """Return the most probable spread, given each stretch's share in gears and squared distance."""
    variance = CONSTANTS[:, None, None] ** 2 + (FACTORS[:, None] * pieces.sd) ** 2
    likelihood = -0.5 * (inside * np.log(variance) + square / variance).sum(axis=2)
    belief = _spread_belief(CONSTANTS[:, None], FACTORS)
    best = np.unravel_index(int((likelihood + belief).argmax()), belief.shape)
    return float(CONSTANTS[best[0]]), float(FACTORS[best[1]])


def _spread_belief(constant: Floats | float, factor: Floats | float) -> Floats:
    one = (np.log(constant) - CONSTANT) / CONSTANT_SD
    other = (np.log(factor) - FACTOR) / FACTOR_SD
    return np.asarray(-0.5 * (one**2 + other**2))


def log_evidence(pieces: Pieces, guess: Guess) -> float:
    """Return the log probability of the stretches for this number of gears, up to a constant.

    The centres are integrated over by Laplace's approximation, the shares exactly, given what
    belongs to each gear (Dirichlet); the spread is taken where it is most probable.
    """
    from scipy.special import gammaln

    member, log_density = members(pieces, guess)
    inside = member.sum(axis=0)
    count, some = len(inside), PRIOR_PIECES
    shared = gammaln(count * some) - gammaln(inside.sum() + count * some)
    shared += (gammaln(inside + some) - gammaln(some) - inside * np.log(guess.shares)).sum()
    known = (TAIL_DOF + 1.0) / (TAIL_DOF + 3.0) / sigma_of(pieces, guess) ** 2
    placed = 0.5 * np.log(2.0 * np.pi / (known @ member + REACH**-2)).sum() - np.log(REACH)
    belief = float(_spread_belief(guess.constant, guess.factor)) + ladder_belief(guess.centres)
    return float(pieces.weight @ log_density) + float(shared + placed) + belief


def ladder_belief(centres: Floats) -> float:
    """Return the log prior density of a ladder, given its lowest gear.

    Logarithms of steps are normal around a mean that is normal itself, so jointly normal; the
    determinant and the inverse are those of a diagonal and a constant matrix.
    """
    steps = np.diff(centres)
    if len(steps) == 0:
        return 0.0
    if steps.min() < CLOSEST:
        return -np.inf
    off, count = np.log(steps) - STEP, len(steps)
    beliefs = []
    for sd, share in zip(ALIKE_SD, ALIKE_SHARE, strict=True):
        grown = sd**2 + count * STEP_SD**2
        square = ((off**2).sum() - STEP_SD**2 * off.sum() ** 2 / grown) / sd**2
        log_determinant = 2.0 * (count - 1) * np.log(sd) + np.log(grown)
        beliefs.append(
            np.log(share) - 0.5 * (square + log_determinant + count * np.log(2.0 * np.pi))
        )
    return float(np.logaddexp(*beliefs) - np.log(steps).sum())
