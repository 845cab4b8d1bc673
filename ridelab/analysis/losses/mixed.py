"""Spells under two meters -> ln(wheel power / crank power) of each gear, by a mixed model.

y = gear + ride + error, with ride ~ N(0, r²) and error ~ N(0, s² / seconds): meters drift from
ride to ride, and the longer a spell, the less its noise. Generalised least squares for the gears
given r / s, which restricted maximum likelihood finds (H. D. Patterson and R. Thompson, Biometrika
58 (1971) 545-554), s being profiled out. One or two rides hardly tell r, so it is believed to be
some half a percent beforehand. Degrees of freedom of a sum of gears after F. E. Satterthwaite
(Biometrics Bulletin 2 (1946) 110-114), as its variance is the sum of one from spells and one from
rides.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Whole = NDArray[np.int64]

_SMALLEST, _LARGEST = -25.0, 25.0  # of ln((r / s)²)
_STEPS = 101


@dataclass(frozen=True)
class Belief:
    """What rides are believed to differ by: ln(r) ~ N(ln(``ride_sd``), ``doubt``²)."""

    ride_sd: float
    doubt: float

    @property
    def worth(self) -> float:
        """Degrees of freedom that it is worth: the logarithm of a spread has variance 1 / 2n."""
        return 0.5 / self.doubt**2


#: Common practice, no source: meters are set to zero before a ride, and warm up during it.
USUAL = Belief(ride_sd=0.005, doubt=0.5)


class Estimated(NamedTuple):
    """A sum of gears: its value, standard error, and degrees of freedom of Student's t."""

    value: float
    sd: float
    freedom: float


@dataclass(frozen=True)
class Fit:
    """The gears, in order of their indices, as estimated together.

    ``effects``: ln(wheel / crank) of each; ``covariance``: theirs; ``of_spells``: the part of it
    that is there even if rides did not differ; ``spell_sd``: of the error of a spell of one second;
    ``ride_sd``: r; ``spells_freedom``, ``rides_freedom``: how much the data tell of either spread.
    """

    effects: Floats
    covariance: Floats
    of_spells: Floats
    spell_sd: float
    ride_sd: float
    spells_freedom: float
    rides_freedom: float

    def of(self, weights: Floats) -> Estimated:
        """Return a weighted sum of the gears."""
        variance = float(weights @ self.covariance @ weights)
        own = min(float(weights @ self.of_spells @ weights), variance)
        shared = variance - own
        spread = own**2 / self.spells_freedom + shared**2 / self.rides_freedom
        return Estimated(float(weights @ self.effects), variance**0.5, variance**2 / spread)


def fit(
    y: Floats, seconds: Floats, gear: Whole, ride: Whole, belief: Belief | None = USUAL
) -> Fit | None:
    """Return the gears' effects; None where spells do not tell their own spread.

    ``gear`` and ``ride`` count from 0 without a hole. Without a ``belief`` the spread of rides is
    what the data alone say.
    """
    gears, rides = int(gear.max()) + 1, int(ride.max()) + 1
    spells_freedom = len(y) - gears - (rides - 1)
    if spells_freedom < 1:
        return None
    model = _Model(y, seconds, gear, ride, gears, rides)
    found = model.solved(_best(model, belief))
    worth = belief.worth if belief else 0.0
    return Fit(
        found.effects,
        found.error**2 * np.asarray(np.linalg.inv(found.normal), np.float64),
        found.error**2 * np.asarray(np.linalg.inv(model.solved(0.0).normal), np.float64),
        found.error,
        found.ride_sd,
        float(spells_freedom),
        max(rides - 1 + worth, 1.0),
    )


class _Solved(NamedTuple):
    effects: Floats
    normal: Floats
    error: float
    ride_sd: float
    log_determinant: float


@dataclass(frozen=True)
class _Model:
    """The model's data; sums over (ride, gear) are all that it needs."""

    y: Floats
    seconds: Floats
    gear: Whole
    ride: Whole
    gears: int
    rides: int

    def _sums(self, values: Floats) -> Floats:
        place = self.ride * self.gears + self.gear
        flat = np.bincount(place, values, minlength=self.rides * self.gears)
        return np.asarray(flat.reshape(self.rides, self.gears), dtype=np.float64)

    def solved(self, quotient: float) -> _Solved:
        """Return what follows if (r / s)² were this."""
        weight, pull = self._sums(self.seconds), self._sums(self.seconds * self.y)
        total, pulled = weight.sum(axis=1), pull.sum(axis=1)
        shrunk = quotient / (1 + quotient * total)
        normal = np.diag(weight.sum(axis=0)) - (weight * shrunk[:, None]).T @ weight
        right = pull.sum(axis=0) - weight.T @ (shrunk * pulled)
        effects = np.linalg.solve(normal, right)
        square = float((self.seconds * self.y**2).sum() - (shrunk * pulled**2).sum())
        square = max(square - float(effects @ right), 1e-12 * square, 1e-300)
        error = (square / (len(self.y) - self.gears)) ** 0.5
        determinants = np.log1p(quotient * total).sum() + np.linalg.slogdet(normal)[1]
        return _Solved(effects, normal, error, quotient**0.5 * error, float(determinants))

    def objective(self, log_quotient: float, belief: Belief | None) -> float:
        """Return minus twice the restricted log likelihood, the belief included."""
        found = self.solved(float(np.exp(log_quotient)))
        freedom = len(self.y) - self.gears
        value = 2 * freedom * float(np.log(found.error)) + found.log_determinant
        if belief:
            value += (np.log(found.ride_sd / belief.ride_sd) / belief.doubt) ** 2
        return float(value)


def _best(model: _Model, belief: Belief | None) -> float:
    """Return the likeliest (r / s)²: the best of a grid, then the least near it."""
    from scipy.optimize import minimize_scalar

    grid = np.linspace(_SMALLEST, _LARGEST, _STEPS)
    best = int(np.argmin([model.objective(one, belief) for one in grid]))
    low, high = grid[max(best - 1, 0)], grid[min(best + 1, _STEPS - 1)]
    found = minimize_scalar(
        lambda one: model.objective(one, belief),
        bounds=(low, high),
        method="bounded",
        options={"xatol": 1e-4},
    )
    return float(np.exp(found.x))
