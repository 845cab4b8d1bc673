"""A ladder placed and rides observed -> decoded and measured together, until both agree."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from ridelab.gears.decode import decode
from ridelab.gears.ladder import LEAST_S, counted
from ridelab.gears.measured import seconds_in_gear
from ridelab.gears.observations import MEDIAN_TO_SD
from ridelab.gears.spells import estimate, joined, spells_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.gears.decode import Decoded
    from ridelab.gears.ladder import Rungs
    from ridelab.gears.observations import Floats, Observations
    from ridelab.gears.spells import Estimate, Spells

#: Decoding and measuring are repeated until they agree, at most this often.
MOST_PASSES = 3
#: They agree if no gear, ride or noise moves by more than this share of the noise of a sample.
SETTLED = 0.15
#: Gears closer than this many standard deviations of a sample may be taken for each other; one of
#: them must make the rides e^NEEDED times likelier to be called ridden.
CLOSE, NEEDED = 3.0, 8.0


@dataclass(frozen=True)
class Fit:
    """A ladder in use and what it makes of the rides that have observations, in their order.

    ``offsets`` and ``noise`` have one entry a ride: what it was decoded with.
    """

    rungs: Rungs
    decoded: tuple[Decoded, ...]
    estimate: Estimate | None
    offsets: Floats
    noise: Floats


def fit_ladder(seen: Sequence[Observations], rungs: Rungs, shifts: Floats) -> Fit:
    """Decode with the ladder and measure it from what was decoded, until both agree.

    ``shifts``: of each ride, to begin with.
    """
    noise = np.array([one.noise for one in seen])
    offsets = shifts
    for _ in range(MOST_PASSES):
        decoded = _decoded(seen, rungs, offsets, noise)
        fewer = _ridden_long_enough(seen, decoded, rungs)
        if fewer.count < rungs.count:
            return fit_ladder(seen, fewer, shifts)
        heard = np.array([_noise(one, made) for one, made in zip(seen, decoded, strict=True)])
        found = estimate(_spells(seen, decoded, heard), len(seen))
        if found is None:
            return Fit(rungs, decoded, None, offsets, noise)
        used = Fit(rungs, decoded, found, offsets, noise)
        moved = _moved(rungs, found)
        far = np.abs(moved.ln_developments - rungs.ln_developments)[found.gears].max()
        far = max(far, np.abs(found.ride_offsets - offsets).max(), np.abs(heard - noise).max())
        rungs, offsets = moved, found.ride_offsets
        if far <= SETTLED * float(np.median(heard)):
            break
        noise = heard
    return replace(used, rungs=rungs)


def named_by_noise(seen: Sequence[Observations], fit: Fit) -> list[int]:
    """Return the gears, by index, that the rides do not need: the samples fit as well without.

    Only gears closer to a neighbour than ``CLOSE`` times the noise are doubted, the least ridden
    first; noise can take samples of the one for the other.
    """
    ladder = fit.rungs.ln_developments
    if fit.rungs.count < 2 or fit.estimate is None:
        return []
    seconds = _seconds(seen, fit.decoded, fit.rungs)
    gaps = np.diff(ladder)
    nearest = np.minimum(np.append(gaps, np.inf), np.append(np.inf, gaps))
    close = nearest < CLOSE * float(np.median(fit.noise))
    doubted = [int(gear) for gear in np.argsort(seconds) if close[gear] and seconds[gear] > 0]
    kept = np.ones(fit.rungs.count, dtype=bool)
    likelihood = sum(made.log_likelihood for made in fit.decoded)
    for gear in doubted:
        kept[gear] = False
        fewer = replace(fit.rungs, ln_developments=_joined(ladder, seconds, gear)[kept])
        without = sum(made.log_likelihood for made in _decoded(seen, fewer, fit.offsets, fit.noise))
        if kept.any() and likelihood - without < NEEDED:
            likelihood = max(likelihood, without)
        else:
            kept[gear] = True
    return [int(gear) for gear in np.flatnonzero(~kept)]


def _joined(ladder: Floats, seconds: Floats, gear: int) -> Floats:
    """Return the ladder with a gear's nearest neighbour where both together would be measured."""
    apart = np.abs(ladder - ladder[gear])
    apart[gear] = np.inf
    other = int(apart.argmin())
    joined = ladder.copy()
    both = seconds[gear] + seconds[other]
    joined[other] = (seconds[gear] * ladder[gear] + seconds[other] * ladder[other]) / both
    return joined


def _decoded(
    seen: Sequence[Observations],
    rungs: Rungs,
    offsets: Floats,
    noise: Floats,
) -> tuple[Decoded, ...]:
    return tuple(
        decode(one, rungs.ln_developments + offset, own)
        for one, offset, own in zip(seen, offsets, noise, strict=True)
    )


def _spells(seen: Sequence[Observations], decoded: Sequence[Decoded], noise: Floats) -> Spells:
    return joined(
        [
            spells_of(one, made, one.total_sigma(own), number)
            for number, (one, made, own) in enumerate(zip(seen, decoded, noise, strict=True))
        ]
    )


def _ridden_long_enough(
    seen: Sequence[Observations], decoded: Sequence[Decoded], rungs: Rungs
) -> Rungs:
    """Return the ladder without found gears engaged too briefly; published gears stay, all of them.

    At least one gear stays.
    """
    if rungs.ln_ratios is not None:
        return rungs
    seconds = _seconds(seen, decoded, rungs)
    kept = seconds >= min(LEAST_S, seconds.max())
    return counted(rungs.ln_developments[kept])


def _seconds(seen: Sequence[Observations], decoded: Sequence[Decoded], rungs: Rungs) -> Floats:
    """Return how long each gear was engaged over all rides."""
    by_ride = [seconds_in_gear(o, m, rungs.count) for o, m in zip(seen, decoded, strict=True)]
    return np.asarray(np.sum(by_ride, axis=0))


def _noise(seen: Observations, decoded: Decoded) -> float:
    """Return the noise that makes the residuals within gears as wide as they are."""
    inside = decoded.coupled & np.isfinite(decoded.residual) & (decoded.gear_probability > 0.9)
    if inside.sum() < 30:
        return seen.noise
    total = MEDIAN_TO_SD * float(np.median(np.abs(decoded.residual[inside])))
    explained = float(np.median(seen.sigma[inside]))
    return float(np.sqrt(max(total**2 - explained**2, 0.25 * seen.noise**2)))


def _moved(rungs: Rungs, found: Estimate) -> Rungs:
    """Return the ladder with the measured gears where they were measured, the others with them."""
    shift = found.ln_developments - rungs.ln_developments[found.gears]
    moved = rungs.ln_developments + float(np.median(shift))
    moved[found.gears] = found.ln_developments
    return replace(rungs, ln_developments=np.maximum.accumulate(moved))
