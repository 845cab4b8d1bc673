"""Decoded samples -> spells in one gear -> each gear's development with its uncertainty.

Seconds of one ride are not independent, so the unit of evidence is a spell: an unbroken time in one
gear. A linear mixed model with random effects, one for each spell and three for each ride (a tyre
does not roll the same every day, and a lag is neither found exactly nor alike at every cadence),
gives the gears' developments and their joint covariance. Its variances are estimated by restricted
maximum likelihood (Patterson and Thompson 1971).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from ridelab.gears.runs import Runs

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from ridelab.gears.decode import Decoded
    from ridelab.gears.noise import Noise
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
#: The same of what is left of a ride's lag, in seconds: lags are sought in quarters of one.
LAG_SD_S, LAG_SD_DOUBT = 0.1, 0.5
#: A cadence sensor tells of the last turn or two: what it says is the older, the longer a turn
#: takes, by this share of it or so beside the lag.
TURN_SHARE_SD, USUAL_TURN_S = 0.5, 0.75


@dataclass(frozen=True)
class Spells:
    """Spells of one or several rides; arrays have one entry a spell.

    ``gear``: index; ``ride``: index; ``ln_development``: robust mean; ``sd``: its standard error
    from the scatter within the spell, correlation of neighbouring samples included; ``bias``: what
    other spells of the same gear are off by as well, as a share of the development; ``gaining_hz``:
    mean slope of ln(speed), by which a lag of the ride that is a second off would shift the spell;
    ``gaining_turns``: the same times the time of a crank turn, seconds beyond ``USUAL_TURN_S``.
    """

    gear: NDArray[np.int64]
    ride: NDArray[np.int64]
    ln_development: Floats
    sd: Floats
    bias: Floats
    gaining_hz: Floats
    gaining_turns: Floats


@dataclass(frozen=True)
class Estimate:
    """Gears measured jointly; ``gears`` are the indices that have spells, in order.

    ``ln_developments`` and ``covariance`` are theirs; ``own_variance`` leaves out what all gears of
    a ride share; ``ride_offsets`` has one entry a ride; ``quantile``: of Student's t for 95 %, of
    ``freedom`` degrees; ``spell_sd``, ``ride_sd``: what spells and rides differ by.
    """

    gears: NDArray[np.int64]
    ln_developments: Floats
    covariance: Floats
    own_variance: Floats
    ride_offsets: Floats
    quantile: float
    freedom: int = 0
    spell_sd: float = 0.0
    ride_sd: float = 0.0

    def only(self, chosen: Flags) -> Estimate:
        """Return the estimate of some of the gears."""
        return replace(
            self,
            gears=self.gears[chosen],
            ln_developments=self.ln_developments[chosen],
            covariance=self.covariance[np.ix_(chosen, chosen)],
            own_variance=self.own_variance[chosen],
        )


def spells_of(seen: Observations, decoded: Decoded, noise: Noise) -> Spells:
    """Cut one decoded ride into spells; ``noise``: of its samples, beside known causes."""
    sigma = seen.total_sigma(noise)
    steady = (
        decoded.coupled
        & (decoded.gear_probability > LEAST_PROBABILITY)
        & np.isfinite(seen.ln_development)
    )
    runs = _runs(seen, decoded, steady)
    clipped = np.clip(decoded.residual, -CLIP_SIGMAS * sigma, CLIP_SIGMAS * sigma)
    widening = _widening(clipped[runs.samples] / sigma[runs.samples], runs)
    weight = sigma[runs.samples] ** -2.0
    total = runs.sums(weight)
    level = seen.ln_development[runs.first] - decoded.residual[runs.first]
    turn_s = np.exp(seen.ln_development) / seen.speed_mps - USUAL_TURN_S
    return Spells(
        gear=decoded.gear[runs.first],
        ride=np.zeros(len(runs), dtype=np.int64),
        ln_development=level + runs.sums(weight * clipped[runs.samples]) / total,
        sd=np.sqrt(widening / total),
        bias=seen.bias_mps / runs.medians(seen.speed_mps[runs.samples]),
        gaining_hz=runs.sums(weight * seen.gaining_hz[runs.samples]) / total,
        gaining_turns=runs.sums(weight * (seen.gaining_hz * turn_s)[runs.samples]) / total,
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


def _widening(z: Floats, runs: Runs) -> float:
    """Return by what the variance of a spell's mean differs from that of independent samples.

    From standardised residuals within spells: what a spell as a whole is off by is no part of it.
    How wide they lie, and the correlation of neighbours (0 to 0.9), with what the mean of so few
    takes away from it added (Kendall 1954, "Note on bias in the estimation of autocorrelation").
    """
    if runs.lengths.sum() < 60:
        return 3.0
    off = z - (runs.sums(z) / runs.lengths)[runs.of_sample]
    squares = float((off**2).sum())
    pair = runs.of_sample[1:] == runs.of_sample[:-1]
    found = float((off[1:] * off[:-1])[pair].sum()) / max(squares, 1e-9)
    length = float((runs.lengths**2).sum() / runs.lengths.sum())
    correlation = np.clip((found + 1.0 / length) / max(1.0 - 3.0 / length, 0.25), 0.0, 0.9)
    variance = squares / float((runs.lengths - 1).sum())
    return float(variance * (1.0 + correlation) / (1.0 - correlation))


def joined(parts: Sequence[Spells]) -> Spells:
    """Return the spells of several rides as one set, the rides numbered in order."""
    return Spells(
        np.concatenate([part.gear for part in parts]),
        np.repeat(np.arange(len(parts)), [len(part.gear) for part in parts]),
        np.concatenate([part.ln_development for part in parts]),
        np.concatenate([part.sd for part in parts]),
        np.concatenate([part.bias for part in parts]),
        np.concatenate([part.gaining_hz for part in parts]),
        np.concatenate([part.gaining_turns for part in parts]),
    )


def estimate(spells: Spells, rides: int, learning: bool = True) -> Estimate | None:
    """Return the gears' developments from all spells, or None if there is no spell.

    ``learning``: what spells, rides and lags differ by is estimated, and else taken as usual.

    Model: y = gear + ride + (lag + share * turn) * gaining + spell + error, with ride ~ N(0, r^2),
    lag ~ N(0, l^2), share ~ N(0, 1/2^2) and spell ~ N(0, s^2), error variances known; generalised
    least squares for the gears given r, l and s. A bias that spells of a gear share does not
    average out: it is added in full.
    """
    from scipy.optimize import minimize
    from scipy.special import stdtrit

    gears, column = np.unique(spells.gear, return_inverse=True)
    if len(gears) == 0:
        return None
    centre = np.array([spells.ln_development[column == k].mean() for k in range(len(gears))])
    y = spells.ln_development - centre[column]
    late = np.stack([spells.gaining_hz, spells.gaining_turns])
    model = _Model(column, spells.ride, y, spells.sd, late, rides)
    log_sds = usual = np.log([SPELL_SD, RIDE_SD, LAG_SD_S])
    if learning:
        log_sds = minimize(
            model.objective, usual, method="Nelder-Mead", options={"xatol": 0.05, "fatol": 0.02}
        ).x
    spell_sd, ride_sd, lag_sd_s = np.exp(log_sds)
    effects, covariance, offsets = model.solve(spell_sd, ride_sd, lag_sd_s)
    _, own, _ = model.solve(spell_sd, 1e-9, lag_sd_s)
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
        freedom=freedom,
        spell_sd=float(spell_sd),
        ride_sd=float(ride_sd),
    )


@dataclass(frozen=True)
class _Model:
    """The mixed model of ``estimate``; sums over (ride, gear) are all that it needs."""

    column: NDArray[np.int64]
    ride: NDArray[np.int64]
    y: Floats
    sd: Floats
    late: Floats
    rides: int

    def _sums(self, values: Floats) -> Floats:
        gears = int(self.column.max()) + 1
        flat = np.bincount(
            self.ride * gears + self.column, weights=values, minlength=self.rides * gears
        )
        return np.asarray(flat.reshape(self.rides, gears), dtype=np.float64)

    def _equations(self, spell_sd: float, ride_sd: float, lag_sd_s: float) -> _Equations:
        precision = 1.0 / (self.sd**2 + spell_sd**2)
        effects = (np.ones(len(self.y)), *self.late)
        weighted = [precision * effect for effect in effects]
        across = np.stack([self._sums(w) for w in weighted], axis=1)
        within = np.array([[self._sums(w * e).sum(axis=1) for e in effects] for w in weighted])
        within = within.transpose(2, 0, 1)
        pulled = np.stack([self._sums(w * self.y).sum(axis=1) for w in weighted], axis=1)
        loose = within + np.diag([ride_sd**-2.0, lag_sd_s**-2.0, TURN_SHARE_SD**-2.0])
        shrunk = np.linalg.solve(loose, across)
        normal = np.diag(across[:, 0].sum(axis=0)) - np.einsum("ria,rib->ab", across, shrunk)
        right = self._sums(precision * self.y).sum(axis=0)
        right = right - np.einsum("ria,ri->a", shrunk, pulled)
        return _Equations(normal, right, across, pulled, loose)

    def solve(
        self, spell_sd: float, ride_sd: float, lag_sd_s: float
    ) -> tuple[Floats, Floats, Floats]:
        """Return gear effects, their covariance, and the rides' offsets (shrunk means)."""
        found = self._equations(spell_sd, ride_sd, lag_sd_s)
        covariance = np.asarray(np.linalg.inv(found.normal), dtype=np.float64)
        effects = covariance @ found.right
        left = found.pulled - found.across @ effects
        offsets = np.linalg.solve(found.loose, left[:, :, None])[:, 0, 0]
        return effects, covariance, np.asarray(offsets)

    def objective(self, log_sds: Floats) -> float:
        """Return minus the restricted log likelihood, the beliefs about the variances included."""
        spell_sd, ride_sd, lag_sd_s = (float(sd) for sd in np.exp(log_sds))
        found = self._equations(spell_sd, ride_sd, lag_sd_s)
        effects = np.linalg.solve(found.normal, found.right)
        variance = self.sd**2 + spell_sd**2
        shrunk = np.linalg.solve(found.loose, found.pulled[:, :, None])[:, :, 0]
        sds = np.array([ride_sd, lag_sd_s, TURN_SHARE_SD])
        square = float((self.y**2 / variance).sum() - (found.pulled * shrunk).sum())
        log_determinants = (
            np.log(variance).sum()
            + np.linalg.slogdet(found.loose * sds**2)[1].sum()
            + np.linalg.slogdet(found.normal)[1]
        )
        usual = np.log([SPELL_SD, RIDE_SD, LAG_SD_S])
        doubts = np.array([SPELL_SD_DOUBT, RIDE_SD_DOUBT, LAG_SD_DOUBT])
        beliefs = float((((log_sds - usual) / doubts) ** 2).sum())
        return float(0.5 * (log_determinants + square - found.right @ effects + beliefs))


class _Equations(NamedTuple):
    """Normal equations of the gears, and what they were made of, ride by ride.

    ``normal``, ``right``: matrix and right-hand side; ``across``: (rides, 3, gears) precision of
    the ride's own effects with each gear; ``pulled``: (rides, 3) weighted sums of y; ``loose``:
    (rides, 3, 3) precision of the ride's own effects, beliefs included.
    """

    normal: Floats
    right: Floats
    across: Floats
    pulled: Floats
    loose: Floats
