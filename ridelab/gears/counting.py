"""Steady stretches -> how many gears were ridden, where they are, and how surely.

For every number of gears a mixture is fitted (``gear_mixture``), and the fits are compared by their
evidence. Hence a probability for the count, and a gear too many costs what it should: it must be
somewhere.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ridelab.drivetrain.ladder import MERGE_WITHIN
from ridelab.gears.gear_mixture import (
    CLOSEST,
    CONSTANT,
    FACTOR,
    REACH,
    Guess,
    Pieces,
    improved,
    log_evidence,
    members,
    pieces_of,
    seconds_in,
    sigma_of,
)
from ridelab.gears.ladder import LEAST_S

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ridelab.gears.observations import Flags, Floats
    from ridelab.gears.stretches import Stretches

#: Numbers of gears less probable than this are not kept; than this not told of as possible; a count
#: less probable than this is told of as doubtful.
LEAST_PROBABILITY, POSSIBLE, SURE_COUNT = 0.005, 0.05, 0.9
#: Standard deviations over which a piece of evidence adds to the density, and logarithm of the
#: quotient of widths that count as one.
KERNEL_REACH, LIKE_WIDTHS = 6.0, 0.1


@dataclass(frozen=True)
class Count:
    """The most probable number of gears; ``centres`` are their ln(development), lowest first.

    ``seconds``: of steady riding in each; ``probabilities``: of each number of gears that keeps
    some, the most probable first.
    """

    centres: Floats
    seconds: Floats
    probabilities: dict[int, float]


def count_gears(stretches: Stretches, among: Flags | None = None) -> Count | None:
    """Return the gears that the stretches show, or None if they show none.

    ``among``: only these of the stretches count; the others tell whether those were soft pedalling.
    """
    pieces = pieces_of(stretches, np.ones(len(stretches), dtype=bool) if among is None else among)
    if len(pieces.y) == 0:
        return None
    fits = _fits(pieces)
    guesses, evidence = list(fits), np.array(list(fits.values()))
    if len(fits) == 0 or evidence.max() < pieces.weight @ np.log(pieces.loose / REACH):
        return None
    probability = np.exp(evidence - evidence.max())
    probability /= probability.sum()
    best = guesses[int(evidence.argmax())]
    told = {
        len(guesses[i].centres): float(probability[i])
        for i in np.argsort(-probability)
        if probability[i] >= LEAST_PROBABILITY
    }
    return Count(best.centres, seconds_in(pieces, best), told)


def doubt(told: int, probabilities: Mapping[int, float]) -> str | None:
    """Say what other numbers of gears are possible where the one that is told is not sure."""
    sure = probabilities.get(told, 0.0)
    if sure >= SURE_COUNT:
        return None
    others = [f"{n}" for n, p in sorted(probabilities.items()) if n != told and p >= POSSIBLE]
    besides = f"{' or '.join(others)} possible, too" if others else "others possible"
    return (
        f"the number of gears is not sure: {told} found (probability {sure:.0%}), {besides}; ride "
        "each gear steadily for a minute, more than once"
    )


def _fits(pieces: Pieces) -> dict[Guess, float]:
    """Return the best fit for each number of gears with its log evidence.

    Gears are taken away from the most that may be there to one; then the best fit is given one more
    for as long as that is better.
    """
    found: dict[int, tuple[float, Guess]] = {}

    def consider(guess: Guess) -> bool:
        if seconds_in(pieces, guess).min() < LEAST_S:
            return False
        evidence, count = log_evidence(pieces, guess), len(guess.centres)
        if count in found and found[count][0] >= evidence:
            return False
        found[count] = evidence, guess
        return True

    guess = _fit_to_be_gears(pieces, improved(pieces, _peaks(pieces), 20))
    consider(guess)
    while len(guess.centres) > 1:
        guess = _fit_to_be_gears(pieces, improved(pieces, _fewer(pieces, guess), 6))
        consider(guess)
    while found:
        _, best = max(found.values(), key=lambda fit: fit[0])
        if not consider(_more(pieces, best)):
            break
    return {guess: evidence for evidence, guess in found.values()}


def _fit_to_be_gears(pieces: Pieces, guess: Guess) -> Guess:
    """Take gears away until none is too close to another, and none was ridden too briefly."""
    while len(guess.centres) > 1:
        steps, seconds = np.diff(guess.centres), seconds_in(pieces, guess)
        if steps.min() < CLOSEST:
            fewer = guess.joined(int(steps.argmin()))
        elif seconds.min() < LEAST_S:
            fewer = guess.without(int(seconds.argmin()))
        else:
            break
        guess = improved(pieces, fewer, 6)
    return guess


def _peaks(pieces: Pieces) -> Guess:
    """Return the local maxima of the density, narrowly blurred: gears, and more."""
    from scipy.ndimage import gaussian_filter1d
    from scipy.signal import find_peaks

    bin_width = 0.001
    grid = np.arange(pieces.y.min() - 0.05, pieces.y.max() + 0.05, bin_width)
    width = 0.7 * np.hypot(pieces.sd, np.exp(CONSTANT))
    # Pieces of like width are blurred together: a peak is where a search begins, no more.
    level = np.round(np.log(width) / LIKE_WIDTHS).astype(np.int64)
    place = np.round((pieces.y - grid[0]) / bin_width).astype(np.int64)
    density = np.zeros(len(grid))
    for one in np.unique(level):
        own = level == one
        sd = float(np.exp(one * LIKE_WIDTHS)) / bin_width
        laid = np.bincount(place[own], pieces.weight[own], len(grid))
        density += gaussian_filter1d(laid, sd, mode="constant", truncate=KERNEL_REACH)
    at, _ = find_peaks(density, distance=round(MERGE_WITHIN / bin_width))
    shares = np.full(len(at), 1.0 / len(at))
    return Guess(grid[at], shares, float(np.exp(CONSTANT)), float(np.exp(FACTOR)))


def _fewer(pieces: Pieces, guess: Guess) -> Guess:
    """Return the best fit with one gear less: a weak one left out, or two close ones joined."""
    member, _ = members(pieces, guess)
    weakest = np.argsort(member.sum(axis=0))[:3]
    closest = np.argsort(np.diff(guess.centres))[:3]
    tried = [guess.without(int(gear)) for gear in weakest]
    tried += [guess.joined(int(gear)) for gear in closest]
    settled = [improved(pieces, one, 4) for one in tried]
    return max(settled, key=lambda one: log_evidence(pieces, one))


def _more(pieces: Pieces, guess: Guess) -> Guess:
    """Return the best fit with one gear more: one that is split in two.

    Two that would fall into one are held as close as two gears may be, to see how probable they
    are there.
    """
    sigma = np.median(sigma_of(pieces, guess))
    apart = max(2.0 * float(sigma), 1.2 * CLOSEST)
    tried = [guess.split(gear, apart) for gear in range(len(guess.centres))]
    settled = [improved(pieces, one, 10).parted() for one in tried]
    return max(settled, key=lambda one: log_evidence(pieces, one))
