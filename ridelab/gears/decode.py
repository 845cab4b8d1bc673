"""Observations and a ladder -> the engaged gear at every sample, by a hidden Markov model.

The state is (selected gear, coupled or decoupled): the selected gear stays while the freewheel
runs, and decoupled development lies above the gear's, never below. Posterior probabilities come
from the forward-backward recursion (Rabiner 1989, "A tutorial on hidden Markov models", section
III). The transitions are a continuous-time chain's, exp(Q dt), for any recording interval.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ridelab.gears.observations import GAP_S

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from ridelab.gears.observations import Flags, Floats, Observations


@dataclass(frozen=True)
class Habits:
    """How often things happen, per second, and how far a shift goes. Orders of magnitude suffice.

    Attributes:
        shift_hz: shifts; a rider shifts about twice a minute.
        reach: size of a shift in ln(ratio); a jump of this size is 1/e as likely as a tiny one.
        decouple_hz, couple_hz: pedalling lasts tens of seconds, a decoupled spell some seconds.
        turning: probability that the crank turns while decoupled.
        excess: mean of ln(development) above the gear's while the crank turns decoupled.
        stray: share of coupled samples that no gear explains, both sides (sensor errors).
    """

    shift_hz: float = 1.0 / 30.0
    reach: float = 0.15
    decouple_hz: float = 1.0 / 25.0
    couple_hz: float = 1.0 / 6.0
    turning: float = 0.4
    excess: float = 0.25
    stray: float = 0.01


#: Density of a stray value per unit of ln(development): uniform over a factor of e^2.5.
STRAY_DENSITY = 0.4
#: Probability of a standing crank while coupled: only by an error of the sensor.
STANDING_COUPLED = 1e-4
#: Probability that the crank stands already where the cadence before a stop repeats itself.
HELD_DECOUPLED = 0.7
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
    """

    gear: NDArray[np.int64]
    gear_probability: Floats
    coupled_probability: Floats
    residual: Floats

    @property
    def coupled(self) -> Flags:
        """Whether the crank drove the wheel."""
        return self.coupled_probability > 0.5


def decode(
    seen: Observations,
    ln_developments: Floats,
    noise: float | None = None,
    habits: Habits | None = None,
) -> Decoded:
    """Return the engaged gear at every sample of a ride.

    ``ln_developments``: of each gear, this ride's own, lowest first; ``noise``: standard deviation
    beside the causes known beforehand, default the ride's own estimate.
    """
    habits = habits or Habits()
    sigma = seen.total_sigma(noise)
    emission = _emission(seen, ln_developments, sigma, habits)
    step_of, matrices = _transitions(seen, ln_developments, habits)
    posterior = _forward_backward(emission, step_of, matrices)
    count = len(ln_developments)
    by_gear = posterior[:, :count] + posterior[:, count:]
    gear = by_gear.argmax(axis=1)
    rows = np.arange(len(gear))
    probability = by_gear[rows, gear]
    residual = seen.ln_development - ln_developments[gear]
    return Decoded(
        gear=gear,
        gear_probability=probability,
        coupled_probability=posterior[rows, gear] / probability * _on_gear(residual, sigma, habits),
        residual=residual,
    )


def _on_gear(residual: Floats, sigma: Floats, habits: Habits) -> Floats:
    """Return the probability that a coupled sample is no stray: 1 where there is no development.

    A stray value interrupts no spell of pedalling, and yet tells of no gear that drove the wheel.
    """
    core = (1 - habits.stray) * _student(residual / sigma) / sigma
    known = np.isfinite(residual)
    return np.where(known, core / (core + habits.stray * STRAY_DENSITY), 1.0)


def _emission(seen: Observations, ln_developments: Floats, sigma: Floats, habits: Habits) -> Floats:
    """Return the likelihood of each sample in each state: (samples, 2 * gears), coupled first."""
    count = len(ln_developments)
    emission = np.ones((len(seen.t_s), 2 * count))
    emission[seen.held, :count] = 1.0 - HELD_DECOUPLED
    emission[seen.held, count:] = HELD_DECOUPLED
    emission[seen.standing, :count] = STANDING_COUPLED
    emission[seen.standing, count:] = 1.0 - habits.turning
    known = np.isfinite(seen.ln_development)
    excess = seen.ln_development[known, None] - ln_developments
    spread = sigma[known, None]
    stray = habits.stray * STRAY_DENSITY
    emission[known, :count] = (1 - habits.stray) * _student(excess / spread) / spread + stray
    emission[known, count:] = habits.turning * (
        (1 - habits.stray) * _above(excess, spread, habits.excess) + stray
    )
    return emission


def _student(z: Floats) -> Floats:
    """Return the density of Student's t with ``TAIL_DOF`` degrees of freedom."""
    from math import gamma, pi, sqrt

    nu = TAIL_DOF
    height = gamma((nu + 1) / 2) / gamma(nu / 2) / sqrt(nu * pi)
    return np.asarray(height * (1 + z * z / nu) ** (-(nu + 1) / 2))


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


def _generator(ln_developments: Floats, habits: Habits) -> Floats:
    """Return the rates between the states, per second; rows sum to zero."""
    count = len(ln_developments)
    distance = np.abs(ln_developments[:, None] - ln_developments)
    shift = np.exp(-distance / habits.reach)
    np.fill_diagonal(shift, 0.0)
    total = shift.sum(axis=1, keepdims=True)
    shift = habits.shift_hz * np.divide(shift, total, out=np.zeros_like(shift), where=total > 0)
    generator = np.zeros((2 * count, 2 * count))
    generator[:count, :count] = shift
    generator[count:, count:] = shift
    gears = np.arange(count)
    generator[gears, gears + count] = habits.decouple_hz
    generator[gears + count, gears] = habits.couple_hz
    generator -= np.diag(generator.sum(axis=1))
    return generator


def _transitions(
    seen: Observations, ln_developments: Floats, habits: Habits
) -> tuple[NDArray[np.int64], Floats]:
    """Return for each sample which transition leads to it, and the transitions themselves."""
    from scipy.linalg import expm

    steps = np.round(np.diff(seen.t_s, prepend=seen.t_s[0]).clip(0.0, 6.0 * GAP_S), 1)
    lengths, step_of = np.unique(steps, return_inverse=True)
    generator = _generator(ln_developments, habits)
    matrices = np.stack([np.asarray(expm(generator * length)) for length in lengths])
    return step_of, np.maximum(matrices, 0.0)


def _forward_backward(emission: Floats, step_of: NDArray[np.int64], matrices: Floats) -> Floats:
    """Return the posterior of each state at each sample, rows summing to one."""
    samples, states = emission.shape
    forward = np.empty((samples, states))
    now = emission[0] / emission[0].sum()
    forward[0] = now
    for i in range(1, samples):
        now = (now @ matrices[step_of[i]]) * emission[i]
        now /= now.sum()
        forward[i] = now
    now = np.ones(states)
    for i in range(samples - 1, 0, -1):
        now = matrices[step_of[i]] @ (now * emission[i])
        now /= now.max()
        forward[i - 1] *= now
    posterior: Floats = forward / forward.sum(axis=1, keepdims=True)
    return posterior
