"""Observations and a ladder -> the engaged gear at every sample, by a hidden Markov model.

The state is (mode, selected gear): the selected gear stays while the freewheel runs, and decoupled
development lies above the gear's, never below. Posterior probabilities come from the
forward-backward recursion of ``recursion``, for any recording interval.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ridelab.gears.observations import GAP_S
from ridelab.gears.recursion import Transitions, forward_backward, transitions

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from ridelab.gears.noise import Noise
    from ridelab.gears.observations import Flags, Floats, Observations


@dataclass(frozen=True)
class Habits:
    """How often things happen, per second, and how far a shift goes. Orders of magnitude suffice.

    Attributes:
        shift_hz: shifts; a rider shifts about twice a minute.
        reach: size of a shift in ln(ratio); a jump of this size is 1/e as likely as a tiny one.
        rates_hz: from mode (row) to mode (column) without a shift, in the order of ``MODES``:
            pedalling lasts tens of seconds, coasting and soft pedalling some seconds, a change of
            either most of a second.
        shifting: from mode to mode with a shift, in multiples of ``shift_hz``.
        excess: mean of ln(development) above the gear's while the crank turns decoupled.
        stray: share of samples that nothing here explains (sensor errors).
    """

    shift_hz: float = 1.0 / 30.0
    reach: float = 0.15
    rates_hz: tuple[tuple[float, ...], ...] = (
        (0.0, 1.0 / 60.0, 1.0 / 40.0, 0.0, 1.0 / 900.0),
        (1.0 / 10.0, 0.0, 1.0 / 10.0, 1.0 / 10.0, 0.0),
        (1.0 / 16.0, 1.0 / 25.0, 0.0, 1.0 / 16.0, 0.0),
        (1.0 / 0.8, 1.0 / 20.0, 1.0 / 20.0, 0.0, 0.0),
        (1.0 / 6.0, 0.0, 1.0 / 60.0, 0.0, 0.0),
    )
    shifting: tuple[tuple[float, ...], ...] = (
        (0.0, 0.0, 0.0, 1.0, 0.0),
        (0.0, 1.0, 0.0, 0.0, 0.0),
        (0.0, 0.0, 1.0, 0.0, 0.0),
        (0.0, 0.0, 0.0, 6.0, 0.0),
        (0.0, 0.0, 0.0, 0.0, 1.0),
    )
    excess: float = 0.25
    stray: float = 0.01


#: What the crank does: it drives the wheel; it turns, too slowly to drive; it stands; it changes
#: over, in a shift or taking up again; what it does the cadence sensor does not tell.
MODES = ("coupled", "soft", "coasting", "changing", "astray")
#: Density of a stray value per unit of ln(development): uniform over a factor of e^2.5.
STRAY_DENSITY = 0.4
#: Probability of a crank that stands in each mode; in the first two only by an error of the sensor.
STANDING = (1e-4, 3e-3, 0.98, 0.1, 0.1)
#: Soft pedalling is smooth: from one second to the next ln(development) changes by about this much,
#: in this share of the samples.
SMOOTH_SD, SMOOTH_SHARE = 0.05, 0.5
#: While a shift is under way, or a crank takes up again, a sample is a mean of before and after: it
#: lies about this far from the gear, or, in this share, anywhere.
BETWEEN_SD, ANYWHERE = 0.10, 0.2
#: A contact that bounces counts a turn twice, a magnet that passes unnoticed makes two turns one:
#: shares of the samples of a sensor gone astray, their place, and their spread.
DOUBLED, MISSED, MISCOUNT_SD = 0.3, 0.15, 0.05
#: Probability of what a power meter says (1 drive, 0 none) in each mode. It is late by a second or
#: so, and a crank turned without load still weighs a little.
DRIVE = {1.0: (0.9, 0.2, 0.1, 0.5, 0.7), 0.0: (0.05, 0.5, 0.8, 0.3, 0.2)}
#: A sample is called coupled only if it is four times as likely as not: a second without drive that
#: counts as driven spoils a gear, one too few of many costs nothing.
SURE_COUPLED = 0.8
#: Degrees of freedom of a coupled residual: heavier tails than the normal distribution.
TAIL_DOF = 5.0


@dataclass(frozen=True)
class Decoded:
    """The engaged gear of one ride; arrays have one entry a sample.

    Attributes:
        gear: index of the most probable gear, 0 = lowest.
        gear_probability: its posterior probability.
        coupled_probability: posterior probability that the crank drove the wheel in that gear.
        residual: ln(development) over the gear's; nan where undefined.
        log_likelihood: of all samples, whatever gears were engaged; natural logarithm.
    """

    gear: NDArray[np.int64]
    gear_probability: Floats
    coupled_probability: Floats
    residual: Floats
    log_likelihood: float

    @property
    def coupled(self) -> Flags:
        """Whether the crank surely drove the wheel."""
        return self.coupled_probability > SURE_COUPLED


def decode(
    seen: Observations,
    ln_developments: Floats,
    noise: Noise | None = None,
    habits: Habits | None = None,
    driven: Floats | None = None,
    members: Floats | None = None,
) -> Decoded:
    """Return the engaged gear at every sample of a ride.

    ``ln_developments``: of each gear, this ride's own, lowest first; ``noise``: beside the causes
    known beforehand, default the ride's own estimate; ``driven``: evidence that the crank drove,
    ln(likelihood ratio) at each sample, beside what cadence and power say; ``members``: where the
    combinations that share a gear lie beside it, see ``Rungs``.
    """
    habits, noise = habits or Habits(), noise or seen.noise
    sigma = seen.total_sigma(noise)
    beside = np.zeros((1, len(ln_developments))) if members is None else members
    emission = _emission(seen, ln_developments, sigma, habits, beside)
    if driven is not None:
        emission[:, 0] *= np.exp(driven)[:, None]
        emission[:, 3:] *= np.exp(0.5 * driven)[:, None, None]
    stay = _stay(seen, ln_developments, sigma, noise.memory, habits, beside)
    moves = _transitions(seen, ln_developments, habits)
    posterior = forward_backward(emission, moves, stay)
    by_mode = posterior.states
    by_gear = by_mode.sum(axis=1)
    gear = by_gear.argmax(axis=1)
    rows = np.arange(len(gear))
    probability = by_gear[rows, gear]
    residual = seen.ln_development - ln_developments[gear]
    coupled = by_mode[rows, 0, gear] / probability
    return Decoded(
        gear=gear,
        gear_probability=probability,
        coupled_probability=coupled * _on_gear(residual, sigma, habits),
        residual=residual,
        log_likelihood=posterior.log_likelihood,
    )


def _on_gear(residual: Floats, sigma: Floats, habits: Habits) -> Floats:
    """Return the probability that a coupled sample is no stray: 1 where there is no development.

    A stray value interrupts no spell of pedalling, and yet tells of no gear that drove the wheel.
    """
    core = (1 - habits.stray) * student(residual / sigma) / sigma
    known = np.isfinite(residual)
    return np.where(known, core / (core + habits.stray * STRAY_DENSITY), 1.0)


def _emission(
    seen: Observations, ln_developments: Floats, sigma: Floats, habits: Habits, members: Floats
) -> Floats:
    """Return the likelihood of each sample in each state: (samples, modes, gears)."""
    samples, count = len(seen.t_s), len(ln_developments)
    by_mode = np.ones((samples, len(MODES), count))
    by_mode[seen.standing] = np.array(STANDING)[:, None]
    held = seen.held > 0
    by_mode[held] = 1.0 - seen.held[held, None, None]
    by_mode[held, 2] = seen.held[held, None]
    known = np.isfinite(seen.ln_development)
    excess = seen.ln_development[known, None] - ln_developments
    spread = sigma[known, None]
    core = np.mean([student((excess - off) / spread) for off in members], axis=0) / spread
    stray = habits.stray * STRAY_DENSITY
    by_mode[known, 0] = (1.0 - habits.stray) * core + stray
    by_mode[known, 1] = (1.0 - habits.stray) * _soft(seen, known, excess, spread, habits) + stray
    by_mode[known, 2] = stray
    by_mode[known, 3] = _between(excess, spread)
    by_mode[known, 4] = _miscounted(excess, spread)
    for said, likelihood in DRIVE.items():
        by_mode[seen.drive == said] *= np.array(likelihood)[:, None]
    return by_mode


def _stay(
    seen: Observations,
    ln_developments: Floats,
    sigma: Floats,
    memory: float,
    habits: Habits,
    members: Floats,
) -> Floats | None:
    """Return by how much likelier a sample is if the crank drove in this gear a second ago, too.

    Errors last: what the speed was off by then, it is still off by in part (a first-order
    autoregression). Without that, ten seconds of one error count as ten witnesses for a wrong gear.
    (samples, gears); None where errors do not last.
    """
    if memory <= 0.0:
        return None
    before = np.concatenate([[np.nan], seen.ln_development[:-1]])
    before[seen.gap_before] = np.nan
    spread_before = np.concatenate([sigma[:1], sigma[:-1]])
    known = np.flatnonzero(np.isfinite(seen.ln_development) & np.isfinite(before))
    spread = sigma[known, None]
    lasting = (memory ** np.diff(seen.t_s, prepend=seen.t_s[0] - 1.0)[known])[:, None]
    left = np.sqrt(1.0 - lasting**2)
    shape = (len(known), len(ln_developments))
    alone, after, weight = np.zeros(shape), np.zeros(shape), np.zeros(shape)
    for off in members:
        z = (seen.ln_development[known, None] - ln_developments - off) / spread
        then = (before[known, None] - ln_developments - off) / spread_before[known, None]
        # what looks like a stray tells nothing of the error that lasts
        expected = lasting * then / (1.0 + then**2 / (4.0 * TAIL_DOF))
        was = student(then)
        alone += student(z) / len(members)
        after += was * student((z - expected) / left) / left
        weight += was
    stray, core = habits.stray * STRAY_DENSITY, (1.0 - habits.stray) / spread
    factor = np.ones((len(seen.t_s), len(ln_developments)))
    factor[known] = (core * after / weight + stray) / (core * alone + stray)
    return factor


def _between(excess: Floats, spread: Floats) -> Floats:
    """Return the density of a development while the crank changes over."""
    return (1.0 - ANYWHERE) * _normal(excess, np.hypot(BETWEEN_SD, spread)) + (
        ANYWHERE * STRAY_DENSITY
    )


def _miscounted(excess: Floats, spread: Floats) -> Floats:
    """Return the density of a development from a cadence sensor gone astray."""
    sd = np.hypot(MISCOUNT_SD, spread)
    doubled = DOUBLED * _normal(excess + np.log(2.0), sd)
    missed = MISSED * _normal(excess - np.log(2.0), sd)
    return np.asarray(doubled + missed + (1.0 - DOUBLED - MISSED) * STRAY_DENSITY)


def _normal(off: Floats, sd: Floats) -> Floats:
    return np.asarray(np.exp(-0.5 * (off / sd) ** 2) / (np.sqrt(2.0 * np.pi) * sd))


def _soft(
    seen: Observations, known: Flags, excess: Floats, spread: Floats, habits: Habits
) -> Floats:
    """Return the density of a development while the crank turns decoupled.

    It lies above the gear's, and mostly near the one of the sample before, if there is one.
    """
    from scipy.special import ndtr

    anywhere = _above(excess, spread, habits.excess)
    before = np.concatenate([[np.nan], seen.ln_development[:-1]])
    before[seen.gap_before] = np.nan
    change = (seen.ln_development - before)[known, None]
    sd = np.hypot(SMOOTH_SD, spread)
    near = _normal(change, sd) * ndtr(excess / spread)
    smooth = SMOOTH_SHARE * near + (1.0 - SMOOTH_SHARE) * anywhere
    return np.where(np.isfinite(change), smooth, anywhere)


def student(z: Floats) -> Floats:
    """Return the density of Student's t with ``TAIL_DOF`` degrees of freedom."""
    from math import gamma, pi, sqrt

    nu = TAIL_DOF
    height = gamma((nu + 1) / 2) / gamma(nu / 2) / sqrt(nu * pi)
    base = 1 + z * z / nu
    # -(nu + 1) / 2 = -3, by products: a power takes ten times as long.
    return np.asarray(height / (base * base * base))


