"""Times as recorded -> true elapsed time: clocks that jump, records out of order, silences.

A reader hands over its records as they stand in the file. ``settled`` finds where the clock was set
while riding went on (``jumps``), moves the times before that to the clock as it was set, and then
puts the records in order, one an instant. ``tell_silences`` says where nothing was recorded.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from ridelab.telemetry.jumps import find_jumps
from ridelab.telemetry.notes import counted

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from ridelab.telemetry.jumps import Flags, Floats, Jump
    from ridelab.telemetry.notes import Notes

#: Longer silences are gaps: no development is computed across one (``ridelab.gears`` agrees).
GAP_S = 10.0
#: Jumps that would stretch a ride to more than this, and beyond its own times, are none.
LONGEST_S = 366 * 86_400.0
#: A step this many times as long as usual skips a record.
SKIP = 1.5
#: Share of steps that skip a record, from which a recording is called uneven.
UNEVEN = 0.05
#: Columns that say where in the file a record stands: merging loses nothing of them.
PLACES = ("part", "segment")
#: More jumps than these are counted, not told one by one.
TOLD_JUMPS = 3


@dataclass(frozen=True)
class Settled:
    """Records in order of true time, and what was done to the times to get there.

    Attributes:
        records: as handed over, ``timestamp`` strictly increasing, seconds.
        stretches: one row for each stretch of one clock, in file order: first time, last time,
            seconds to add. The last stretch has the clock as it was set at last: it adds nothing.
    """

    records: pl.DataFrame
    stretches: Floats

    def moved(self, times: pl.Series) -> pl.Series:
        """Times that the device wrote elsewhere in the file, on the true clock; nulls stay.

        Each belongs to the stretch whose times it lies among, or is nearest to. What two stretches
        may have told, the clock having been set back, is taken to come from the later one.
        """
        if len(self.stretches) == 1:
            return times
        first, last, shift = self.stretches.T
        told = times.cast(pl.Float64).fill_null(np.nan).to_numpy()[:, None]
        off = np.maximum(np.maximum(first - told, told - last), 0)
        stretch = len(first) - 1 - off[:, ::-1].argmin(axis=1)
        latest = np.append(last[:-1], np.inf)[stretch]
        true = np.minimum(told[:, 0], latest) + shift[stretch]
        return pl.Series(times.name, true, nan_to_null=True)


def settled(
    records: pl.DataFrame,
    travelled_m: Callable[[], Floats],
    broken: Callable[[], Flags],
    notes: Notes,
    *,
    set_from_s: float = -np.inf,
) -> Settled:
    """Put records on one clock, in order of time, one an instant.

    ``records``: in file order, with a column ``timestamp``, seconds, no nulls. ``travelled_m``:
    metres travelled up to each record, nan where unknown; asked for only where a step of the time
    needs explaining, and so is ``broken``: whether riding need not have gone on from the record
    before, because of a pause or since another recording begins. A clock that reads less than
    ``set_from_s`` was not set.
    """
    t_s = records["timestamp"].to_numpy()
    found = find_jumps(t_s, travelled_m, broken, set_from_s)
    stretches = _stretches(t_s, found)
    if found:
        first_rows = [jump.row for jump in found]
        moved = t_s + np.repeat(stretches[:, 2], np.diff([0, *first_rows, len(t_s)]))
        if np.ptp(moved) > max(np.ptp(t_s), LONGEST_S):
            return Settled(in_order(records, notes), _stretches(t_s, []))
        records = records.with_columns(timestamp=moved)
        _tell_jumps(found, moved, notes)
    return Settled(in_order(records, notes), stretches)


def _stretches(t_s: Floats, found: Sequence[Jump]) -> Floats:
    """Between the jumps: ``Settled.stretches``."""
    starts = np.array([0, *(jump.row for jump in found)])
    ends = np.append(starts[1:], len(t_s))
    # Summed from the end: the clock as it was set at last is the right one.
    shifts = np.cumsum([0.0, *(jump.size_s for jump in reversed(found))])[::-1]
    lasts = [t_s[start:end].max() for start, end in zip(starts, ends, strict=True)]
    return np.column_stack([t_s[starts], lasts, shifts])


def in_order(records: pl.DataFrame, notes: Notes) -> pl.DataFrame:
    """One record an instant, in order of time: of equal times the later non-null values win.

    Some units write one instant as several records, each with some of the values.
    """
    steps = np.diff(records["timestamp"].to_numpy())
    backward = int((steps < 0).sum())
    if backward:
        notes.warn(f"the time steps back {counted(backward, 'time')}: records put in order of time")
        records = records.sort("timestamp", maintain_order=True)
        steps = np.diff(records["timestamp"].to_numpy())
    if (steps > 0).all():
        return records
    shared = np.append(steps == 0, False) | np.insert(steps == 0, 0, False)
    alone, together = records.filter(~shared), records.filter(shared)
    return pl.concat([alone, _merged(together, notes)]).sort("timestamp")


def _merged(records: pl.DataFrame, notes: Notes) -> pl.DataFrame:
    """Records in order of time, each of which shares its time with another -> one a time."""
    instants = records.group_by("timestamp", maintain_order=True)
    different = pl.all().exclude(PLACES).drop_nulls().n_unique().cast(pl.Int64)
    lost = instants.agg((different - 1).clip(0)).drop("timestamp")
    replaced = int(lost.sum().sum_horizontal()[0])
    merged = instants.agg(pl.all().drop_nulls().last()).select(records.columns)
    text = f"{counted(len(records) - len(merged), 'record')} with the time of another: merged"
    if replaced:
        notes.warn(f"{text}, {counted(replaced, 'value')} gave way to a later one")
    else:
        notes.note(f"{text}, no value lost")
    return merged


def paused_steps(t_s: Floats, pauses: pl.DataFrame) -> Flags:
    """Whether some pause (``PAUSE_SCHEMA``) lies between each time and the next; one shorter."""
    starts, ends = pauses["start_s"].to_numpy(), pauses["end_s"].to_numpy()
    over = np.searchsorted(ends, t_s[:-1], side="right")
    paused: Flags = np.searchsorted(starts, t_s[1:]) > over
    return paused


def tell_silences(t_s: pl.Series, pauses: pl.DataFrame, notes: Notes) -> None:
    """Write down where nothing was recorded although no pause (``PAUSE_SCHEMA``) explains it.

    ``t_s`` is strictly increasing. A recording that leaves records out by the dozen, as units do
    that write only what changed, is called uneven.
    """
    times = t_s.to_numpy()
    steps = np.diff(times)[~paused_steps(times, pauses)]
    if not len(steps):
        return
    usual_s = float(np.median(steps))
    skips = steps[(steps > SKIP * usual_s) & (steps <= GAP_S)]
    silences = steps[steps > max(GAP_S, SKIP * usual_s)]
    if len(skips) > UNEVEN * len(steps):
        notes.note(f"records come unevenly, {steps.min():.3g} to {skips.max():.3g} s apart")
    elif len(skips):
        places = f"records are missing at {counted(len(skips), 'place')}"
        notes.note(f"{places}: up to {skips.max():.3g} s without one, {usual_s:.3g} s being usual")
    if len(silences):
        text = f"{counted(len(silences), 'silence')} of more than {GAP_S:.0f} s outside pauses"
        longest = f"the longest {_span(float(silences.max()))}"
        notes.note(f"{text}, {longest}: nothing is computed across")


def _tell_jumps(found: Sequence[Jump], moved: Floats, notes: Notes) -> None:
    for jump in found[:TOLD_JUMPS]:
        way = "ahead" if jump.size_s > 0 else "back"
        into = _span(moved[jump.row] - moved.min())
        why = "on being set" if jump.unset else "while riding went on"
        text = f"the clock jumped {way} by {_span(abs(jump.size_s))} {why}, {into} into the ride"
        notes.warn(f"{text}: times before that were moved to the later clock")
    if len(found) > TOLD_JUMPS:
        notes.warn(f"the clock jumped {counted(len(found) - TOLD_JUMPS, 'more time')}: likewise")


def _span(seconds: float) -> str:
    """A length of time in the largest unit of which there are two or more."""
    for unit, size in (("days", 86_400), ("h", 3600), ("min", 60)):
        if seconds >= 2 * size:
            return f"{seconds / size:.0f} {unit}"
    return f"{seconds:.3g} s"
