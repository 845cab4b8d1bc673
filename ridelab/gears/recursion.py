"""Likelihood of each sample in each state -> probability of each state, all samples considered.

The forward-backward recursion of a hidden Markov model (Rabiner 1989, "A tutorial on hidden Markov
models", section III) whose state is a pair (mode, gear), in continuous time. A loop over samples
would keep Python busy for most of the time that a ride takes, so the ride is cut into chunks that
take their steps side by side. A chunk does not know at first what the one before it will pass on:
it starts from a guess, and again from what that one then found. Messages soon forget how they
began, and agree; at the latest after as many rounds as there are chunks.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Indices = NDArray[np.intp]

#: Intervals between samples are rounded to this, seconds.
TICK_S = 0.1
#: A sample makes no state less likely than this beside the likeliest: so no product underflows, and
#: impossible observations leave probabilities.
LEAST = 1e-35
#: A message is known once none of its entries changes by this share of itself. Further steps only
#: lessen such a difference (Birkhoff 1957, "Extensions of Jentzsch's theorem").
AGREED = 1e-11
#: Steps from one scaling of a message, and look whether it agrees, to the next.
LOOK_EVERY = 4
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
    before, scales = _Sweep(
        weights,
        _cut(steps, length),
        None if more is None else _cut(more, length),
        same.swapaxes(1, 2),
        moved.swapaxes(1, 2),
        gears,
    ).messages()
    next_steps = np.append(steps[1:], steps[-1])
    next_more = None if more is None else np.concatenate([more[1:], np.zeros_like(more[:1])])
    after, _ = _Sweep(
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


class _Sweep:
    """The recursion in one direction: what the samples before one say of its state.

    The message to a sample is the one to the sample before, times that sample's weights, through
    the transition (``same`` and ``moved`` on modes, ``gears`` on the gears of what moved, ``more``
    for those who stay), now and then scaled to one in all. Backward, it is the same over reversed
    samples and transposed transitions. Arrays are (samples of a chunk, modes, chunks, gears), so
    that each step is one
    product for all modes and one for all gears.
    """

    def __init__(
        self,
        weights: Floats,
        steps: Indices,
        more: Floats | None,
        same: Floats,
        moved: Floats,
        gears: Floats,
    ) -> None:
        self.weights, self.more = weights, more
        self.same, self.moved, self.gears = same, moved, gears
        self.steps = steps.copy()
        self.steps[0, 0] = steps[0, -1]
        #: Most rides are recorded at one interval: then one matrix serves all chunks.
        self.alike = (self.steps == self.steps[:, :1]).all(axis=1).tolist()
        self.known = np.empty(weights.shape)
        self.scales = np.ones(steps.shape)

    def messages(self) -> tuple[Floats, Floats]:
        """Return the message to each sample, and its scale: (samples of a chunk, chunks).

        The product of the scales is the likelihood of the samples before the last.
        """
        passed_on = np.ones_like(self.known[0])
        self._round(passed_on, slice(None), fresh=True)
        while True:
            arriving = self.known[-1, :, :-1] * self.weights[-1, :, :-1]
            late = 1 + np.flatnonzero(~_agree(arriving, passed_on[:, 1:]))
            if not late.size:
                self.scales[0, 0] = 1.0
                return self.known, self.scales
            passed_on[:, 1:] = arriving
            few = 2 * late.size < passed_on.shape[1]
            self._round(passed_on, late if few else slice(None))

    def _round(self, passed_on: Floats, rows: Indices | slice, fresh: bool = False) -> None:
        """Carry messages through the chunks ``rows`` until they agree with those known before."""
        reached = passed_on[:, rows]
        for at in range(len(self.weights)):
            message = self._step(reached, rows, at)
            if at % LOOK_EVERY == 0:
                message = self._scaled(message, rows, at)
                if not fresh and _agree(message, self.known[at][:, rows]).all():
                    return
            self.known[at][:, rows] = message
            reached = message * self.weights[at][:, rows]

    def _step(self, reached: Floats, rows: Indices | slice, at: int) -> Floats:
        """Return the messages to one sample of each chunk of ``rows``."""
        if self.alike[at]:
            step = self.steps[at, 0]
            onward = reached.reshape(-1, reached.shape[2]) @ self.gears[step]
            kept = self.same[step] @ reached.reshape(len(reached), -1)
            kept += self.moved[step] @ onward.reshape(len(reached), -1)
            message: Floats = kept.reshape(reached.shape)
        else:
            step, now = self.steps[at, rows], reached.swapaxes(0, 1)
            onward = self.moved[step] @ (now @ self.gears[step])
            message = (self.same[step] @ now + onward).swapaxes(0, 1)
        if self.more is not None:
            message[0] += self.more[at, rows] * reached[0]
        return message

    def _scaled(self, message: Floats, rows: Indices | slice, at: int) -> Floats:
        if at == 0 and (isinstance(rows, slice) or rows[0] == 0):
            message[:, 0] = 1.0
        self.scales[at, rows] = scale = np.einsum("mcg->c", message)
        return np.asarray(np.maximum(message / scale[:, None], LEAST))


def _agree(one: Floats, other: Floats) -> NDArray[np.bool_]:
    """Return for each chunk whether no entry of its message differs."""
    return np.asarray((np.abs(one - other) <= AGREED * one).all(axis=(0, 2)))
