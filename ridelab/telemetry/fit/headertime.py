"""Times in header bytes: the low five bits of a second, counted on from the last known time."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ridelab.telemetry.fit.layout import COMPRESSED, TIMESTAMP
from ridelab.telemetry.fit.values import column, gather

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from ridelab.telemetry.fit.frames import Frames

ROLLOVER_S = 32

#: A time beyond this comes from a damaged layout; it would not fit a whole number of 64 bits.
LARGEST_S = 2.0**53


class HeaderTimes:
    """The times, in FIT seconds, of the messages that keep theirs in the header byte."""

    def __init__(self, content: bytes, frames: Frames, starts: Sequence[NDArray[np.int64]]) -> None:
        self._at = np.empty(0, np.int64)
        self._time_s = np.empty(0)
        headers = np.frombuffer(content, np.uint8)
        short = np.concatenate(
            [at[headers[at] >= COMPRESSED] for at in starts] or [np.empty(0, np.int64)]
        )
        if len(short):
            self._count_on(content, frames, starts, np.sort(short))

    def _count_on(
        self,
        content: bytes,
        frames: Frames,
        starts: Sequence[NDArray[np.int64]],
        short: NDArray[np.int64],
    ) -> None:
        known_at, known_s = _full_times(content, frames, starts)
        last = np.searchsorted(known_at, short, "right") - 1
        base = known_s[last]
        seconds = np.frombuffer(content, np.uint8)[short].astype(np.int64) % ROLLOVER_S
        first = np.diff(last, prepend=-1) != 0
        before = np.where(first, base, np.roll(seconds, 1))
        step = (seconds - before) % ROLLOVER_S
        total = np.cumsum(step)
        group = np.cumsum(first) - 1
        self._at = short
        self._time_s = (base + total - (total - step)[first][group]).astype(np.float64)

    def of(self, starts: NDArray[np.int64]) -> NDArray[np.float64]:
        """The times of the messages at these offsets; NaN where the header holds none."""
        if not len(self._at):
            return np.full(len(starts), np.nan)
        found = np.searchsorted(self._at, starts).clip(max=len(self._at) - 1)
        return np.where(self._at[found] == starts, self._time_s[found], np.nan)

    def __bool__(self) -> bool:
        return bool(len(self._at))


def _full_times(
    content: bytes, frames: Frames, starts: Sequence[NDArray[np.int64]]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Offset and time of every message of any kind that stores its time; 0 where a part begins."""
    at = [np.array(frames.parts, np.int64)]
    time_s = [np.zeros(len(frames.parts), np.int64)]
    for layout, own in zip(frames.layouts, starts, strict=True):
        for field in layout.stored_as(TIMESTAMP):
            values = column(gather(content, layout, own), field)
            if values is None:
                continue
            known = np.abs(values) < LARGEST_S
            at.append(own[known])
            time_s.append(values[known].astype(np.int64))
    offsets = np.concatenate(at)
    order = np.argsort(offsets, kind="stable")
    return offsets[order], np.concatenate(time_s)[order]
