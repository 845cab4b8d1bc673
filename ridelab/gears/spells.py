"""Decoded samples -> spells in one gear -> each gear's development with its uncertainty.

Seconds of one ride are not independent, so the unit of evidence is a spell: an unbroken time in one
gear. A linear mixed model with two random effects, one for each spell and one for each ride (a tyre
does not roll the same every day), gives the gears' developments and their joint covariance. Its
variances are estimated by restricted maximum likelihood (Patterson and Thompson 1971).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from ridelab.gears.runs import Runs

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from ridelab.gears.decode import Decoded
    from ridelab.gears.observations import Flags, Floats, Observations

#: A sample belongs to a spell only if its gear is this certain.
LEAST_PROBABILITY = 0.8
LONGEST_S = 60.0
SHORTEST_SAMPLES = 3
#: Residuals beyond this many standard deviations are drawn in before a spell is averaged.
CLIP_SIGMAS = 2.5
#: What spells and rides differ by before the data speak, in ln(development), and how firmly that is
#: believed (standard deviations of its logarithm): a wheel rolls about 0.1 % differently from one
#: day to the next.
SPELL_SD, SPELL_SD_DOUBT = 0.002, 1.0
RIDE_SD, RIDE_SD_DOUBT = 0.001, 0.7


@dataclass(frozen=True)
class Spells:
    """Spells of one or several rides; arrays have one entry a spell.

    ``gear``: index; ``ride``: index; ``ln_development``: robust mean; ``sd``: its standard error
    from the scatter within the spell, correlation of neighbouring samples included; ``bias``: what
    other spells of the same gear are off by as well, as a share of the development.
    """

    gear: NDArray[np.int64]
    ride: NDArray[np.int64]
    ln_development: Floats
    sd: Floats
    bias: Floats


@dataclass(frozen=True)
class Estimate:
    """Gears measured jointly; ``gears`` are the indices that have spells, in order.

    ``ln_developments`` and ``covariance`` are theirs; ``own_variance`` leaves out what all gears of
    a ride share; ``ride_offsets`` has one entry a ride; ``quantile``: of Student's t for 95 %.
    """

    gears: NDArray[np.int64]
    ln_developments: Floats
    covariance: Floats
    own_variance: Floats
    ride_offsets: Floats
    quantile: float

    def only(self, chosen: Flags) -> Estimate:
        """Return the estimate of some of the gears."""
        return replace(
            self,
            gears=self.gears[chosen],
            ln_developments=self.ln_developments[chosen],
            covariance=self.covariance[np.ix_(chosen, chosen)],
            own_variance=self.own_variance[chosen],
        )


def spells_of(seen: Observations, decoded: Decoded, sigma: Floats, ride: int) -> Spells:
    """Cut one decoded ride into spells."""
    steady = (
        decoded.coupled
        & (decoded.gear_probability > LEAST_PROBABILITY)
        & np.isfinite(seen.ln_development)
    )
    runs = _runs(seen, decoded, steady)
    clipped = np.clip(decoded.residual, -CLIP_SIGMAS * sigma, CLIP_SIGMAS * sigma)
    correlation = _neighbour_correlation(clipped, steady, decoded.gear)
    widening = (1.0 + correlation) / (1.0 - correlation)
    weight = sigma[runs.samples] ** -2.0
    total = runs.sums(weight)
    level = seen.ln_development[runs.first] - decoded.residual[runs.first]
    return Spells(
        gear=decoded.gear[runs.first],
        ride=np.full(len(runs), ride, dtype=np.int64),
        ln_development=level + runs.sums(weight * clipped[runs.samples]) / total,
        sd=np.sqrt(widening / total),
        bias=seen.bias_mps / runs.medians(seen.speed_mps[runs.samples]),
    )


def _runs(seen: Observations, decoded: Decoded, steady: Flags) -> Runs:
    """Return runs in one gear, cut every ``LONGEST_S``, without their first and last sample.

    The ends are left out because a record there can average the speed over a shift.
    """
    edges = np.ones(len(steady), dtype=bool)
    edges[1:] = steady[1:] != steady[:-1]
    edges[1:] |= (decoded.gear[1:] != decoded.gear[:-1]) | seen.gap_before[1:]
    runs = Runs.cut(edges)
    since = seen.t_s - np.repeat(seen.t_s[runs.first], runs.lengths)
    edges[1:] |= np.diff(np.floor(since / LONGEST_S)) > 0
    inside = steady & np.repeat(runs.lengths >= SHORTEST_SAMPLES + 2, runs.lengths)
    inside[runs.first] = inside[runs.stop - 1] = False
    edges[1:] |= inside[1:] != inside[:-1]
    runs = Runs.cut(edges)
    return runs.where(inside[runs.first] & (runs.lengths >= SHORTEST_SAMPLES))


def _neighbour_correlation(
    residual: Floats, steady: NDArray[np.bool_], gear: NDArray[np.int64]
) -> float:
    """Return the correlation of neighbouring residuals within a gear, between 0 and 0.9."""
    pair = steady[1:] & steady[:-1] & (gear[1:] == gear[:-1])
    if pair.sum() < 30:
        return 0.5
    first, second = residual[:-1][pair], residual[1:][pair]
    return float(np.clip(np.corrcoef(first, second)[0, 1], 0.0, 0.9))


def joined(parts: Sequence[Spells]) -> Spells:
    """Return the spells of several rides as one set."""
    return Spells(
        np.concatenate([part.gear for part in parts]),
        np.concatenate([part.ride for part in parts]),
        np.concatenate([part.ln_development for part in parts]),
        np.concatenate([part.sd for part in parts]),
        np.concatenate([part.bias for part in parts]),
    )


def estimate(spells: Spells, rides: int) -> Estimate | None:
    """Return the gears' developments from all spells, or None if there is no spell.

    Model: y = gear + ride + spell + error, with ride ~ N(0, r^2), spell ~ N(0, s^2) and known error
    variances; generalised least squares for the gears given r and s. A bias that spells of a gear
    share does not average out: it is added in full.
    """
    from scipy.optimize import minimize
    from scipy.special import stdtrit

    gears, column = np.unique(spells.gear, return_inverse=True)
    if len(gears) == 0:
        return None
    centre = np.array([spells.ln_development[column == k].mean() for k in range(len(gears))])
    model = _Model(column, spells.ride, spells.ln_development - centre[column], spells.sd, rides)
    start = np.log([SPELL_SD, RIDE_SD])
    best = minimize(model.objective, start, method="Nelder-Mead", options={"xatol": 0.02})
    spell_sd, ride_sd = np.exp(best.x)
    effects, covariance, offsets = model.solve(spell_sd, ride_sd)
    _, own, _ = model.solve(spell_sd, 1e-9)
    freedom = max(len(column) - len(gears), 3)
    precision = spells.sd**-2.0
    bias = np.bincount(column, precision * spells.bias) / np.bincount(column, precision)
    return Estimate(
        gears=gears,
        ln_developments=centre + effects,
        covariance=covariance + np.diag(bias**2),
        own_variance=np.diag(own) + bias**2,
        ride_offsets=offsets,
        quantile=float(stdtrit(freedom, 0.975)),
    )


@dataclass(frozen=True)
class _Model:
    """The mixed model of ``estimate``; sums over (ride, gear) are all that it needs."""

    column: NDArray[np.int64]
    ride: NDArray[np.int64]
    y: Floats
    sd: Floats
    rides: int

    def _sums(self, values: Floats) -> Floats:
        gears = int(self.column.max()) + 1
        flat = np.bincount(
            self.ride * gears + self.column, weights=values, minlength=self.rides * gears
        )
        return np.asarray(flat.reshape(self.rides, gears), dtype=np.float64)

    def _normal_equations(
        self, spell_sd: float, ride_sd: float
    ) -> tuple[Floats, Floats, Floats, Floats]:
        """Return the normal matrix, right-hand side, and the precision and weighted sums."""
        precision = 1.0 / (self.sd**2 + spell_sd**2)
        p, q = self._sums(precision), self._sums(precision * self.y)
        shrink = 1.0 / (ride_sd**-2.0 + p.sum(axis=1))
        normal = np.diag(p.sum(axis=0)) - (p * shrink[:, None]).T @ p
        right = q.sum(axis=0) - (p * (shrink * q.sum(axis=1))[:, None]).sum(axis=0)
        return normal, right, p, q

    def solve(self, spell_sd: float, ride_sd: float) -> tuple[Floats, Floats, Floats]:
        """Return gear effects, their covariance, and the rides' offsets (shrunk means)."""
        normal, right, p, q = self._normal_equations(spell_sd, ride_sd)
        covariance = np.asarray(np.linalg.inv(normal), dtype=np.float64)
        effects = covariance @ right
        offsets = (q.sum(axis=1) - p @ effects) / (ride_sd**-2.0 + p.sum(axis=1))
        return effects, covariance, np.asarray(offsets)

    def objective(self, log_sds: Floats) -> float:
        """Return minus the restricted log likelihood, the beliefs about the variances included."""
        spell_sd, ride_sd = np.exp(log_sds)
        normal, right, p, q = self._normal_equations(spell_sd, ride_sd)
        effects = np.linalg.solve(normal, right)
        variance = self.sd**2 + spell_sd**2
        shrink = 1.0 / (ride_sd**-2.0 + p.sum(axis=1))
        square = float((self.y**2 / variance).sum() - (shrink * q.sum(axis=1) ** 2).sum())
        log_determinants = (
            np.log(variance).sum()
            + np.log1p(ride_sd**2 * p.sum(axis=1)).sum()
            + np.linalg.slogdet(normal)[1]
        )
        beliefs = ((log_sds[0] - np.log(SPELL_SD)) / SPELL_SD_DOUBT) ** 2
        beliefs += ((log_sds[1] - np.log(RIDE_SD)) / RIDE_SD_DOUBT) ** 2
        return float(0.5 * (log_determinants + square - right @ effects + beliefs))
