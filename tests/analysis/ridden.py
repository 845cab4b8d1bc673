"""Relations of a store, fabricated: gears measured to half a percent."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import polars as pl

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

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
_VEHICLE = pl.Schema(
    {
        "vehicle": pl.String(),
        "drivetrain": pl.String(),
        "stated_rollout_m": pl.Float64(),
        "effective_rollout_m": pl.Float64(),
        "rollout_is_measured": pl.Boolean(),
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


def ladder(ratios: Iterable[float] = NINE) -> dict[int, float]:
    """Number ratios as gears, from 1."""
    return dict(enumerate(ratios, 1))


def measured_range(
    value: float,
    error: float = 0.005,
    vehicle: str = "heron",
    *,
    complete: bool | None = True,
) -> pl.DataFrame:
    """A range as measured, within ``error`` (relative, 95 %)."""
    low, high = value * (1 - error), value * (1 + error)
    row = {"vehicle": vehicle, "range": value, "range_low": low, "range_high": high}
    return pl.DataFrame([row | {"complete": complete}], schema=_RANGE)


def no_range() -> pl.DataFrame:
    """Too little was ridden for a range."""
    return _RANGE.to_frame()


def published(ratios: Sequence[float] = NINE, drivetrain: str = "nine") -> pl.DataFrame:
    """The published ladder; empty for a stepless drivetrain."""
    rows = [{"drivetrain": drivetrain, "gear": n, "ratio": r} for n, r in enumerate(ratios, 1)]
    schema = {"drivetrain": pl.String(), "gear": pl.Int32(), "ratio": pl.Float64()}
    return pl.DataFrame(rows, schema=schema)


def vehicles(
    *names: str,
    rollout_m: float | None = ROLLOUT_M,
    stated_m: float | None = None,
    measured: bool = True,
) -> pl.DataFrame:
    """Vehicles with the drivetrain "nine"; the rollout is stated as ridden, or as ``stated_m``."""
    rows = [
        {
            "vehicle": name,
            "drivetrain": "nine",
            "stated_rollout_m": stated_m or rollout_m,
            "effective_rollout_m": rollout_m,
            "rollout_is_measured": measured,
        }
        for name in names
    ]
    return pl.DataFrame(rows, schema=_VEHICLE)


def _around(value: float, error: float) -> tuple[float, float, float]:
    return value, value / (1 + error), value * (1 + error)
