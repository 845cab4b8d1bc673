"""The published ladder in the numbers that people ride by: development, speed, cadence change."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.drivetrain.ladder import Ladder

#: Cadences that the paper ladder gives the speed for, turns a minute.
CADENCES_RPM = (60, 80, 100)
#: Cadence before the shift that ``cadence_change_rpm`` speaks of.
SHIFT_CADENCE_RPM = 80


def paper_schema(cadences_rpm: Sequence[int] = CADENCES_RPM) -> pl.Schema:
    """Return the columns of a paper ladder with the speed at each of these cadences."""
    return pl.Schema(
        {
            "gear": pl.Int32(),  # null for the two ends of a stepless ladder
            "label": pl.String(),
            "ratio": pl.Float64(),  # wheel turns per crank turn
            "development_m": pl.Float64(),
            "step": pl.Float64(),  # ratio over the gear below, minus 1; null for the lowest
            **{f"speed_{cadence}rpm_mps": pl.Float64() for cadence in cadences_rpm},
            "cadence_change_rpm": pl.Float64(),
        }
    )


PAPER_SCHEMA = paper_schema()


def paper_ladder(
    ladder: Ladder,
    rollout_m: float | None = None,
    cadences_rpm: Sequence[int] = CADENCES_RPM,
    shift_cadence_rpm: float = SHIFT_CADENCE_RPM,
) -> pl.DataFrame:
    """Return one row a gear, lowest first (``paper_schema``); the two ends of a stepless ladder.

    development = ratio × rollout; speed = development × cadence / 60, in m/s. Both are null
    without a rollout.

    ``cadence_change_rpm`` is by how much the cadence rises when a rider at 80 rpm, or another
    ``shift_cadence_rpm``, in this gear shifts to the gear below and keeps the speed: 80 × step. The
    trade counts the change this way (common practice, no source). The shift up into this gear from
    80 rpm in the gear below lowers the cadence by a little less, 80 × (1 - 1 / (1 + step)).
    """
    rows: list[tuple[int | None, str, float, float | None]]
    if ladder.stepless:
        rows = [
            (None, end, ratio, None)
            for end, ratio in zip(("lowest", "highest"), ladder.ends, strict=True)
        ]
    else:
        rows = [(gear.number, gear.label, gear.ratio, gear.step) for gear in ladder.gears]
    schema = paper_schema(cadences_rpm)
    columns = {name: schema[name] for name in ("gear", "label", "ratio", "step")}
    development_m = pl.col("ratio") * pl.lit(rollout_m, pl.Float64())
    return (
        pl.DataFrame(rows, schema=columns, orient="row")
        .with_columns(
            development_m.alias("development_m"),
            *(
                (development_m * cadence / 60).alias(f"speed_{cadence}rpm_mps")
                for cadence in cadences_rpm
            ),
            (shift_cadence_rpm * pl.col("step")).alias("cadence_change_rpm"),
        )
        .select(*schema)
    )
