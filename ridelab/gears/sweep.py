"""The recursion in one direction, over chunks of a ride side by side.

A chunk does not know at first what the one before it will pass on: it starts from a guess, and
again from what that one then found. Most messages soon forget how they began, and agree. Where two
gears lie so close that hardly a sample tells them apart, a message remembers which of them it was
for many chunks, and would creep on by one a round. But a chunk is a linear map of messages, and
what it remembers has few dimensions: what a few rounds have shown it to make of others foretells
what it makes of the next. That is a guess as good as any, and the round after shows whether it
holds; at the latest all is known after as many rounds as there are chunks.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Indices = NDArray[np.intp]

#: A sample makes no state less likely than this beside the likeliest: so no product underflows, and
#: impossible observations leave probabilities.
LEAST = 1e-35
#: A message is known once none of its entries changes by this share of itself. Further steps only
#: lessen such a difference (Birkhoff 1957, "Extensions of Jentzsch's theorem").
AGREED = 1e-9
#: Steps from one scaling of a message, and look whether it agrees, to the next.
LOOK_EVERY = 4
#: Messages are foretold by the last so many rounds, if so many chunks still began otherwise than
#: the one before them ends, and at most so often; entries below this share of a message hardly
#: count.
ROUNDS, MANY, TIMES, SMALL = 3, 3, 4, 1e-6
#: Rounds that differ by less than the square root of this began alike.
SAME = 1e-14


class _Tried(NamedTuple):
    """What a round made of what it began with.

    ``began``, ``ended``: (modes, chunks, gears) messages passed on to and by each chunk;
    ``ln_scale``: (chunks,) logarithm of what those passed on were scaled by.
    """

    began: Floats
    ended: Floats
    ln_scale: Floats


class Sweep:
    """What the samples before one say of its state.

    The message to a sample is the one to the sample before, times that sample's weights, through
    the transition (``same`` and ``moved`` on modes, ``gears`` on the gears of what moved, ``more``
    for those who stay), now and then scaled to one in all. Backward, it is the same over reversed
    samples and transposed transitions. Arrays are (samples of a chunk, modes, chunks, gears), so
    that each step is one product for all modes and one for all gears.
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
        """``steps``: (samples of a chunk, chunks), which transition leads to each sample."""
        self.weights, self.more = weights, more
        self.modes, self.gears = np.concatenate([same, moved], axis=2), gears
        self.steps = steps.copy()
        self.steps[0, 0] = steps[0, -1]
        #: Most rides are recorded at one interval: then one matrix serves all chunks.
        self.alike = (self.steps == self.steps[:, :1]).all(axis=1).tolist()
        self.known: Floats = np.empty(weights.shape)
        self.scales = np.ones(steps.shape)

    def messages(self) -> tuple[Floats, Floats]:
        """Return the message to each sample, and its scale: (samples of a chunk, chunks).

        The product of the scales is the likelihood of the samples before the last.
        """
        # Neighbours unlike: else no round would show what chunks make of one rather than the other.
        began = np.ones_like(self.known[0])
        began[..., 1::2] = 2.0
        self._round(began, np.arange(began.shape[1]), fresh=True)
        tried: list[_Tried] = []
        times = 0
        while True:
            ended = self.known[-1] * self.weights[-1]
            late = self._late(began, ended)
            if not late.size:
                self.scales[0, 0] = 1.0
                return self.known, self.scales
            tried.append(_Tried(began.copy(), ended, np.log(self.scales).sum(axis=0)))
            if len(tried) == ROUNDS and late.size >= MANY and times < TIMES:
                ended = foretold(tried)
                late, times = self._late(began, ended), times + 1
            tried = tried[-ROUNDS + 1 :]
            began[:, late] = ended[:, late - 1]
            if 2 * late.size > began.shape[1]:
                late = np.arange(began.shape[1])
            self._round(began[:, late], late)

    @staticmethod
    def _late(began: Floats, ended: Floats) -> Indices:
        """Return the chunks that began otherwise than the one before them ends."""
        return np.asarray(1 + np.flatnonzero(~_agree(ended[:, :-1], began[:, 1:])))

    def _round(self, began: Floats, rows: Indices, fresh: bool = False) -> None:
        """Carry messages through the chunks ``rows`` until they agree with those known before."""
        modes, chunks, gears = self.known.shape[1:]
        all_of_them = len(rows) == chunks
        chosen = slice(None) if all_of_them else rows
        weights, steps = self.weights[:, :, chosen], self.steps[:, chosen]
        more = None if self.more is None else self.more[:, chosen]
        known = self.known if all_of_them else np.empty(weights.shape)
        count = len(weights)
        # What reaches a sample, and below it the same after a change of gear.
        both = np.empty((2 * modes, *began.shape[1:]))
        reached, onward = both[:modes], both[modes:]
        flat, flat_onward, flat_both = (
            reached.reshape(-1, gears),
            onward.reshape(-1, gears),
            both.reshape(2 * modes, -1),
        )
        reached[:] = began
        for at in range(count):
            if self.alike[at]:
                step = steps[at, 0]
                np.matmul(flat, self.gears[step], out=flat_onward)
                message = (self.modes[step] @ flat_both).reshape(began.shape)
            else:
                step, now = steps[at], reached.swapaxes(0, 1)
                moved = np.concatenate([now, now @ self.gears[step]], axis=1)
                message = (self.modes[step] @ moved).swapaxes(0, 1)
            if more is not None:
                message[0] += more[at] * reached[0]
            if at % LOOK_EVERY == 0:
                message = self._scaled(message, rows, at)
                if not fresh and _agree(message, self.known[at][:, chosen]).all():
                    count = at
                    break
            known[at] = message
            np.multiply(message, weights[at], out=reached)
        if not all_of_them:
            self.known[:count, :, rows] = known[:count]

    def _scaled(self, message: Floats, rows: Indices, at: int) -> Floats:
        if at == 0 and rows[0] == 0:
            message[:, 0] = 1.0
        self.scales[at, rows] = scale = np.einsum("mcg->c", message)
        return np.asarray(np.maximum(message / scale[:, None], LEAST))


