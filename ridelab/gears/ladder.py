"""A ladder in use, what is stated of it beforehand, and why there may be none."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from ridelab.drivetrain.ladder import Ladder
    from ridelab.gears.observations import Floats

#: A gear is told of only if engaged and coupled for this long: the contract of ``measured_gears``.
LEAST_S = 10.0


@dataclass(frozen=True)
class Stated:
    """What is published of a drivetrain and stated of a wheel, before any ride speaks.

    ``rollout_m``: metres per wheel turn; nominal unless ``rollout_is_measured``.
    ``wheel_is_set``: a recording device may have made its speeds from a wheel size set in it.
    """

    ladder: Ladder | None = None
    rollout_m: float | None = None
    rollout_is_measured: bool = False
    wheel_is_set: bool = True

    @property
    def stepless(self) -> bool:
        """Whether the drivetrain is published as stepless."""
        return self.ladder is not None and self.ladder.stepless


@dataclass(frozen=True)
class Rungs:
    """A ladder in use: ln(development) of each gear, lowest first.

    ``ln_ratios`` are the published ones, nan for a gear that nobody published, None without a
    published ladder; ``numbers`` are the gears' numbers: published gears from 1, then those that
    nobody published, or in order without a published ladder. ``doubts`` say, in words, where the
    rides leave the placement open or do not fit the published ladder; ``placement_probability`` and
    ``unexplained_share`` (of the steady pedalling) put two of them in numbers. ``expected``: where
    the published ladder as placed has the gears, None without one; ``log_prior``: of that
    place, its rollout and departures; ``members``: ln of each combination's ratio over its gear's,
    (most combinations of a gear, gears), rows of shorter gears repeated; None where every gear is a
    single one; ``count_probabilities``: of each number of gears that may have been ridden, without
    a published ladder, the most probable first.
    """

    ln_developments: Floats
    numbers: NDArray[np.int64]
    ln_ratios: Floats | None = None
    doubts: tuple[str, ...] = ()
    placement_probability: float | None = None
    unexplained_share: float | None = None
    expected: Floats | None = None
    log_prior: float = 0.0
    members: Floats | None = None
    count_probabilities: tuple[tuple[int, float], ...] = ()

    @property
    def count(self) -> int:
        """Return the number of gears."""
        return len(self.ln_developments)

    def only(self, kept: NDArray[np.bool_]) -> Rungs:
        """Return the ladder with some of its gears; gears that nobody published count anew."""
        found = replace(
            self,
            ln_developments=self.ln_developments[kept],
            numbers=self.numbers[kept],
            ln_ratios=None if self.ln_ratios is None else self.ln_ratios[kept],
            expected=None if self.expected is None else self.expected[kept],
            members=None if self.members is None else self.members[:, kept],
        )
        if self.ln_ratios is None:
            return replace(found, numbers=np.arange(1, found.count + 1))
        return found


def counted(ln_developments: Floats) -> Rungs:
    """Return a ladder that nobody published: gears numbered in order."""
    return Rungs(ln_developments, np.arange(1, len(ln_developments) + 1))


@dataclass(frozen=True)
class NoLadder:
    """Why no ladder can be named; ``continuous`` where the development varies without steps."""

    reason: str
    continuous: bool = False
