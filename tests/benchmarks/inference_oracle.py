"""What the best could do with the same samples: it is told what others must find out.

For the ladder it is told the true gear of every sample, whether the crank drove, and each day's
rollout. For decoding it is told the true ladder, the lag and the channel under which the samples
lie closest to it, how wide they lie (at rest, and by acceleration), and how often things happened
on these rides. It decodes by a hidden Markov model over (gear; driving, turning along, standing),
written for this benchmark alone, so that it errs apart from what it judges.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tests.benchmarks.inference_found import NONE, Found, Named
from tests.benchmarks.inference_truth import true_gears, true_ride

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from ridelab.simulate import SimulatedRide
    from ridelab.telemetry.ride import Ride
    from tests.benchmarks.inference_found import Flags, Floats, Whole
    from tests.benchmarks.inference_truth import TrueRide

_LAGS_S = np.arange(-2.0, 7.01, 0.25)
_LEAST_MPS, _LEAST_RPM = 0.7, 20.0
_MAD = 1.4826
_HUBER = 1.345
_FEWEST = 10
#: Nothing is known across a longer silence of a channel; units that record on change leave 8 s.
_GAP_S = 8.5
_STRAY, _STRAY_DENSITY = 0.01, 0.4


@dataclass(frozen=True)
class Told:
    """One ride with what is told of it: ln(development) less the day's scale, and its spread."""

    true: TrueRide
    y: Floats
    sigma: Floats
    standing: Flags


def oracle(rides: Sequence[SimulatedRide], read: Sequence[Ride]) -> Found:
    """Return what an oracle finds; its developments are those of a rollout of one metre."""
    told = tell(rides, read)
    gears = true_gears(rides)
    ladder = {gear: gears[gear].ln_ratio for gear in sorted(gears)}
    habits = _habits(told)
    return Found(tuple(_decoded(one, ladder, habits) for one in told), told_ladder(told))


def oracle_ladder(rides: Sequence[SimulatedRide], read: Sequence[Ride]) -> dict[int, float]:
    """Return only ln(ratio) of every gear."""
    return told_ladder(tell(rides, read))


def tell(rides: Sequence[SimulatedRide], read: Sequence[Ride]) -> list[Told]:
    """Return every ride with what is told of it."""
    return [
        _told(
            true_ride(ride),
            one,
            ride.scenario.sensors.cadence_hold_s or ride.scenario.sensors.hold_s,
        )
        for ride, one in zip(rides, read, strict=True)
    ]


def told_ladder(told: Sequence[Told]) -> dict[int, float]:
    """Return for each gear Huber's location of its samples, those near a shift left out."""
    kept = [one.true.driven & one.true.away & np.isfinite(one.y) for one in told]
    gear = np.concatenate([one.true.gear[keep] for one, keep in zip(told, kept, strict=True)])
    y = np.concatenate([one.y[keep] for one, keep in zip(told, kept, strict=True)])
    sigma = np.concatenate([one.sigma[keep] for one, keep in zip(told, kept, strict=True)])
    numbers, counts = np.unique(gear, return_counts=True)
    return {
        int(number): _huber(y[gear == number], sigma[gear == number])
        for number, count in zip(numbers, counts, strict=True)
        if number != NONE and count >= _FEWEST
    }


def _huber(y: Floats, sigma: Floats) -> float:
    middle = float(np.median(y))
    for _ in range(30):
        z = np.abs(y - middle) / sigma
        weight = np.minimum(1.0, _HUBER / np.maximum(z, 1e-12)) / sigma**2
        middle = float((weight * y).sum() / weight.sum())
    return middle


def _column(ride: Ride, name: str) -> Floats:
    return ride.samples[name].fill_null(float("nan")).to_numpy().astype(np.float64)


def _held(t: Floats, cadence: Floats, hold_s: float) -> Flags:
    """Mark the repetitions of the last cadence before it drops to zero: told how long they last."""
    held = np.zeros(len(t), dtype=bool)
    for stop in (np.flatnonzero((cadence[1:] == 0) & (cadence[:-1] > 0)) + 1).tolist():
        at = stop - 1
        while at > 0 and cadence[at - 1] == cadence[stop - 1] and t[stop] - t[at] <= hold_s + 0.5:
            held[at] = True
            at -= 1
    return held