def foretold(tried: list[_Tried]) -> Floats:
    """Return what each chunk will pass on, (modes, chunks, gears), as far as rounds have shown.

    Chunk by chunk, what it will begin with is written as a weighted sum of what it began with in
    the rounds (least squares of relative errors), and what it passes on is the same sum of what it
    then passed on.
    """
    began, ended = (
        np.stack(ends).transpose(2, 0, 1, 3)
        for ends in ([one.began for one in tried], [one.ended for one in tried])
    )
    shape = began.shape
    began, ended = began.reshape(*shape[:2], -1), ended.reshape(*shape[:2], -1)
    sums = began.sum(axis=2, keepdims=True)
    ln_scale = np.stack([one.ln_scale for one in tried], axis=1)
    scale = np.exp(ln_scale - ln_scale.max(axis=1, keepdims=True))[:, :, None]
    began, unscaled = began / sums, ended * (scale / sums)
    weighted = began / (began.mean(axis=1, keepdims=True) + SMALL) ** 2
    products = weighted @ began.swapaxes(1, 2)
    shares = np.linalg.pinv(products, rcond=SAME, hermitian=True) @ weighted
    told = ended[:, -1].copy()
    totals = told.sum(axis=1).tolist()
    for chunk in range(1, len(told)):
        ends = (shares[chunk] @ told[chunk - 1]) @ unscaled[chunk]
        total = float(ends.sum())
        if total > 0.0:
            told[chunk] = np.maximum(ends * (totals[chunk] / total), LEAST)
    return np.asarray(told.reshape(shape[0], *shape[2:]).swapaxes(0, 1))


def _agree(one: Floats, other: Floats) -> NDArray[np.bool_]:
    """Return for each chunk whether no entry of its message differs."""
    return np.asarray((np.abs(one - other) <= AGREED * one).all(axis=(0, 2)))
