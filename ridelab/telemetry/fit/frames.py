"""What framing finds in a FIT file: which message stands where, and what breaks the format."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from ridelab.telemetry.fit.layout import Layout


@dataclass(frozen=True)
class Damage:
    """Where a file breaks its format, as a byte offset, how, and how many bytes that cost."""

    offset: int
    text: str
    lost_bytes: int = 0


@dataclass
class Frames:
    """What stands where; offsets are bytes from the start of the file.

    Attributes:
        parts: offset of the header of each chained part.
        layouts: the layouts in the order of their first use.
        definitions: (offset, number in ``layouts``) of every definition message.
        firsts, counts, kinds: one entry a stretch of equal data messages, in file order: offset of
            the first, how many, number in ``layouts``.
        doubted: whether the checksum of any part is wrong or missing.
        damage: what breaks the format, in file order.
        broken_at: the last damage after which something could not be read.
    """

    parts: list[int] = field(default_factory=list)
    layouts: list[Layout] = field(default_factory=list)
    definitions: list[tuple[int, int]] = field(default_factory=list)
    firsts: list[int] = field(default_factory=list)
    counts: list[int] = field(default_factory=list)
    kinds: list[int] = field(default_factory=list)
    doubted: bool = False
    damage: list[Damage] = field(default_factory=list)
    broken_at: Damage | None = None

    def cut(self, end: int) -> int:
        """Forget all messages that begin or end behind a byte.

        Of one that is cut through, the fields before the cut are kept. Returns where the first of
        the others began; ``end`` itself if there is none.
        """
        begins = end
        while self.firsts:
            first, layout = self.firsts[-1], self.layouts[self.kinds[-1]]
            whole = max((end - first) // layout.size, 0)
            if whole >= self.counts[-1]:
                break
            begins = min(begins, first + whole * layout.size)
            self.counts[-1] = whole
            if not whole:
                del self.firsts[-1], self.counts[-1], self.kinds[-1]
            if begins < end and first <= begins:
                self._keep_torn(begins, layout.before(end - begins))
                break
        while self.definitions and self.definitions[-1][0] >= begins:
            begins = min(begins, self.definitions.pop()[0])
        return begins

    def _keep_torn(self, at: int, layout: Layout) -> None:
        self.firsts.append(at)
        self.counts.append(1)
        self.kinds.append(len(self.layouts))
        self.layouts.append(layout)

    def starts(self) -> list[NDArray[np.int64]]:
        """Of each layout the offsets of its data messages, in file order."""
        first = np.array(self.firsts, np.int64)
        count = np.array(self.counts, np.int64)
        kind = np.array(self.kinds, np.int64)
        order = np.argsort(kind, kind="stable")
        bounds = np.searchsorted(kind[order], np.arange(len(self.layouts) + 1))
        own = [order[bounds[i] : bounds[i + 1]] for i in range(len(self.layouts))]
        return [
            _spread(first[o], count[o], layout.size)
            for o, layout in zip(own, self.layouts, strict=True)
        ]


def _spread(first: NDArray[np.int64], count: NDArray[np.int64], step: int) -> NDArray[np.int64]:
    """Stretches of evenly spaced offsets, one after the other."""
    before = np.cumsum(count) - count
    spread = np.repeat(first - before * step, count)
    spread += step * np.arange(len(spread))
    return spread