def _told(true: TrueRide, ride: Ride, hold_s: float) -> Told:
    """Choose channel and lag by the truth; the scale of the day is the median over the ride."""
    t, cadence = _column(ride, "t_s"), _column(ride, "cadence_rpm")
    usual = true.driven & true.away
    with np.errstate(invalid="ignore", divide="ignore"):
        difference = np.diff(_column(ride, "distance_m"), prepend=np.nan) / np.diff(t, prepend=-1.0)
    best: tuple[float, float, Floats] | None = None
    for channel in (_column(ride, "speed_mps"), difference):
        known = np.isfinite(channel)
        for lag_s in _LAGS_S if known.sum() > _FEWEST else ():
            speed = shifted(t, channel, known, lag_s)
            off = _ln_development(speed, cadence) - true.ln_ratio
            inside = off[usual & np.isfinite(off)]
            if len(inside) < _FEWEST:
                continue
            scale = float(np.median(inside))
            spread = _MAD * float(np.median(np.abs(inside - scale)))
            if best is None or spread < best[0]:
                best = (spread, scale, speed)
    if best is None:
        nothing = np.full(len(t), np.nan)
        return Told(true, nothing, np.ones(len(t)), cadence == 0)
    _, scale, speed = best
    y = _ln_development(speed, cadence) - scale
    sigma = _sigma(t, speed, cadence, y - true.ln_ratio, usual)
    held = _held(t, cadence, hold_s)
    return Told(
        true, np.where(held, np.nan, y), sigma, held | (cadence == 0) | (speed < _LEAST_MPS)
    )


def shifted(t: Floats, channel: Floats, known: Flags, lag_s: float) -> Floats:
    """Return the channel as it reads this much later, nan further than a gap from any value."""
    at = t + lag_s
    late = np.interp(at, t[known], channel[known])
    after = np.searchsorted(t[known], at).clip(1, known.sum() - 1)
    late[t[known][after] - t[known][after - 1] > _GAP_S] = np.nan
    return late


def _ln_development(speed: Floats, cadence: Floats) -> Floats:
    with np.errstate(invalid="ignore", divide="ignore"):
        usable = (speed > _LEAST_MPS) & (cadence > _LEAST_RPM)
        return np.where(usable, np.log(60.0 * speed / cadence), np.nan)


def _sigma(t: Floats, speed: Floats, cadence: Floats, off: Floats, usual: Flags) -> Floats:
    """Spread of a sample: told from the residuals, one part at rest, one that acceleration adds."""
    with np.errstate(invalid="ignore", divide="ignore"):
        gaining = np.abs(np.gradient(np.log(np.maximum(speed, _LEAST_MPS)), t))
        gaining += np.abs(np.gradient(np.log(np.maximum(cadence, _LEAST_RPM)), t))
    gaining = np.nan_to_num(gaining)
    known = usual & np.isfinite(off)
    calm = known & (gaining <= np.median(gaining[known]))
    rest = _MAD * float(np.median(np.abs(off[calm])))
    lively = known & ~calm
    if lively.sum() < _FEWEST:
        return np.full(len(t), rest)
    all_of_it = _MAD * float(np.median(np.abs(off[lively])))
    by_gain = np.sqrt(max(all_of_it**2 - rest**2, 0.0)) / float(np.median(gaining[lively]))
    return np.asarray(np.hypot(rest, by_gain * gaining))


#: What the crank does: drive the wheel, turn along without driving it, stand.
_MODES = 3


@dataclass(frozen=True)
class Habits:
    """How often things happened on these rides, and what the records of each mode look like.

    Attributes:
        changes: rates from mode to mode, per second; rows sum to zero.
        shift_hz: shifts per second in each mode.
        reach: mean size of a shift, in ln(ratio).
        standing: share of each mode's records without a development.
        excess: mean of ln(development) over the gear's in the two modes that do not drive.
    """

    changes: Floats
    shift_hz: Floats
    reach: float
    standing: Floats
    excess: tuple[float, float]


def _modes(true: TrueRide) -> Whole:
    return np.where(true.coupled, 0, np.where(true.turning, 1, 2))


