"""A ride -> what each of its samples stands for: time, way, grade and climbing until the next."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl

from ridelab.analysis.road.altimeter import AltitudeSource, altitude_source
from ridelab.analysis.road.profile import RoadProfile, swings

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

#: Columns of the relation ``moments``, but for ``ride``.
MOMENT_SCHEMA = pl.Schema(
    {
        "n": pl.Int32(),
        "seconds": pl.Float64(),
        "metres": pl.Float64(),
        "grade": pl.Float64(),
        "climb_m": pl.Float64(),
    }
)
#: Columns of the relation ``ride_profiles``, but for ``ride``.
PROFILE_SCHEMA = pl.Schema(
    {
        "altitude_source": pl.String(),
        "resolution_m": pl.Float64(),
        "dead_band_m": pl.Float64(),
        "climb_m": pl.Float64(),
        "descent_m": pl.Float64(),
        "lowest_m": pl.Float64(),
        "highest_m": pl.Float64(),
    }
)
#: A sample stands for the time until the next, but for no longer than this.
LONGEST_S = 10.0
#: Metres of road that a grade is told over, and the least rise or fall that is counted. Steps of
#: 0.2 m blur a grade over 60 m by 0.05 %; altitudes that wander by 3 m, one over 240 m by 2 %.
RESOLUTION_M: dict[AltitudeSource, float] = {
    "barometric": 60.0,
    "unknown": 120.0,
    "satellite": 240.0,
}
DEAD_BAND_M: dict[AltitudeSource, float] = {"barometric": 1.0, "unknown": 2.0, "satellite": 5.0}
#: Less way than this within six seconds is standing, m.
STANDING_S, STANDING_M = 6.0, 3.0
#: A rise of more than the way and this is no road, but an altitude that was set, m.
SET_M = 3.0


def ridden_road(
    samples: pl.DataFrame, pauses: pl.DataFrame, *, barometer: bool = False
) -> tuple[pl.DataFrame, dict[str, Any]]:
    """Return a ride's moments, one row a sample (``MOMENT_SCHEMA``), and its ``PROFILE_SCHEMA``.

    ``samples`` and ``pauses`` as in ``Ride``; ``barometer``: whether the file lists one.
    ``seconds`` and ``metres`` reach from a sample to the next, 10 s at most and nothing across a
    pause of the timer; ``grade`` is that of their road, ``climb_m`` what they rise. Unknown is
    null: metres without distance and speed, grade and climbing without altitudes or way.
    """
    # null comes as nan
    t_s, speed, altitude, distance = (
        samples[name].cast(pl.Float64).to_numpy()
        for name in ("t_s", "speed_mps", "altitude_m", "distance_m")
    )
    until_next = np.diff(t_s, append=t_s[-1:])
    seconds = _seconds(samples, t_s, until_next, pauses)
    way = _way(distance, speed, until_next)
    share = np.divide(seconds, until_next, out=np.zeros_like(seconds), where=until_next > 0.0)
    source = altitude_source(t_s, speed, altitude, barometer=barometer)
    grade, rise, fall = _climbing(t_s, way, altitude, source)
    numbers = np.arange(len(t_s), dtype=np.int32)
    columns: tuple[NDArray[Any], ...] = (numbers, seconds, way * share, grade, rise * share)
    moments = pl.DataFrame(
        [
            pl.Series(name, values, kind, nan_to_null=True)
            for (name, kind), values in zip(MOMENT_SCHEMA.items(), columns, strict=True)
        ]
    )
    return moments, _facts(altitude, source, _total(rise * share), _total(fall * share))


def _seconds(
    samples: pl.DataFrame, t_s: Floats, until_next: Floats, pauses: pl.DataFrame
) -> Floats:
    """Return how long each sample stands: until the next, or until the timer stops before that."""
    until = t_s + np.minimum(until_next, LONGEST_S)
    starts = np.sort(pauses["start_s"].drop_nulls().to_numpy())
    if len(starts):
        stop = np.append(starts, np.inf)[np.searchsorted(starts, t_s)]
        until = np.minimum(until, stop)
    timer = samples["timer_running"]
    running = timer.fill_null(value=True) if timer.null_count() else timer
    return np.where(running.to_numpy(), until - t_s, 0.0)


def _way(distance_m: Floats, speed_mps: Floats, until_next: Floats) -> Floats:
    """Return the way from each sample to the next, by the file's distance where it grows."""
    counted = np.append(np.diff(distance_m), np.nan)
    by_speed = speed_mps * np.minimum(until_next, LONGEST_S)
    way = np.where(np.isfinite(counted) & (counted >= 0.0), counted, by_speed)
    return np.where(until_next > 0.0, way, 0.0)


