"""Likelihood of each sample in each state -> probability of each state, all samples considered.

The forward-backward recursion of a hidden Markov model (Rabiner 1989, "A tutorial on hidden Markov
models", section III) whose state is a pair (mode, gear), in continuous time. A loop over samples
would keep Python busy for most of the time that a ride takes, so the ride is cut into chunks that
take their steps side by side (``sweep``).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from ridelab.gears.sweep import LEAST, Sweep

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Indices = NDArray[np.intp]

#: Intervals between samples are rounded to this, seconds.
TICK_S = 0.1
#: Chunks side by side, and the least samples of each.
CHUNKS, SHORTEST = 64, 32
#: Products of more multiplications BLAS hands to threads, which on a busy machine wait 10 ms for
#: each other: with many gears, fewer chunks.
THREADED = 2**18


class Transitions(NamedTuple):
    """Which transition leads to each sample: same[i] x identity + moved[i] x gears[i].

    ``step_of``: (samples,) index into the others, the first unused; ``same``, ``moved``: (steps,
    modes, modes) probability of coming from mode to mode without and with a change of gear, rows of
    both together sum to one; ``gears``: (steps, gears, gears) where a change leads, likewise.
    """

    step_of: Indices
    same: Floats
    moved: Floats
    gears: Floats


@dataclass(frozen=True)
class Posterior:
    """What all samples together say of each.

    Attributes:
        states: (samples, modes, gears) probability of each state, one in all at each sample.
        log_likelihood: of all samples, every state as likely as another at the first; natural.
        stayed: (samples, gears) probability of mode 0 of a gear at this sample and at the one
            before, 0 at the first; None where no ``stay`` was given.
    """

    states: Floats
    log_likelihood: float
    stayed: Floats | None


def transitions(
    t_s: Floats, quiet_hz: Floats, shifting_hz: Floats, gears_hz: Floats, longest_s: float
) -> Transitions:
    """Return the transitions between samples at ``t_s``, seconds, in rising order.

    Rates are per second, from row to column. ``quiet_hz``: from mode to mode with the gear kept;
    ``shifting_hz``: with a change of gear; the diagonal of the first is minus the sum of all that
    leave, so that both rows together sum to zero. ``gears_hz``: from gear to gear, rows sum to
    zero. A silence longer than ``longest_s`` counts as that long.

    Modes follow the generator of both; the part of that in which nothing shifted follows the first
    alone. Where a gear changed once or more, it went where ``gears_hz`` leads in that time.
    """
    steps = np.diff(t_s, prepend=t_s[0]).clip(0.0, longest_s) / TICK_S
    ticks, step_of = np.unique(np.round(steps).astype(np.int64), return_inverse=True)
    same = _exponentials(quiet_hz, ticks)
    moved = np.maximum(_exponentials(quiet_hz + shifting_hz, ticks) - same, 0.0)
    unmoved = np.exp(np.diag(gears_hz) * ticks[:, None] * TICK_S)
    gears = np.maximum(
        _exponentials(gears_hz, ticks) - unmoved[:, None] * np.eye(len(gears_hz)), 0.0
    )
    total = gears.sum(axis=2, keepdims=True)
    alone = np.broadcast_to(np.eye(len(gears_hz)), gears.shape)
    gears = np.where(total > 0.0, gears / np.where(total > 0.0, total, 1.0), alone)
    return Transitions(step_of, same, moved, gears)


def _exponentials(generator: Floats, ticks: NDArray[np.int64]) -> Floats:
    """Return exp(generator * ticks * TICK_S) for each number of ticks.

    One tick by its Taylor series, exact to rounding for so short a time, and powers of it. scipy's
    expm hands matrices of any size to threads, which on a busy machine wait 10 ms for each other.
    """
    term = one = np.eye(len(generator))
    for order in range(1, 12):
        term = term @ generator * (TICK_S / order)
        one = one + term
    return np.array([np.linalg.matrix_power(one, int(count)) for count in ticks])


def forward_backward(
    emission: Floats,
    moves: Transitions,
    stay: Floats | None = None,
    chunks: int | None = None,
) -> Posterior:
    """Return the posterior of each state at each sample.

    ``emission``: (samples, modes, gears) likelihood of each sample in each state; ``stay``:
    (samples, gears) factor on the likelihood of mode 0 of a gear where the sample before was in
    mode 0 of that gear, too, default 1; ``chunks``: how many, which changes only the time it takes.
    """
    samples, modes, gears = emission.shape
    most = min(CHUNKS, samples // SHORTEST, THREADED // (modes * gears**2))
    length = -(-samples // (chunks or max(most, 1)))
    scale = np.maximum(np.einsum("smg->s", emission), np.finfo(np.float64).tiny)
    weights = _beside(emission, scale, length)
    again = moves.moved[:, 0, 0, None] * np.einsum("sgg->sg", moves.gears)
    kept = (moves.same[:, 0, 0, None] + again)[moves.step_of]
    more = None if stay is None else (stay - 1.0) * kept
    before, scales, after = _messages(weights, moves, more, length)
    before *= weights
    last = before[(samples - 1) % length, :, (samples - 1) // length].sum()
    passed = _joined(scales, samples)
    log_likelihood = float(np.log(scale).sum() + np.log(passed).sum() + np.log(last))
    stayed = None
    if stay is not None:
        stayed = kept * stay * _joined(weights[:, 0] * after[:, 0], samples)
        stayed[1:] *= _joined(before[:, 0], samples)[:-1] / passed[1:, None]
        stayed[0] = 0.0
    before *= after
    total = np.einsum("lmcg->lc", before)
    if stayed is not None:
        stayed /= _joined(total, samples)[:, None]
    states = np.empty((total.size, modes, gears))
    np.divide(before, total[:, None, :, None], out=_cut(states, length).swapaxes(1, 2))
    return Posterior(states[:samples], log_likelihood, stayed)


def _beside(emission: Floats, scale: Floats, length: int) -> Floats:
    """Return the likelihoods over ``scale``: (samples of a chunk, modes, chunks, gears).

    What fills up the last chunk tells of no state.
    """
    cut = _cut(emission, length).swapaxes(1, 2)
    weights = np.empty(cut.shape)
    np.divide(cut, _cut(scale, length)[:, None, :, None], out=weights)
    np.maximum(weights, LEAST, out=weights)
    weights[(len(emission) - 1) % length + 1 :, :, -1] = 1.0
    return weights


def _messages(
    weights: Floats, moves: Transitions, more: Floats | None, length: int
) -> tuple[Floats, Floats, Floats]:
    """Return the messages from before, their scales, and the messages from after."""
    steps, same, moved, gears = moves
    before, scales = Sweep(
        weights,
        _cut(steps, length),
        None if more is None else _cut(more, length),
        same.swapaxes(1, 2),
        moved.swapaxes(1, 2),
        gears,
    ).messages()
    next_steps = np.append(steps[1:], steps[-1])
    next_more = None if more is None else np.concatenate([more[1:], np.zeros_like(more[:1])])
    after, _ = Sweep(
        weights[::-1, :, ::-1],
        _cut(next_steps, length)[::-1, ::-1],
        None if next_more is None else _cut(next_more, length)[::-1, ::-1],
        same,
        moved,
        gears.swapaxes(1, 2),
    ).messages()
    return before, scales, after[::-1, :, ::-1]


def _cut(values: NDArray[Any], length: int) -> NDArray[Any]:
    """Return (samples of a chunk, chunks, ...), the last chunk filled up with the last value."""
    filling = np.repeat(values[-1:], -len(values) % length, axis=0)
    whole = np.concatenate([values, filling]) if len(filling) else values
    return whole.reshape(-1, length, *values.shape[1:]).swapaxes(0, 1)


def _joined(values: NDArray[Any], samples: int) -> NDArray[Any]:
    """Return what ``_cut`` has cut."""
    return values.swapaxes(0, 1).reshape(-1, *values.shape[2:])[:samples]