def _habits(told: Sequence[Told]) -> Habits:
    """Count what happened on these rides."""
    modes = [_modes(one.true) for one in told]
    changes, shifts = np.zeros((_MODES, _MODES)), np.full(_MODES, 0.5)
    seconds, jumps = np.full(_MODES, 1.0), [np.array([0.1])]
    for one, mode in zip(told, modes, strict=True):
        steps = np.diff(one.true.t_s)
        np.add.at(changes, (mode[:-1], mode[1:]), 1.0)
        np.add.at(seconds, mode[:-1], steps)
        moved = np.abs(np.diff(one.true.ln_ratio))
        np.add.at(shifts, mode[1:], (moved > 0).astype(float))
        jumps.append(moved[moved > 0])
    rates = np.maximum(changes, 0.5) / seconds[:, None]
    np.fill_diagonal(rates, 0.0)
    mode, standing = np.concatenate(modes), np.concatenate([one.standing for one in told])
    over = np.concatenate([one.y - one.true.ln_ratio for one in told])
    return Habits(
        changes=rates - np.diag(rates.sum(axis=1)),
        shift_hz=shifts / seconds,
        reach=float(np.concatenate(jumps).mean()),
        standing=np.clip([_mean(standing[mode == m]) for m in range(_MODES)], 1e-4, 1.0 - 1e-3),
        excess=(_excess(over[mode == 1]), _excess(over[mode == 2])),
    )


def _mean(values: Flags | Floats) -> float:
    return float(values.mean()) if len(values) else 0.5


def _excess(over: Floats) -> float:
    known = over[np.isfinite(over)]
    return max(_mean(known), 0.02) if len(known) else 0.2


def _decoded(told: Told, ladder: Mapping[int, float], habits: Habits) -> Named:
    """Name the gear of highest posterior; nothing on a drivetrain without gears."""
    if not ladder:
        nothing = np.full(len(told.y), NONE)
        return Named(nothing, nothing != NONE)
    rungs = np.array(list(ladder.values()))
    posterior = _posterior(_likelihood(told, rungs, habits), told.true.t_s, rungs, habits)
    by_mode = posterior.reshape(len(told.y), _MODES, len(rungs))
    best: Whole = by_mode.sum(axis=1).argmax(axis=1)
    return Named(np.array(list(ladder))[best], by_mode[:, 0].sum(axis=1) > 0.5)


def _likelihood(told: Told, rungs: Floats, habits: Habits) -> Floats:
    """Likelihood of each record in each state: mode by mode, every gear."""
    from scipy.stats import exponnorm, t

    like = np.ones((len(told.y), _MODES, len(rungs)))
    like[told.standing] = habits.standing[:, None]
    known = np.isfinite(told.y)
    over, sigma = told.y[known, None] - rungs, told.sigma[known, None]
    stray = _STRAY * _STRAY_DENSITY
    density = [
        t.pdf(over / sigma, 5) / sigma,
        *(
            np.nan_to_num(exponnorm.pdf(over, excess / sigma, scale=sigma))
            for excess in habits.excess
        ),
    ]
    like[known] = (1.0 - habits.standing)[:, None] * (
        (1.0 - _STRAY) * np.stack(density, axis=1) + stray
    )
    return like.reshape(len(told.y), -1)


def _posterior(like: Floats, t_s: Floats, rungs: Floats, habits: Habits) -> Floats:
    """Run forward and backward (Rabiner 1989) with the transitions exp(Q dt)."""
    from scipy.linalg import expm

    since = np.diff(t_s, prepend=t_s[0] - 1.0).clip(0.0, 60.0)
    lengths, step_of = np.unique(since, return_inverse=True)
    moves = [np.asarray(expm(_rates(rungs, habits) * length)) for length in lengths]
    forward = np.empty_like(like)
    now = like[0] / like[0].sum()
    forward[0] = now
    for i in range(1, len(like)):
        now = (now @ moves[step_of[i]]) * like[i]
        now /= now.sum()
        forward[i] = now
    now = np.ones(like.shape[1])
    for i in range(len(like) - 1, 0, -1):
        now = moves[step_of[i]] @ (now * like[i])
        now /= now.max()
        forward[i - 1] *= now
    return np.asarray(forward / forward.sum(axis=1, keepdims=True))


def _rates(rungs: Floats, habits: Habits) -> Floats:
    """Return the rates between states: a mode changes, or a gear does."""
    count = len(rungs)
    near = np.exp(-np.abs(rungs[:, None] - rungs) / habits.reach)
    np.fill_diagonal(near, 0.0)
    near /= np.maximum(near.sum(axis=1, keepdims=True), 1e-12)
    np.fill_diagonal(near, -near.sum(axis=1))
    rates = np.kron(habits.changes, np.eye(count))
    return np.asarray(rates + np.kron(np.diag(habits.shift_hz), near))
