"""Replays as rows: the relations ``replays``, ``replay_differences`` and ``replayed_gear_use``."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

import polars as pl

from ridelab.analysis.replay.tally import alike

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from ridelab.analysis.replay.tally import Estimate, Tally
    from ridelab.analysis.replay.vehicle import Replays

_FIGURES = ("below", "above", "outside", "spread", "shifts_per_km")
#: Shares of the driven time that are told as seconds.
_SPANS = ("bottom", "top", "lower", "higher")
_ENDS = ("", "_low", "_high")
REPLAYS_SCHEMA = pl.Schema(
    {
        "vehicle": pl.String(),
        "drivetrain": pl.String(),
        "policy": pl.String(),
        "assumption": pl.String(),
        "rides": pl.Int32(),
        "low_rpm": pl.Float64(),
        "high_rpm": pl.Float64(),
        "seconds": pl.Float64(),
        "distance_m": pl.Float64(),
        "moving_s": pl.Float64(),
        **{f"{name}{end}": pl.Float64() for name in _FIGURES for end in _ENDS},
        **{f"{name}{end}_s": pl.Float64() for name in _SPANS for end in _ENDS},
        "gears": pl.Int32(),
        "unneeded": pl.String(),
        "alike": pl.Float64(),
        "shift_price": pl.Float64(),
    }
)
DIFFERENCES = ("outside", "below", "above", "spread", "shifts_per_km", "moving_s")
DIFFERENCES_SCHEMA = pl.Schema(
    {
        **dict.fromkeys(
            ("vehicle", "drivetrain", "versus", "policy", "assumption", "quantity"), pl.String()
        ),
        "difference": pl.Float64(),
        "difference_low": pl.Float64(),
        "difference_high": pl.Float64(),
    }
)
GEAR_USE_SCHEMA = pl.Schema(
    {
        **dict.fromkeys(("vehicle", "drivetrain", "policy", "assumption"), pl.String()),
        "gear": pl.Int32(),
        "label": pl.String(),
        "development_m": pl.Float64(),
        "seconds": pl.Float64(),
        "share": pl.Float64(),
    }
)


def replay_rows(found: Iterable[Replays]) -> pl.DataFrame:
    """Return one row a vehicle, drivetrain, policy and assumption (``REPLAYS_SCHEMA``)."""
    rows = [_replay(one, tally) for one in found for tally in one.tallies]
    return pl.DataFrame(rows, schema=REPLAYS_SCHEMA, orient="row")


def difference_rows(found: Iterable[Replays]) -> pl.DataFrame:
    """Return by how much figures exceed those of each drivetrain before (``DIFFERENCES_SCHEMA``).

    Policy and assumption are the same on both sides; the ridden drivetrain goes first.
    """
    rows = [row for one in found for row in _differences(one)]
    return pl.DataFrame(rows, schema=DIFFERENCES_SCHEMA, orient="row")


def gear_use_rows(found: Iterable[Replays]) -> pl.DataFrame:
    """Return one row for each gear of each replay (``GEAR_USE_SCHEMA``); none where stepless."""
    rows = [row for one in found for tally in one.tallies for row in _gears(one, tally)]
    return pl.DataFrame(rows, schema=GEAR_USE_SCHEMA, orient="row")


def _key(found: Replays, tally: Tally) -> tuple[object, ...]:
    drivetrain = tally.gearing.drivetrain or None
    return found.vehicle, drivetrain, tally.policy, tally.assumption


def _replay(found: Replays, tally: Tally) -> tuple[object, ...]:
    seconds = tally.total("seconds")
    stepless = tally.gearing.span_m is not None
    ridden = found.tallies[0] if found.tallies[0].policy == "as ridden" else None
    own = ridden is not None and ridden.gearing is tally.gearing and not stepless
    priced = tally.policy == "looking ahead" and not stepless
    return (
        *_key(found, tally),
        tally.rides,
        found.band.low_rpm,
        found.band.high_rpm,
        seconds,
        tally.total("metres"),
        tally.total("moving_s"),
        *(value for name in _FIGURES for value in _ends(tally.estimate(name))),
        *(value for name in _SPANS for value in _ends(tally.estimate(name), seconds)),
        None if stepless else len(tally.gearing.numbers),
        None if stepless else ", ".join(map(str, tally.unneeded)),
        alike(ridden, tally) if own and ridden is not None else None,
        found.price.shift if priced else None,
    )


def _ends(found: Estimate, times: float = 1.0) -> Iterator[float | None]:
    for value in (found.value, found.low, found.high):
        yield None if value is None else value * times


def _differences(found: Replays) -> Iterator[tuple[object, ...]]:
    for one, other in combinations(found.tallies, 2):
        same = (one.policy, one.assumption) == (other.policy, other.assumption)
        if same and one.policy != "as ridden":
            for quantity in DIFFERENCES:
                vehicle, drivetrain, policy, assumption = _key(found, other)
                versus = one.gearing.drivetrain or None
                ends = _ends(other.minus(one, quantity))
                yield vehicle, drivetrain, versus, policy, assumption, quantity, *ends


def _gears(found: Replays, tally: Tally) -> Iterator[tuple[object, ...]]:
    gearing, spent = tally.gearing, tally.gear_s.sum(axis=0).tolist()
    whole = sum(spent)
    for number, label, metres, seconds in zip(
        gearing.numbers, gearing.labels, gearing.development_m, spent, strict=True
    ):
        share = seconds / whole if whole else None
        yield *_key(found, tally), number, label, metres, seconds, share
