"""Rides as a replay needs them: how fast, for how long, and whether the crank drove.

A replay asks for the cadence that another gear would have had at the same speed. Where the crank
drove in a gear that is known, that speed follows from cadence and gear, and is neither late nor as
uneven as one from satellites; elsewhere it is the recorded one. Recorded speed and effective
rollout carry the same error of a unit's wheel setting, so cadences come out right with either.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    import polars as pl
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]
    Numbers = NDArray[np.int64]

#: Slower than this the crank is not taken to drive: walking the cycle, or rolling out.
_LEAST_MPS = 0.3
#: A trend is taken over so many moments on either side.
_AROUND = 2
#: Values of one array that are worked on at once; keeps memory bounded however long rides are.
_MOST_VALUES = 4_000_000


@dataclass(frozen=True)
class Road:
    """One ride, one value a moment of about a second; all arrays are of one length.

    Attributes:
        ride: its identity.
        t_s: when the moment begins, since the start of the ride.
        seconds: how long it stands for.
        metres: how far it goes.
        speed_mps: how fast the vehicle was.
        driven: whether the crank drove the wheel.
        turning: whether it turned at all.
        cadence_rpm: as ridden; nan where the crank did not drive.
        gear: number of the ridden gear, 0 where none is named.
        grade: rise over length; nan where unknown.
        power_w: as recorded; nan where it is not.
    """

    ride: str
    t_s: Floats
    seconds: Floats
    metres: Floats
    speed_mps: Floats
    driven: Flags
    turning: Flags
    cadence_rpm: Floats
    gear: Numbers
    grade: Floats
    power_w: Floats

    @property
    def trend(self) -> Floats:
        """Change of ln(speed) a second, over some four seconds around each moment."""
        log_speed = np.log(np.maximum(self.speed_mps, _LEAST_MPS))
        later = np.minimum(np.arange(len(log_speed)) + _AROUND, len(log_speed) - 1)
        before = np.maximum(np.arange(len(log_speed)) - _AROUND, 0)
        span = np.maximum(self.t_s[later] - self.t_s[before], 1.0)
        return np.asarray((log_speed[later] - log_speed[before]) / span)

    @property
    def moving_s(self) -> Floats:
        """Seconds of each moment in which the vehicle moved."""
        return np.where(self.speed_mps >= _LEAST_MPS, self.seconds, 0.0)

    @property
    def driven_s(self) -> Floats:
        """Seconds of each moment in which the crank drove."""
        return np.where(self.driven, self.seconds, 0.0)


@dataclass(frozen=True)
class Batch:
    """Rides side by side: arrays of moments × rides, shorter rides filled up with nothing."""

    roads: tuple[Road, ...]
    driven_s: Floats
    moving_s: Floats
    seconds: Floats
    log_speed: Floats  # ln of metres a minute
    trend: Floats  # change of ln(speed) a second
    turning: Flags

    def at_speed(self, speed_mps: Floats) -> Batch:
        """Return the same roads at other speeds: each place takes so much more or less time."""
        log_speed = np.log(60.0 * np.maximum(speed_mps, _LEAST_MPS))
        longer = np.exp(self.log_speed - log_speed)
        return replace(
            self,
            driven_s=self.driven_s * longer,
            moving_s=self.moving_s * longer,
            log_speed=log_speed,
        )

    def may_shift(self, *, standing: bool) -> Flags:
        """Return where the gear may differ from that of the moment before.

        ``standing``: also while the crank stands; else it must turn before and after.
        """
        if standing:
            return np.ones_like(self.turning)
        before = np.concatenate([self.turning[:1], self.turning[:-1]])
        return np.asarray(self.turning & before)


def roads(moments: pl.DataFrame, developments_m: Mapping[int, float]) -> list[Road]:
    """Return the rides in these rows, in the order that they come in.

    ``moments``: columns as sql/replay/moments_ridden.sql names them, rows by ride and time;
    ``developments_m``: of the gears that the vehicle was ridden in.
    """
    return [
        _road(rows, developments_m)
        for rows in moments.partition_by("ride", maintain_order=True, include_key=True)
    ]


def batches(ridden: Sequence[Road], gears: int) -> Iterator[Batch]:
    """Yield rides of like length side by side, so many at a time that memory stays bounded."""
    order = sorted(ridden, key=lambda road: len(road.t_s))
    while order:
        longest = len(order[-1].t_s)
        count = max(1, min(len(order), _MOST_VALUES // max(1, longest * gears)))
        yield batch(order[-count:])
        del order[-count:]


def batch(ridden: Sequence[Road]) -> Batch:
    """Put rides side by side."""
    length = max(len(road.t_s) for road in ridden)
    speed = _filled([road.speed_mps for road in ridden], length)
    return Batch(
        roads=tuple(ridden),
        driven_s=_filled([road.driven_s for road in ridden], length),
        moving_s=_filled([road.moving_s for road in ridden], length),
        seconds=_filled([road.seconds for road in ridden], length),
        log_speed=np.log(60.0 * np.maximum(speed, _LEAST_MPS)),
        trend=_filled([road.trend for road in ridden], length),
        turning=_filled([road.turning for road in ridden], length) > 0,
    )


def _filled(columns: Sequence[NDArray[np.generic]], length: int) -> Floats:
    out = np.zeros((length, len(columns)))
    for place, column in enumerate(columns):
        out[: len(column), place] = column
    return out


def _road(rows: pl.DataFrame, developments_m: Mapping[int, float]) -> Road:
    values = {name: rows[name].cast(float).to_numpy() for name in rows.columns if name != "ride"}
    gear = np.nan_to_num(values["gear"]).astype(np.int64)
    cadence, coupled = values["cadence_rpm"], np.nan_to_num(values["coupled"]) > 0
    named_m = _named(gear, developments_m)
    by_crank = cadence * np.where(np.isfinite(named_m), named_m, values["development_m"]) / 60.0
    seconds, metres = (np.nan_to_num(values[name]) for name in ("seconds", "metres"))
    mean = np.divide(metres, seconds, out=np.zeros_like(metres), where=seconds > 0)
    recorded = np.where(np.isfinite(values["speed_mps"]), values["speed_mps"], mean)
    known = coupled & (by_crank > 0)
    speed = np.where(known, by_crank, recorded)
    from_speed = 60.0 * speed / named_m
    ridden_rpm = np.where(cadence > 0, cadence, from_speed)
    driven = coupled & (speed >= _LEAST_MPS) & (ridden_rpm > 0) & (seconds > 0)
    return Road(
        ride=str(rows["ride"][0]),
        t_s=values["t_s"],
        seconds=seconds,
        metres=metres,
        speed_mps=speed,
        driven=driven,
        turning=driven | (cadence > 0),
        cadence_rpm=np.where(driven, ridden_rpm, np.nan),
        gear=gear,
        grade=values["grade"],
        power_w=values["power_w"],
    )


def _named(gear: Numbers, developments_m: Mapping[int, float]) -> Floats:
    """Return the development of the gear of each moment, nan where it is not known."""
    table = np.full(max((*developments_m, *gear.tolist(), 0)) + 1, np.nan)
    for number, development_m in developments_m.items():
        table[number] = development_m
    return np.asarray(table[gear])
