"""A result as the store's relations, and the verdicts on it."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl

from ridelab.analysis.verdicts import judge

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.campaign import Claim
    from ridelab.gears.result import Interval, VehicleGears
    from tests.benchmarks.inference_cases import Case

_VEHICLE = pl.lit("vehicle").alias("vehicle")
_CLAIM: dict[str, Any] = {
    "claim": pl.String, "drivetrain": pl.String, "vehicle": pl.String, "quantity": pl.String,
    "value": pl.Float64, "tolerance": pl.Float64, "source": pl.String, "gear": pl.String,
    "which": pl.String, "at_cadence_rpm": pl.Float64, "printed": pl.String, "bound": pl.String,
    "within": pl.Float64,
}  # fmt: skip
_RANGE: dict[str, Any] = {
    "low_gear": pl.Int32, "high_gear": pl.Int32, "range": pl.Float64, "range_low": pl.Float64,
    "range_high": pl.Float64, "published_range": pl.Float64, "complete": pl.Boolean,
}  # fmt: skip
_STATED: dict[str, Any] = {
    "vehicle": pl.String, "drivetrain": pl.String, "stated_rollout_m": pl.Float64,
    "rollout_is_measured": pl.Boolean, "effective_rollout_m": pl.Float64,
    "effective_rollout_low_m": pl.Float64, "effective_rollout_high_m": pl.Float64,
    "stepless": pl.Boolean, "placement_probability": pl.Float64, "unexplained_share": pl.Float64,
}  # fmt: skip


def verdicts_on(claims: Sequence[Claim], case: Case, result: VehicleGears) -> pl.DataFrame:
    """Judge claims on the case's drivetrain; a row a claim, in order."""
    return judge(**relations(claims, case, result))


def relations(claims: Sequence[Claim], case: Case, result: VehicleGears) -> dict[str, Any]:
    """Return what ``judge`` needs, by the names of its arguments."""
    rows = [
        {
            "claim": f"c{number}",
            "drivetrain": case.truth.name,
            "quantity": claim.quantity,
            "value": claim.value,
            "tolerance": claim.tolerance,
            "source": "data sheet",
            "gear": None if claim.gear is None else str(claim.gear),
            "which": claim.which,
            "at_cadence_rpm": claim.at_cadence_rpm,
            "printed": claim.printed,
            "bound": claim.bound,
            "within": claim.within,
        }
        for number, claim in enumerate(claims)
    ]
    known = [] if result.precision is None else [asdict(result.precision)]
    return {
        "claims": pl.DataFrame(rows, schema=_CLAIM),
        "measured_gears": _measured_gears(result),
        "measured_range": _measured_range(result),
        "measured_steps": result.steps.with_columns(_VEHICLE),
        "published_gears": _published_gears(case),
        "vehicles": _vehicles(case, result),
        "measured_covariance": result.covariance.with_columns(_VEHICLE),
        "measured_precision": pl.DataFrame(known).select(_VEHICLE, pl.all()) if known else None,
        "rides": pl.DataFrame({"speed_source": [case.sensors.speed]}).with_columns(_VEHICLE),
    }


def _measured_gears(result: VehicleGears) -> pl.DataFrame:
    ends = [name for name in result.gears.columns if "_low" in name or "_high" in name]
    return result.gears.with_columns(_VEHICLE, pl.col(ends).fill_nan(None))


def _measured_range(result: VehicleGears) -> pl.DataFrame:
    rows = [] if result.range is None else [
        {
            "low_gear": result.range.low_gear,
            "high_gear": result.range.high_gear,
            **_named("range", "", result.range.range),
            "published_range": result.range.published_range,
            "complete": result.range.complete,
        }
    ]  # fmt: skip
    return pl.DataFrame(rows, schema=_RANGE).with_columns(_VEHICLE)


def _published_gears(case: Case) -> pl.DataFrame:
    gears = case.ladder.gears
    return pl.DataFrame(
        {
            "drivetrain": [case.truth.name] * len(gears),
            "gear": [gear.number for gear in gears],
            "ratio": [gear.ratio for gear in gears],
            "label": [gear.label for gear in gears],
            "ratio_low": [min(gear.members) for gear in gears],
            "ratio_high": [max(gear.members) for gear in gears],
        }
    )


def _vehicles(case: Case, result: VehicleGears) -> pl.DataFrame:
    row = {
        "vehicle": "vehicle",
        "drivetrain": case.truth.name,
        "stated_rollout_m": case.stated_rollout_m,
        "rollout_is_measured": case.rollout_is_measured,
        "stepless": result.stepless,
        "placement_probability": result.placement_probability,
        "unexplained_share": result.unexplained_share,
    }
    if result.rollout is not None:
        row |= _named("effective_rollout", "_m", result.rollout)
    return pl.DataFrame([row], schema=_STATED)


def _named(name: str, unit: str, interval: Interval) -> dict[str, float | None]:
    """Return the three columns of an interval; an end that was not measured is null."""
    ends = {"": interval.value, "_low": interval.low, "_high": interval.high}
    return {
        f"{name}{end}{unit}": value if np.isfinite(value) else None for end, value in ends.items()
    }
