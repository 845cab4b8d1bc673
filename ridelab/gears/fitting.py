"""A ladder placed and rides observed -> decoded and measured together, until both agree."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from ridelab.gears.decode import decode
from ridelab.gears.effort import driven_evidence
from ridelab.gears.ladder import LEAST_S
from ridelab.gears.measured import seconds_in_gear
from ridelab.gears.mixture import robust_middle
from ridelab.gears.noise import FLOOR, Noise, fitted, memory
from ridelab.gears.spells import estimate, joined, spells_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from ridelab.gears.decode import Decoded
    from ridelab.gears.ladder import Rungs
    from ridelab.gears.observations import Floats, Observations
    from ridelab.gears.spells import Estimate, Spells

#: Decoding and measuring are repeated until they agree, at most this often.
MOST_PASSES = 3
#: They agree if no gear, ride or noise moves by more than this share of the noise of a sample.
SETTLED = 0.15
#: A gear that nobody published is judged by so many rides, those that go on nearest to it for
#: longest: within this of it, in ln(development).
RIDES, NEAR = 8, 0.02
#: Of more rides than this, so many are fitted first: all are then decoded where those have the
#: ladder, which seldom moves any more.
MANY_RIDES, FIRST_RIDES = 16, 8
#: Readings from which on a ride tells its own timing.
LEARNT_S = 360
#: Evidence against drive, ln(likelihood ratio), in all and for each second, from which on a gear
#: that nobody published is none.
AGAINST_DRIVE, AGAINST_SHARE = 3.0, 0.6
#: The crank surely drove, or rolled along, at this probability and speed.
SURE, ROLLING_MPS = 0.95, 2.0
#: A gear's departure from its published ratio: spread, and degrees of freedom of Student's t.
DEPARTURE = (0.004, 3.0)


@dataclass(frozen=True)
class Fit:
    """A ladder in use and what it makes of the rides that have observations, in their order.

    ``offsets`` and ``noise`` have one entry a ride: what it was decoded with. ``shifts``: the
    offsets that fitting began with. ``spells``: of each ride.
    """

    rungs: Rungs
    decoded: tuple[Decoded, ...]
    estimate: Estimate | None
    offsets: Floats
    noise: tuple[Noise, ...]
    driven: tuple[Floats | None, ...]
    shifts: Floats
    spells: tuple[Spells, ...] = ()


def fit_ladder(
    seen: Sequence[Observations], rungs: Rungs, shifts: Floats, first: Fit | None = None
) -> Fit:
    """Decode with the ladder and measure it from what was decoded, until both agree.

    ``shifts``: of each ride, to begin with; ``first``: the same ladder as fitted to some of many
    rides; asked for here if there are many and it is not given.
    """
    rungs = _judged_by_few(seen, rungs, shifts)
    if len(seen) > MANY_RIDES:
        if first is None:
            some = spread(len(seen), FIRST_RIDES)
            first = _fitted([seen[ride] for ride in some], rungs, shifts[some])
        rungs = _begun(rungs, first)
    return _fitted(seen, rungs, shifts)


def spread(count: int, few: int) -> NDArray[np.int64]:
    """Return ``few`` of so many rides, evenly spread over time, in order; all if they are fewer."""
    return np.unique(np.linspace(0, count - 1, min(few, count)).round().astype(np.int64))


def _begun(rungs: Rungs, first: Fit) -> Rungs:
    """Return the ladder with the gears where a first fit measured them, the others with them."""
    if first.estimate is None or not np.isin(first.rungs.numbers, rungs.numbers).all():
        return rungs
    if rungs.ln_ratios is None and first.rungs.count < rungs.count:
        return rungs
    place = {int(number): at for at, number in enumerate(rungs.numbers)}
    measured = first.rungs.numbers[first.estimate.gears]
    at = np.array([place[int(number)] for number in measured])
    found = first.rungs.ln_developments[first.estimate.gears]
    moved = rungs.ln_developments + float(np.median(found - rungs.ln_developments[at]))
    moved[at] = found
    return replace(rungs, ln_developments=np.maximum.accumulate(moved))


def fit_beside(seen: Sequence[Observations], rungs: Rungs, before: Sequence[Spells]) -> Fit:
    """Fit rides beside the spells of each of others, which stay as they were decoded."""
    if not seen:
        nothing = np.empty(0)
        return Fit(rungs, (), estimate(joined(before), len(before)), nothing, (), (), nothing)
    return _fitted(seen, rungs, np.zeros(len(seen)), before)


def _fitted(
    seen: Sequence[Observations], rungs: Rungs, shifts: Floats, before: Sequence[Spells] = ()
) -> Fit:
    noise = tuple(one.noise for one in seen)
    offsets, rides = shifts, len(before) + len(seen)
    driven: tuple[Floats | None, ...] = (None,) * len(seen)
    for passed in range(MOST_PASSES):
        decoded = decode_all(seen, rungs, offsets, noise, driven)
        used = Fit(rungs, decoded, None, offsets, noise, driven, shifts)
        driven = _drives(seen, decoded)
        fewer = rungs if before else _driven_long_enough(seen, decoded, driven, rungs)
        if fewer.count < rungs.count:
            return _fitted(seen, fewer, shifts)
        heard = tuple(
            _noise(one, made, own) for one, made, own in zip(seen, decoded, noise, strict=True)
        )
        spells = _spells(seen, decoded, heard)
        found = estimate(joined([*before, *spells]), rides, learning=False)
        if found is None:
            return replace(used, spells=spells)
        moved = _moved(rungs, found)
        far = np.abs(moved.ln_developments - rungs.ln_developments)[found.gears].max()
        usual, usual_before = typical(seen, heard), typical(seen, noise)
        own = found.ride_offsets[len(before) :]
        far = max(far, np.abs(own - offsets).max(), np.abs(usual - usual_before).max())
        rungs, offsets = moved, own
        # What tells of drive was learnt from the first decoding, and serves from the second on.
        if passed and far <= SETTLED * float(np.median(usual)):
            break
        noise = heard
    found = estimate(joined([*before, *spells]), rides)
    return replace(used, rungs=rungs, estimate=found, spells=spells)


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


def _judged_by_few(seen: Sequence[Observations], rungs: Rungs, shifts: Floats) -> Rungs:
    """Return the ladder without gears that nobody published and no ride seems to have driven.

    Asked of the rides that would have driven them for longest, which spares decoding all others
    with gears that there are not.
    """
    if rungs.ln_ratios is None or len(seen) <= RIDES:
        return rungs
    strangers = rungs.ln_developments[np.isnan(rungs.ln_ratios)]
    if not len(strangers):
        return rungs
    near = [_seconds_near(one, strangers + by) for one, by in zip(seen, shifts, strict=True)]
    longest = np.argsort(near, axis=0, kind="stable")[-RIDES:]
    chosen = np.unique(longest)
    some = [seen[ride] for ride in chosen]
    decoded = decode_all(some, rungs, shifts[chosen], [one.noise for one in some])
    return _driven_long_enough(some, decoded, _drives(some, decoded), rungs)


def _seconds_near(seen: Observations, ln_developments: Floats) -> Floats:
    """Return how long a ride went on near each development."""
    off = np.abs(seen.ln_development[:, None] - ln_developments)
    return np.asarray(seen.seconds @ (off < NEAR))


def _drives(seen: Sequence[Observations], decoded: Sequence[Decoded]) -> tuple[Floats | None, ...]:
    return tuple(_driven(one, made) for one, made in zip(seen, decoded, strict=True))


def _driven(seen: Observations, decoded: Decoded) -> Floats | None:
    """Return what speed and height say of whether the crank drove, from where that is sure."""
    moving = seen.speed_mps > ROLLING_MPS
    driving = moving & (decoded.coupled_probability > SURE) & (decoded.gear_probability > SURE)
    return driven_evidence(seen.gain_mps2, seen.speed_mps, driving, moving & seen.standing)


def _spells(
    seen: Sequence[Observations], decoded: Sequence[Decoded], noise: Sequence[Noise]
) -> tuple[Spells, ...]:
    return tuple(spells_of(*one) for one in zip(seen, decoded, noise, strict=True))


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
    seconds = seconds_in_gears(seen, decoded, rungs)
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


def seconds_in_gears(
    seen: Sequence[Observations], decoded: Sequence[Decoded], rungs: Rungs
) -> Floats:
    """Return how long each gear was engaged over all rides."""
    by_ride = [seconds_in_gear(o, m, rungs.count) for o, m in zip(seen, decoded, strict=True)]
    return np.asarray(np.sum(by_ride, axis=0))


def typical(seen: Sequence[Observations], noise: Sequence[Noise]) -> Floats:
    """Return the usual noise of each ride, at the samples whose wheel turned."""
    return np.array([_middle(one.total_sigma(own)) for one, own in zip(seen, noise, strict=True)])


def _middle(sigma: Floats) -> float:
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