def _climbing(
    t_s: Floats, way: Floats, altitude_m: Floats, source: AltitudeSource
) -> tuple[Floats, Floats, Floats]:
    """Return grade, rise and fall from each sample to the next; nan where unknown."""
    unknown = np.full(len(t_s), np.nan)
    if source == "none" or not np.isfinite(way[:-1]).any():
        return unknown, unknown, unknown
    steps = np.nan_to_num(way)
    along = np.concatenate([[0.0], np.cumsum(steps)[:-1]])
    road = RoadProfile.of(along, _of_the_road(t_s, along, altitude_m), RESOLUTION_M[source])
    if road is None:
        return unknown, unknown, unknown
    heights = road.height_at(along)
    rise, fall = _gained(heights, swings(heights, DEAD_BAND_M[source]))
    grade = road.grade_at(along + steps / 2.0)
    told = np.where(np.isfinite(grade), 1.0, np.nan)
    return grade, rise * told, fall * told


def _gained(heights: Floats, turns: NDArray[np.int64]) -> tuple[Floats, Floats]:
    """Return rise and fall from each place to the next, at ``turns`` from one to the other.

    What a swing has gained at a place is its highest, or lowest, until there: small waves on a
    climb are none of it.
    """
    rise, fall = np.zeros(len(heights)), np.zeros(len(heights))
    if len(turns) < 2:
        return rise, fall
    begins, until = turns[:-1], slice(turns[0], turns[-1])
    up = np.diff(heights[turns]) > 0.0
    swing = np.repeat(np.arange(len(up)), np.diff(turns))
    bottom, top = np.nanmin(heights), np.nanmax(heights)
    # Each swing is set higher than all of the one before, and one running maximum serves them all.
    apart = np.arange(len(up)) * (top - bottom + 1.0)
    starts = np.where(up, heights[begins] - bottom, top - heights[begins]) + apart
    ends = heights[turns[0] + 1 : turns[-1] + 1]
    reached = np.where(up[swing], ends - bottom, top - ends) + apart[swing]
    first = begins - turns[0]
    reached[first] = np.fmax(reached[first], starts)
    highest = np.fmax.accumulate(reached)
    before = np.append(starts[:1], highest[:-1])
    before[first] = starts
    gained = highest - before
    rise[until] = np.where(up[swing], gained, 0.0)
    fall[until] = gained - rise[until]
    return rise, fall


def _of_the_road(t_s: Floats, along_m: Floats, altitude_m: Floats) -> Floats:
    """Return altitudes without what is no road: changes while standing, and set anew in between."""
    known = np.flatnonzero(np.isfinite(altitude_m))
    middle = (t_s[known][1:] + t_s[known][:-1]) / 2.0
    around = np.interp(middle + STANDING_S / 2.0, t_s, along_m) - np.interp(
        middle - STANDING_S / 2.0, t_s, along_m
    )
    rises = np.diff(altitude_m[known])
    ridden = (around >= STANDING_M) & (np.abs(rises) <= np.diff(along_m[known]) + SET_M)
    out = np.full(len(altitude_m), np.nan)
    start = altitude_m[known[0]]
    out[known] = start + np.concatenate([[0.0], np.cumsum(np.where(ridden, rises, 0.0))])
    return out


def _total(metres: Floats) -> float | None:
    """Return the sum of what is known, None where nothing is."""
    return float(np.nansum(metres)) if np.isfinite(metres).any() else None


def _facts(
    altitude_m: Floats, source: AltitudeSource, climb_m: float | None, descent_m: float | None
) -> dict[str, Any]:
    known = altitude_m[np.isfinite(altitude_m)]
    told = climb_m is not None and source != "none"
    return {
        "altitude_source": source,
        "resolution_m": RESOLUTION_M[source] if told else None,
        "dead_band_m": DEAD_BAND_M[source] if told else None,
        "climb_m": climb_m,
        "descent_m": descent_m,
        "lowest_m": float(known.min()) if len(known) else None,
        "highest_m": float(known.max()) if len(known) else None,
    }
