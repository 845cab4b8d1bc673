"""One figure from several vehicles: the mean over all of their kind, and who departs from it.

A random-effects mean (R. DerSimonian and N. Laird, Controlled Clinical Trials 7 (1986) 177-188)
with the interval of J. Hartung and G. Knapp (Statistics in Medicine 20 (2001) 3875-3889): Student's
t with one degree of freedom less than there are vehicles. It is never narrower than what the
vehicles' own errors explain, as chance agreement of a few would make it (C. Röver, G. Knapp and T.
Friede, BMC Medical Research Methodology 15 (2015) 99).

Whether the vehicles agree at all is W. G. Cochran's Q (Biometrics 10 (1954) 101-129). Which one
departs is asked of each in turn against the mean of the others (W. Viechtbauer and M. W.-L. Cheung,
Research Synthesis Methods 1 (2010) 112-125), the risk of 5 % shared among all of them (Bonferroni).

What may be off however much is ridden, a wheel or a meter, is no error that averages out: the mean
carries it in full, and vehicles disagree only where their spans do.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

#: Chance that any of some vehicles that are alike is called odd.
ODD_RISK = 0.05
_TAIL = 0.025
#: Two vehicles that differ show no more than that; of three one can be odd.
_FEWEST = 3
_LEAST_ERROR = 1e-9


@dataclass(frozen=True)
class Piece:
    """One vehicle's figure on a scale where errors add, such as a logarithm.

    ``error``: its standard error; ``down``, ``up``: by how much the truth may lie below and above,
    however much is ridden.
    """

    vehicle: str
    at: float
    error: float
    down: float = 0.0
    up: float = 0.0


@dataclass(frozen=True)
class Mean:
    """The mean over vehicles, and how they differ.

    Attributes:
        at: the mean.
        error: its standard error; ``freedom`` are its degrees of freedom.
        freedom: one less than there are vehicles.
        spread: standard deviation between vehicles, beyond their own errors.
        q: Cochran's Q, what vehicles may be off by whatever is ridden granted.
        p: how often vehicles that are alike would differ as much.
        down: how far the truth may lie below, whatever is ridden.
        up: how far above.
    """

    at: float
    error: float
    freedom: int
    spread: float
    q: float
    p: float
    down: float
    up: float

    def ends(self, share: float = 1.0) -> tuple[float, float]:
        """Return the interval that errs in ``share`` of the cases in which a 95 % one does."""
        from scipy.special import stdtrit

        half = -float(stdtrit(self.freedom, _TAIL * share)) * self.error
        return self.at - half - self.down, self.at + half + self.up


@dataclass(frozen=True)
class Odd:
    """A vehicle that departs from the mean of the others, and by how much."""

    vehicle: str
    off: float


def pool(pieces: Sequence[Piece]) -> Mean:
    """Return the mean over two vehicles or more; see the head of this module."""
    from scipy.special import chdtrc

    at, variance = _at(pieces), _variance(pieces)
    weights, between = _weights(at, variance)
    mean = float(weights @ at / weights.sum())
    freedom = len(pieces) - 1
    scale = float(weights @ (at - mean) ** 2) / freedom
    q = _least_q(pieces)
    return Mean(
        at=mean,
        error=sqrt(max(scale, 1.0) / weights.sum()),
        freedom=freedom,
        spread=sqrt(between),
        q=q,
        p=float(chdtrc(freedom, q)),
        down=float(weights @ np.array([one.down for one in pieces]) / weights.sum()),
        up=float(weights @ np.array([one.up for one in pieces]) / weights.sum()),
    )


def odd_one(pieces: Sequence[Piece]) -> Odd | None:
    """Return the vehicle that departs most from the others, if it surely does.

    The errors of both, and what the others differ by among themselves, are granted. Two vehicles
    may disagree, but neither is the odd one.
    """
    from scipy.special import ndtri

    if len(pieces) < _FEWEST:
        return None
    limit = -float(ndtri(ODD_RISK / 2 / len(pieces)))
    found = [
        (*_departure(one, [other for other in pieces if other is not one]), one) for one in pieces
    ]
    times, off, one = max(found, key=lambda each: each[0])
    return Odd(one.vehicle, off) if times > limit else None


def _departure(one: Piece, others: Sequence[Piece]) -> tuple[float, float]:
    """Return by how many standard errors a vehicle departs from others, and by how much."""
    at, variance = _at(others), _variance(others)
    weights, between = _weights(at, variance)
    mean = float(weights @ at / weights.sum())
    down, up = (
        float(weights @ np.array([getattr(other, end) for other in others]) / weights.sum())
        for end in ("down", "up")
    )
    off = one.at - mean
    beyond = off - (one.down + up) if off > 0 else -off - (one.up + down)
    error = sqrt(max(one.error, _LEAST_ERROR) ** 2 + between + 1 / weights.sum())
    return beyond / error, off


def _weights(at: Floats, variance: Floats) -> tuple[Floats, float]:
    """Return the weight of each vehicle, and the variance between them by DerSimonian and Laird."""
    fixed = 1 / variance
    mean = fixed @ at / fixed.sum()
    q = fixed @ (at - mean) ** 2
    room = fixed.sum() - (fixed**2).sum() / fixed.sum()
    between = max(0.0, float((q - (len(at) - 1)) / room)) if room > 0 else 0.0
    return 1 / (variance + between), between


def _least_q(pieces: Sequence[Piece]) -> float:
    """Return the least Q that any common figure leaves, each vehicle's span granted.

    Without spans that is Cochran's, whose common figure is the weighted mean. It is convex.
    """
    from scipy.optimize import minimize_scalar

    low = np.array([one.at - one.down for one in pieces])
    high = np.array([one.at + one.up for one in pieces])
    variance = _variance(pieces)

    def left(common: float) -> float:
        off = np.maximum(0.0, np.maximum(low - common, common - high))
        return float((off**2 / variance).sum())

    fitting = (float(high.min()), float(low.max()))
    if fitting[1] <= fitting[0]:
        return 0.0  # one figure lies in the spans of all
    if np.array_equal(low, high):
        return left(float((low / variance).sum() / (1 / variance).sum()))
    found = minimize_scalar(left, bounds=fitting, method="bounded", options={"xatol": 1e-12})
    return float(found.fun)


def _at(pieces: Sequence[Piece]) -> Floats:
    return np.array([one.at for one in pieces])


def _variance(pieces: Sequence[Piece]) -> Floats:
    return np.array([max(one.error, _LEAST_ERROR) ** 2 for one in pieces])
