"""Relations of a store, fabricated: gears measured to half a percent."""

from __future__ import annotations

from itertools import pairwise
from math import exp
from typing import TYPE_CHECKING, Any

import polars as pl

from ridelab.analysis import judge
from ridelab.analysis.intervals import quotient
from ridelab.gears.result import STEPS_SCHEMA, Interval

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

Z = 1.959964  # two-sided 95 % of the normal distribution, any statistics table
NINE = (0.55, 0.68, 0.84, 1.04, 1.28, 1.58, 1.95, 2.41, 2.97)
ROLLOUT_M = 1.5

_CLAIM = pl.Schema(
    {
        "claim": pl.String(),
        "drivetrain": pl.String(),
        "vehicle": pl.String(),
        "quantity": pl.String(),
        "value": pl.Float64(),
        "tolerance": pl.Float64(),
        "source": pl.String(),
        "gear": pl.String(),
        "which": pl.String(),
        "at_cadence_rpm": pl.Float64(),
        "printed": pl.String(),
    }
)
_RATIO = ("ratio", "ratio_low", "ratio_high")
_DEVELOPMENT = ("development_m", "development_low_m", "development_high_m")
_GEAR = pl.Schema(
    {"vehicle": pl.String(), "gear": pl.Int32(), "published_ratio": pl.Float64()}
    | dict.fromkeys((*_RATIO, *_DEVELOPMENT), pl.Float64())
)
_RANGE = pl.Schema(
    {
        "vehicle": pl.String(),
        "low_gear": pl.Int32(),
        "high_gear": pl.Int32(),
        "range": pl.Float64(),
        "range_low": pl.Float64(),
        "range_high": pl.Float64(),
        "published_range": pl.Float64(),
        "complete": pl.Boolean(),
    }
)
_STEP = pl.Schema({"vehicle": pl.String()} | dict(STEPS_SCHEMA))
_VEHICLE = pl.Schema(
    {
        "vehicle": pl.String(),
        "drivetrain": pl.String(),
        "stated_rollout_m": pl.Float64(),
        "effective_rollout_m": pl.Float64(),
        "effective_rollout_low_m": pl.Float64(),
        "effective_rollout_high_m": pl.Float64(),
        "rollout_is_measured": pl.Boolean(),
        "stepless": pl.Boolean(),
        "placement_probability": pl.Float64(),
        "unexplained_share": pl.Float64(),
    }
)


def claims(*rows: Mapping[str, Any]) -> pl.DataFrame:
    """Claims on the drivetrain "nine", 2 % of tolerance, where a row does not say otherwise."""
    usual = {
        "drivetrain": "nine",
        "tolerance": 0.02,
        "source": "data sheet",
        "printed": "as printed",
    }
    return pl.DataFrame(
        [{"claim": f"c{n}"} | usual | dict(row) for n, row in enumerate(rows, 1)], schema=_CLAIM
    )


def measured(
    ratios: Mapping[int, float],
    error: float = 0.005,
    vehicle: str = "heron",
    published: Sequence[float] = NINE,
    rollout_m: float = ROLLOUT_M,
) -> pl.DataFrame:
    """Gears as measured, each within ``error`` (relative, 95 %) of the ratio given."""
    rows = [
        {
            "vehicle": vehicle,
            "gear": gear,
            "published_ratio": published[gear - 1] if gear <= len(published) else None,
        }
        | dict(zip(_RATIO, _around(ratio, error), strict=True))
        | dict(zip(_DEVELOPMENT, _around(ratio * rollout_m, error), strict=True))
        for gear, ratio in ratios.items()
    ]
    return pl.DataFrame(rows, schema=_GEAR)


def numbered(ratios: Iterable[float] = NINE) -> dict[int, float]:
    """Number ratios as gears, from 1."""
    return dict(enumerate(ratios, 1))