def _above(excess: Floats, sigma: Floats, mean: float) -> Floats:
    """Return the density of an exponential excess of the given mean, blurred by normal noise.

    The exponentially modified normal distribution; the normal tail is taken by the scaled
    complementary error function, which does not underflow.
    """
    from scipy.special import erfcx

    rate = 1.0 / mean
    z = (rate * sigma - excess / sigma) / np.sqrt(2.0)
    near = z > -5.0
    scaled = np.exp(-0.5 * (excess / sigma) ** 2) * erfcx(np.where(near, z, 0.0))
    far = 2.0 * np.exp(rate * (0.5 * rate * sigma**2 - excess))
    return np.asarray(0.5 * rate * np.where(near, scaled, far))


def _shift_rates(ln_developments: Floats, habits: Habits) -> Floats:
    """Return the rates from gear to gear, per second; rows sum to zero."""
    distance = np.abs(ln_developments[:, None] - ln_developments)
    shift = np.exp(-distance / habits.reach)
    np.fill_diagonal(shift, 0.0)
    total = shift.sum(axis=1, keepdims=True)
    shift = habits.shift_hz * np.divide(shift, total, out=np.zeros_like(shift), where=total > 0)
    return np.asarray(shift - np.diag(shift.sum(axis=1)))


def _transitions(seen: Observations, ln_developments: Floats, habits: Habits) -> Transitions:
    quiet, shifting = np.array(habits.rates_hz), habits.shift_hz * np.array(habits.shifting)
    quiet -= np.diag(quiet.sum(axis=1) + shifting.sum(axis=1))
    gears = _shift_rates(ln_developments, habits)
    return transitions(seen.t_s, quiet, shifting, gears, 2.0 * GAP_S)
