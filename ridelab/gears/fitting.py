"""A ladder placed and rides observed -> decoded and measured together, until both agree."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from ridelab.gears.decode import decode, student
from ridelab.gears.effort import driven_evidence
from ridelab.gears.ladder import LEAST_S
from ridelab.gears.measured import seconds_in_gear
from ridelab.gears.mixture import robust_middle
from ridelab.gears.noise import FLOOR, Noise, fitted, memory
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
#: Readings from which on a ride tells its own timing.
LEARNT_S = 360
#: Evidence against drive, ln(likelihood ratio), in all and for each second, from which on a gear
#: that nobody published is none.
AGAINST_DRIVE, AGAINST_SHARE = 3.0, 0.6
#: The crank surely drove, or rolled along, at this probability and speed.
SURE, ROLLING_MPS = 0.95, 2.0
#: Highest density of a development that no gear explains, and what it costs to engage a gear once.
LIKELIEST_SOFT, EACH_TIME = 8.0, 12.0
#: A gear's departure from its published ratio: spread, and degrees of freedom of Student's t.
DEPARTURE = (0.004, 3.0)


@dataclass(frozen=True)
class Fit:
    """A ladder in use and what it makes of the rides that have observations, in their order.

    ``offsets`` and ``noise`` have one entry a ride: what it was decoded with. ``shifts``: the
    offsets that fitting began with.
    """

    rungs: Rungs
    decoded: tuple[Decoded, ...]
    estimate: Estimate | None
    offsets: Floats
    noise: tuple[Noise, ...]
    driven: tuple[Floats | None, ...]
    shifts: Floats


def fit_ladder(seen: Sequence[Observations], rungs: Rungs, shifts: Floats) -> Fit:
    """Decode with the ladder and measure it from what was decoded, until both agree.

    ``shifts``: of each ride, to begin with.
    """
    noise = tuple(one.noise for one in seen)
    offsets = shifts
    driven: tuple[Floats | None, ...] = (None,) * len(seen)
    for passed in range(MOST_PASSES):
        decoded = decode_all(seen, rungs, offsets, noise, driven)
        used = Fit(rungs, decoded, None, offsets, noise, driven, shifts)
        driven = tuple(_driven(one, made) for one, made in zip(seen, decoded, strict=True))
        fewer = _driven_long_enough(seen, decoded, driven, rungs)
        if fewer.count < rungs.count:
            return fit_ladder(seen, fewer, shifts)
        heard = tuple(
            _noise(one, made, own) for one, made, own in zip(seen, decoded, noise, strict=True)
        )
        found = estimate(_spells(seen, decoded, heard), len(seen), learning=False)
        if found is None:
            return used
        moved = _moved(rungs, found)
        far = np.abs(moved.ln_developments - rungs.ln_developments)[found.gears].max()
        typical, before = _typical(seen, heard), _typical(seen, noise)
        far = max(far, np.abs(found.ride_offsets - offsets).max(), np.abs(typical - before).max())
        rungs, offsets = moved, found.ride_offsets
        # What tells of drive was learnt from the first decoding, and serves from the second on.
        if passed and far <= SETTLED * float(np.median(typical)):
            break
        noise = heard
    found = estimate(_spells(seen, used.decoded, heard), len(seen))
    return replace(used, rungs=rungs, estimate=found)


def named_by_noise(seen: Sequence[Observations], fit: Fit) -> list[int]:
    """Return the gears, by index, that the rides do not need: the samples fit as well without.

    Only gears closer to one that was ridden for longer than ``CLOSE`` times the noise are doubted,
    the least ridden first; noise can take samples of the one for the other.
    """
    ladder = fit.rungs.ln_developments
    if fit.rungs.count < 2 or fit.estimate is None:
        return []
    seconds = _seconds(seen, fit.decoded, fit.rungs)
    apart = np.abs(ladder[:, None] - ladder)
    apart[seconds[:, None] >= seconds] = np.inf
    close = apart.min(axis=1) < CLOSE * float(np.median(_typical(seen, fit.noise)))
    doubted = [int(gear) for gear in np.argsort(seconds) if close[gear] and seconds[gear] > 0]
    kept = np.ones(fit.rungs.count, dtype=bool)
    likelihood = sum(made.log_likelihood for made in fit.decoded)
    for gear in doubted:
        joined_ = replace(fit.rungs, ln_developments=_joined(ladder, seconds, gear))
        if _surely_needed(seen, fit, gear, joined_):
            continue
        kept[gear] = False
        fewer = joined_.only(kept)
        without = sum(
            made.log_likelihood
            for made in decode_all(seen, fewer, fit.offsets, fit.noise, fit.driven)
        )
        if kept.any() and likelihood - without < NEEDED:
            likelihood = max(likelihood, without)
        else:
            kept[gear] = True
    return [int(gear) for gear in np.flatnonzero(~kept)]


def _surely_needed(seen: Sequence[Observations], fit: Fit, gear: int, joined_: Rungs) -> bool:
    """Return whether a gear's own samples settle that it is needed, without decoding anew.

    Each is held against the nearest of the other gears, or soft pedalling at its likeliest. All
    else that speaks for the gear is left out, and each time that it was engaged is counted against
    it.
    """
    others = np.delete(joined_.ln_developments, gear)
    if joined_.members is not None:
        others = (others + np.delete(joined_.members, gear, axis=1)).ravel()
    worth, times = 0.0, 0
    for one, made, offset, noise in zip(seen, fit.decoded, fit.offsets, fit.noise, strict=True):
        own = made.coupled & (made.gear == gear) & np.isfinite(made.residual)
        times += int((np.diff(own.astype(np.int8), prepend=0) > 0).sum())
        sigma = one.total_sigma(noise)[own]
        nearest = np.abs(one.ln_development[own, None] - offset - others).min(axis=1)
        inside = student(made.residual[own] / sigma) / sigma
        outside = np.maximum(student(nearest / sigma) / sigma, LIKELIEST_SOFT)
        worth += float(np.log(inside / outside).sum())
    return worth > NEEDED + EACH_TIME * times


def _joined(ladder: Floats, seconds: Floats, gear: int) -> Floats:
    """Return the ladder with the nearest gear ridden for longer where both would be measured."""
    apart = np.where(seconds > seconds[gear], np.abs(ladder - ladder[gear]), np.inf)
    other = int(apart.argmin())
    joined = ladder.copy()
    both = seconds[gear] + seconds[other]
    joined[other] = (seconds[gear] * ladder[gear] + seconds[other] * ladder[other]) / both
    return joined


def decode_all(
    seen: Sequence[Observations],
    rungs: Rungs,
    offsets: Floats,
    noise: Sequence[Noise],
    driven: Sequence[Floats | None] | None = None,
) -> tuple[Decoded, ...]:
    """Decode each ride with the ladder, its own offset and noise; ``driven``: see ``decode``."""
    driven = driven or (None,) * len(seen)
    return tuple(
        decode(one, rungs.ln_developments + offset, own, driven=evidence, members=rungs.members)
        for one, offset, own, evidence in zip(seen, offsets, noise, driven, strict=True)
    )


def _driven(seen: Observations, decoded: Decoded) -> Floats | None:
    """Return what speed and height say of whether the crank drove, from where that is sure."""
    moving = seen.speed_mps > ROLLING_MPS
    driving = moving & (decoded.coupled_probability > SURE) & (decoded.gear_probability > SURE)
    return driven_evidence(seen.gain_mps2, seen.speed_mps, driving, moving & seen.standing)


def _spells(
    seen: Sequence[Observations], decoded: Sequence[Decoded], noise: Sequence[Noise]
) -> Spells:
    return joined(
        [
            spells_of(one, made, one.total_sigma(own), number)
            for number, (one, made, own) in enumerate(zip(seen, decoded, noise, strict=True))
        ]
    )


def _driven_long_enough(
    seen: Sequence[Observations],
    decoded: Sequence[Decoded],
    driven: Sequence[Floats | None],
    rungs: Rungs,
) -> Rungs:
    """Return the ladder without gears that nobody published and nobody seems to have driven.

    Those were engaged too briefly, or speed and height say that the crank turned along: soft
    pedalling, too, can hold still. Beside a published ladder, drive must be shown. Published gears
    stay, all of them; at least one gear stays.
    """
    seconds = _seconds(seen, decoded, rungs)
    published = np.zeros(rungs.count, dtype=bool)
    if rungs.ln_ratios is not None:
        published = np.isfinite(rungs.ln_ratios)
    for_drive = np.zeros(rungs.count)
    for one, made, evidence in zip(seen, decoded, driven, strict=True):
        if evidence is not None:
            engaged = made.coupled & np.isfinite(one.ln_development)
            for_drive += np.bincount(made.gear[engaged], evidence[engaged], rungs.count)
    told = any(evidence is not None for evidence in driven)
    if rungs.ln_ratios is None:
        undriven = for_drive < -np.maximum(AGAINST_DRIVE, AGAINST_SHARE * seconds)
    else:
        undriven = np.full(rungs.count, told) & (for_drive < AGAINST_DRIVE)
    kept = published | ((seconds >= min(LEAST_S, seconds.max())) & ~undriven)
    return rungs.only(kept) if kept.any() else rungs


def _seconds(seen: Sequence[Observations], decoded: Sequence[Decoded], rungs: Rungs) -> Floats:
    """Return how long each gear was engaged over all rides."""
    by_ride = [seconds_in_gear(o, m, rungs.count) for o, m in zip(seen, decoded, strict=True)]
    return np.asarray(np.sum(by_ride, axis=0))


def _typical(seen: Sequence[Observations], noise: Sequence[Noise]) -> Floats:
    """Return the usual noise of each ride, at the samples whose wheel turned."""
    return np.array([_usual(one.total_sigma(own)) for one, own in zip(seen, noise, strict=True)])


def _usual(sigma: Floats) -> float:
    return float(np.median(sigma[np.isfinite(sigma)]))


def _noise(seen: Observations, decoded: Decoded, before: Noise) -> Noise:
    """Return the noise that makes the residuals within gears as wide as they are."""
    inside = decoded.coupled & np.isfinite(decoded.residual) & (decoded.gear_probability > 0.9)
    found = fitted(
        decoded.residual[inside],
        seen.sigma[inside],
        seen.speed_mps[inside],
        seen.slope_hz[inside],
        before.timing_s if inside.sum() < LEARNT_S else None,
        max(0.5 * seen.noise.share, FLOOR),
    )
    if found is None:
        return before
    z = decoded.residual / seen.total_sigma(found)
    same = np.zeros(len(inside), dtype=bool)
    same[1:] = inside[1:] & inside[:-1] & (decoded.gear[1:] == decoded.gear[:-1])
    lasting = memory(np.where(inside, z, 0.0), seen.t_s, same)
    return found.remembering(before.memory if lasting is None else lasting)


def _moved(rungs: Rungs, found: Estimate) -> Rungs:
    """Return the ladder with the measured gears where they were measured, the others with them.

    A measured gear is drawn towards where the published ladder has it, by how little is known of
    it: else a few seconds of satellite speed would move it over its neighbour.
    """
    shift = found.ln_developments - rungs.ln_developments[found.gears]
    moved = rungs.ln_developments + float(np.median(shift))
    moved[found.gears] = found.ln_developments
    if rungs.expected is not None:
        moved = _drawn(rungs.expected, found)
    return replace(rungs, ln_developments=np.maximum.accumulate(moved))


def _drawn(expected: Floats, found: Estimate) -> Floats:
    """Return the most probable ladder, a gear's departure being Student's t with ``DEPARTURE``.

    Its heavy tails let go of a gear that the rides clearly have elsewhere.
    """
    precision = 1.0 / found.own_variance
    off = found.ln_developments - expected[found.gears]
    scale = robust_middle(off, precision)
    departure = off - scale
    sd, freedom = DEPARTURE
    for _ in range(20):
        firmness = (freedom + 1.0) / (freedom * sd**2 + departure**2)
        departure = precision / (precision + firmness) * (off - scale)
    moved = expected + scale
    moved[found.gears] += departure
    return moved
