"""What else one might do with the same samples: four peers, from a spreadsheet to stock models.

All of them see ln(development) of the samples that have speed and cadence. From the second on they
see it from the sharper of speed field and distance field, at the constant lag under which it
clusters best, after a median filter over five samples; their scale is the one that fits the
published ratios best within five per cent of the stated rollout. Where no drivetrain is given, the
mixture's narrow components stand for its gears.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tests.benchmarks.inference_found import NONE, Found, Named
from tests.benchmarks.inference_oracle import shifted

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from ridelab.telemetry.ride import Ride
    from tests.benchmarks.inference_cases import Case
    from tests.benchmarks.inference_found import Floats, Whole

_LAGS_S = np.arange(-2.0, 6.01, 0.5)
_LEAST_MPS, _LEAST_RPM = 0.7, 20.0
_GAP_S = 10.0
_BIN = 0.01
_FILTER = 5
_SCALES = np.arange(-0.05, 0.05001, 0.001)
#: Gears that were seen on fewer samples are not measured.
_FEWEST = 10
#: A mixture's component wider than this is no gear.
_WIDEST = 0.04
_FITTED_ON = 4000
_MOST_COMPONENTS = 26


@dataclass(frozen=True)
class Seen:
    """Samples of one ride with a development, and where they are among its records."""

    y: Floats
    at: Whole
    t_s: Floats
    records: int

    def named(self, gear: Whole) -> Named:
        """Spread the gears of the samples over the records; the rest have none."""
        everywhere = np.full(self.records, NONE)
        everywhere[self.at] = gear
        return Named(everywhere, everywhere != NONE)


def peers(case: Case, read: Sequence[Ride]) -> dict[str, Found]:
    """Return what each peer finds."""
    sharp = [_sharpest(ride) for ride in read]
    means, sds = _mixture([seen.y for seen in sharp], len(case.ladder.gears))
    gears = means[sds <= _WIDEST]
    if case.given and not case.ladder.stepless:
        ln_ratios = np.log(case.ladder.ratios)
        stated = ln_ratios + np.log(case.stated_rollout_m)
        fitted = stated + _scale(np.concatenate([seen.y for seen in sharp]), stated)
    else:
        stated = fitted = gears
    if not len(fitted):
        fitted = stated = means
    return {
        "nearest ratio": _each([_plain(ride) for ride in read], _nearest(stated)),
        "median, best lag": _each(sharp, _nearest(fitted)),
        "mixture": _each(sharp, _component(means, sds, fitted)),
        "markov": _markov(sharp, fitted),
    }


def _each(seen: Sequence[Seen], name: Callable[[Floats], Whole]) -> Found:
    """Name every sample by itself; a gear's development is the median over its samples."""
    gears = [name(one.y) for one in seen]
    return Found(
        tuple(one.named(gear) for one, gear in zip(seen, gears, strict=True)),
        _medians(seen, gears),
    )


def _medians(seen: Sequence[Seen], gears: Sequence[Whole]) -> dict[int, float]:
    y, gear = np.concatenate([one.y for one in seen]), np.concatenate(list(gears))
    found, counts = np.unique(gear[gear != NONE], return_counts=True)
    kept = found[counts >= _FEWEST].tolist()
    return {number: float(np.median(y[gear == number])) for number in kept}


def _nearest(ladder: Floats) -> Callable[[Floats], Whole]:
    return lambda y: np.abs(y[:, None] - ladder).argmin(axis=1) + 1


def _component(means: Floats, sds: Floats, ladder: Floats) -> Callable[[Floats], Whole]:
    """Name the likeliest component's gear, the nearest on the ladder; a wide one has none."""
    gear = np.where(sds <= _WIDEST, np.abs(means[:, None] - ladder).argmin(axis=1) + 1, NONE)

    def name(y: Floats) -> Whole:
        density = -0.5 * ((y[:, None] - means) / sds) ** 2 - np.log(sds)
        return np.asarray(gear[density.argmax(axis=1)])

    return name


def _column(ride: Ride, name: str) -> Floats:
    return ride.samples[name].fill_null(float("nan")).to_numpy().astype(np.float64)


def _plain(ride: Ride) -> Seen:
    """Return the samples as they are."""
    return _seen(ride, _column(ride, "speed_mps"))


def _seen(ride: Ride, speed: Floats) -> Seen:
    t, cadence = _column(ride, "t_s"), _column(ride, "cadence_rpm")
    with np.errstate(invalid="ignore"):
        at = np.flatnonzero((speed > _LEAST_MPS) & (cadence > _LEAST_RPM))
    return Seen(np.log(60.0 * speed[at] / cadence[at]), at, t[at], len(t))