def measured_range(
    value: float,
    error: float = 0.005,
    vehicle: str = "heron",
) -> pl.DataFrame:
    """A range as measured, within ``error`` (relative, 95 %)."""
    low, high = value * (1 - error), value * (1 + error)
    row = {"vehicle": vehicle, "range": value, "range_low": low, "range_high": high}
    return pl.DataFrame([row], schema=_RANGE)


def measured_steps(gears: pl.DataFrame) -> pl.DataFrame:
    """The steps between neighbours, as if gears had been measured apart; joint ones twice as wide.

    Gears that nobody published have no neighbours.
    """
    rows = []
    known = pl.all_horizontal(pl.col("published_ratio", *_RATIO).is_not_null())
    listed = gears.filter(known).sort("vehicle", "gear")
    for below, above in pairwise(listed.to_dicts()):
        if (below["vehicle"], below["gear"] + 1) == (above["vehicle"], above["gear"]):
            between = quotient(
                *(Interval(*(one[name] for name in _RATIO)) for one in (above, below))
            )
            value, low, high = (one - 1 for one in (between.value, between.low, between.high))
            joint = (value - 2 * (value - low), value + 2 * (high - value))
            ends = (above["vehicle"], above["gear"], below["gear"])
            rows.append((*ends, value, low, high, *joint, None))
    return pl.DataFrame(rows, schema=_STEP, orient="row")


def no_range() -> pl.DataFrame:
    """Too little was ridden for a range."""
    return _RANGE.to_frame()


def published(ratios: Sequence[float] = NINE, drivetrain: str = "nine") -> pl.DataFrame:
    """The published ladder; empty for a stepless drivetrain."""
    rows = [{"drivetrain": drivetrain, "gear": n, "ratio": r} for n, r in enumerate(ratios, 1)]
    schema = {"drivetrain": pl.String(), "gear": pl.Int32(), "ratio": pl.Float64()}
    return pl.DataFrame(rows, schema=schema)


def vehicles(*names: str, **known: float | bool | None) -> pl.DataFrame:
    """Vehicles with the drivetrain "nine", whose wheel was measured and rolls as stated.

    ``known``: columns that are otherwise; ``effective_rollout_m`` is known to 0.1 %.
    """
    usual = {
        "drivetrain": "nine",
        "stated_rollout_m": ROLLOUT_M,
        "effective_rollout_m": ROLLOUT_M,
        "rollout_is_measured": True,
        "stepless": False,
        "placement_probability": 1.0,
        "unexplained_share": 0.0,
    }
    row = usual | known
    if row["effective_rollout_m"] is not None:
        low, high = _around(float(row["effective_rollout_m"]), 0.001)[1:]  # type: ignore[arg-type]
        row |= {"effective_rollout_low_m": low, "effective_rollout_high_m": high}
    return pl.DataFrame([{"vehicle": name} | row for name in names], schema=_VEHICLE)


def verdict(
    claim: Mapping[str, Any],
    gears: pl.DataFrame | None = None,
    span: pl.DataFrame | None = None,
    ladder: pl.DataFrame | None = None,
    fleet: pl.DataFrame | None = None,
    merge_within: float = 0.015,
) -> dict[str, Any]:
    """Judge one claim on one vehicle; what is not given was ridden in full, as published."""
    gears = measured(numbered()) if gears is None else gears
    rows = judge(
        claims(claim),
        gears,
        measured_range(NINE[-1] / NINE[0]) if span is None else span,
        measured_steps(gears),
        published() if ladder is None else ladder,
        vehicles("heron") if fleet is None else fleet,
        merge_within=merge_within,
    )
    assert rows.height == 1
    return rows.row(0, named=True)


def known(value: float, sd: float) -> Interval:
    """The 95 % interval of a value whose logarithm has a normal error."""
    return Interval(value, value * exp(-Z * sd), value * exp(Z * sd))


def _around(value: float, error: float) -> tuple[float, float, float]:
    return value, value / (1 + error), value * (1 + error)