def _sharpest(ride: Ride) -> Seen:
    """Return the samples under channel and lag whose histogram has the least entropy, filtered."""
    from scipy.signal import medfilt

    t = _column(ride, "t_s")
    with np.errstate(invalid="ignore", divide="ignore"):
        difference = np.diff(_column(ride, "distance_m"), prepend=np.nan) / np.diff(t, prepend=-1.0)
    tried: list[tuple[float, int, Seen]] = []
    for channel in (_column(ride, "speed_mps"), difference):
        known = np.isfinite(channel)
        for lag_s in _LAGS_S if known.sum() > _FEWEST else ():
            late = shifted(t, channel, known, lag_s)
            seen = _seen(ride, late)
            tried.append((_entropy(seen.y), len(tried), seen))
    best = min(tried)[2]
    return Seen(medfilt(best.y, _FILTER), best.at, best.t_s, best.records)


def _entropy(y: Floats) -> float:
    if len(y) < _FEWEST:
        return float("inf")
    counts = np.bincount(np.floor((y - y.min()) / _BIN).astype(int))
    share = counts[counts > 0] / len(y)
    return -float((share * np.log(share)).sum())


def _scale(y: Floats, ladder: Floats) -> float:
    """Return the shift of the ladder that brings it nearest to the samples."""
    y = np.random.default_rng(1).choice(y, min(_FITTED_ON, len(y)), replace=False)
    off = [np.median(np.abs(y[:, None] - ladder - shift).min(axis=1)) for shift in _SCALES]
    return float(_SCALES[int(np.argmin(off))])


def _mixture(ys: Sequence[Floats], gears: int) -> tuple[Floats, Floats]:
    """Return means and standard deviations of the mixture that BIC prefers, lowest first."""
    from sklearn.exceptions import ConvergenceWarning
    from sklearn.mixture import GaussianMixture

    y = np.concatenate(ys)
    y = np.random.default_rng(1).choice(y, min(_FITTED_ON, len(y)), replace=False)[:, None]
    most = min(_MOST_COMPONENTS, (gears or 12) + 4)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ConvergenceWarning)
        fits = [
            GaussianMixture(count, random_state=1, reg_covar=1e-6).fit(y)
            for count in range(2, most + 1)
        ]
    best = min(fits, key=lambda fit: float(fit.bic(y)))
    order = best.means_[:, 0].argsort()
    return best.means_[order, 0], np.sqrt(best.covariances_[order, 0, 0])


def _markov(seen: Sequence[Seen], ladder: Floats) -> Found:
    """Fit a hidden Markov model from the ladder on, and name gears by its likeliest path.

    One state beside the gears is wide, for all that fits none of them.
    """
    from hmmlearn.hmm import GaussianHMM

    y = np.concatenate([one.y for one in seen])[:, None]
    lengths = [length for one in seen for length in _unbroken(one.t_s)]
    count = len(ladder)
    start = np.append(ladder, float(np.median(y)) + 0.3)[:, None]
    model = GaussianHMM(
        count + 1, "diag", min_covar=1e-6, means_prior=start, means_weight=1.0,
        covars_prior=1e-4, n_iter=15, tol=1.0, params="tmc", init_params="",
    )  # fmt: skip
    model.startprob_ = np.full(count + 1, 1.0 / (count + 1))
    model.transmat_ = _sticky(ladder)
    model.means_ = start
    model.covars_ = np.append(np.full(count, 0.01**2), 0.4**2)[:, None]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        model.fit(y, lengths)
        state = model.predict(y, lengths)
    widths = np.sqrt(np.asarray(model.covars_).reshape(count + 1))
    gear = np.where(widths <= _WIDEST, np.arange(1, count + 2), NONE)
    gear[count] = NONE
    gears = np.split(gear[state], np.cumsum([len(one.y) for one in seen])[:-1])
    used = np.unique(np.concatenate(gears), return_counts=True)
    means = model.means_[:, 0]
    return Found(
        tuple(one.named(named) for one, named in zip(seen, gears, strict=True)),
        {
            int(number): float(means[number - 1])
            for number, samples in zip(*used, strict=True)
            if number != NONE and samples >= _FEWEST
        },
    )


def _unbroken(t_s: Floats) -> list[int]:
    """Lengths of the runs without a silence."""
    cuts = np.flatnonzero(np.diff(t_s) > _GAP_S) + 1
    return np.diff([0, *cuts.tolist(), len(t_s)]).tolist() if len(t_s) else []


def _sticky(ladder: Floats) -> Floats:
    """Transitions that mostly stay, and else rather go to a neighbour than far."""
    count = len(ladder)
    near = np.exp(-np.abs(ladder[:, None] - ladder) / 0.15)
    matrix = np.full((count + 1, count + 1), 0.02)
    matrix[:count, :count] = 0.03 * near / near.sum(axis=1, keepdims=True)
    matrix[count, :count] = 0.2 / count
    np.fill_diagonal(matrix, 0.0)
    np.fill_diagonal(matrix, 1.0 - matrix.sum(axis=1))
    return matrix
