"""Torque through the chain of stages: what enters each, for a rider on one pedal and a motor.

A stage of ratio r (output turns over input turns) hands on 1/r of the torque that enters it, since
power is torque × angular speed and no more comes out than went in. Losses are left out: they would
make the torque smaller, so that of the drivetrain alone this is the most. It is not the most that a
rider can do: a jump on the pedal, hands pulling at the bars or a back against a seat press harder
than the rider's weight.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from ridelab.units import display_unit, format_quantity

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from ridelab.drivetrain.stages import Drivetrain, Stage
    from ridelab.units import UnitSystem

#: Standard acceleration of free fall, m/s² (3rd General Conference on Weights and Measures, 1901).
STANDARD_GRAVITY_MPS2 = 9.80665
#: Taken where a campaign states nothing; common practice, no source.
USUAL_MASS_KG, USUAL_CRANK_M = 80.0, 0.170
#: Where a motor drives: at the crank, before the first stage; or the wheel itself, past them all.
AT_CRANK, AT_WHEEL = "crank", "wheel"

#: What may be said of a torque below its limit, and no more.
BELOW = (
    "below the stated limit by this estimate; dynamic loads, the maker's manual and a qualified "
    "mechanic decide"
)
_MOST_NAMED = 3
_ROUNDING = 1e-9

TORQUE_SCHEMA = pl.Schema(
    {
        "stage": pl.String(),
        "in_front": pl.String(),  # settings of the stages in front; null where none is shifted
        "primary_ratio": pl.Float64(),  # turns of the stage's input for one turn of the crank
        "input_torque_nm": pl.Float64(),
        "max_input_torque_nm": pl.Float64(),  # as stated; null where nothing is
        "min_primary_ratio": pl.Float64(),
        "combinations": pl.Int64(),  # of all stages with this in front; null before a stepless one
        "beyond": pl.Boolean(),  # whether a stated limit is reached; null where none is stated
    }
)


@dataclass(frozen=True)
class Rider:
    """Who presses on the pedals, kg, and the length of the crank, m.

    ``assumed`` names what nobody stated.
    """

    mass_kg: float = USUAL_MASS_KG
    crank_m: float = USUAL_CRANK_M
    assumed: tuple[str, ...] = ("rider", "crank")

    @property
    def torque_nm(self) -> float:
        """Torque at the crank with the whole weight on one pedal, its crank level: m × g × arm."""
        return self.mass_kg * STANDARD_GRAVITY_MPS2 * self.crank_m


@dataclass(frozen=True)
class Motor:
    """A motor's torque, N·m, and what it drives: "crank", "wheel", or the input of a stage."""

    torque_nm: float
    drives: str = AT_CRANK


def torque_table(
    drivetrain: Drivetrain, rider: Rider | None = None, motor: Motor | None = None
) -> pl.DataFrame:
    """Return the input torque of each stage for each setting of the stages in front of it.

    One row a stage and setting (``TORQUE_SCHEMA``), stages in order, the highest torque first. What
    a stage itself is set to does not change what enters it, so these rows are all combinations. A
    stepless stage is told at its two ends. A motor at the crank, or at the input of a stage, adds
    to what enters there; one at the wheel passes through no stage.
    """
    driven = _driven_place(drivetrain, motor)
    labels: list[str] = [""]
    primary, torque_nm = np.ones(1), np.array([(rider or Rider()).torque_nm])
    frames = []
    for place, stage in enumerate(drivetrain.stages):
        if motor is not None and place == driven:
            torque_nm = torque_nm + motor.torque_nm
        frames.append(_rows(drivetrain, place, labels, primary, torque_nm))
        ratios = np.array([ratio for _, ratio in _settings(stage)])
        primary = np.outer(primary, ratios).ravel()
        torque_nm = np.outer(torque_nm, 1 / ratios).ravel()
        labels = _extended(labels, stage)
    return pl.concat(frames)


def worst_cases(table: pl.DataFrame) -> pl.DataFrame:
    """Return one row a stage, that of its highest torque, of a ``torque_table``.

    Beside it stand ``settings``, how many settings in front there are, and ``settings_beyond``, how
    many of them reach a stated limit (null where none is stated).
    """
    return table.group_by("stage", maintain_order=True).agg(
        pl.exclude("stage", "combinations").first(),
        pl.len().alias("settings"),
        pl.when(pl.col("beyond").count() > 0).then(pl.col("beyond").sum()).alias("settings_beyond"),
    )


def cautions(table: pl.DataFrame, units: UnitSystem = "metric") -> list[str]:
    """Return a sentence for each stage that a setting in front loads to its limit or beyond.

    It names the worst settings, and says how many there are. Nothing is said of the others: a
    figure below a limit promises nothing (``BELOW``).
    """
    said = []
    for (stage,), rows in table.group_by("stage", maintain_order=True):
        beyond = rows.filter(pl.col("beyond"))
        if len(beyond):
            said.append(_caution(str(stage), beyond, rows, units))
    return said


def assumptions(rider: Rider, motor: Motor | None = None, units: UnitSystem = "metric") -> str:
    """Return in a sentence what the torques stand on."""
    unit = display_unit("mass", units)
    mass = f"{rider.mass_kg * unit.per_si:.4g} {unit.symbol}"
    guessed = f" ({' and '.join(rider.assumed)} assumed)" if rider.assumed else ""
    said = f"{mass} on one level crank of {rider.crank_m * 1000:g} mm{guessed}"
    if motor is not None:
        where = "at the " if motor.drives in {AT_CRANK, AT_WHEEL} else "into "
        past = ", which passes through no stage" if motor.drives == AT_WHEEL else ""
        torque = format_quantity(motor.torque_nm, "torque", units)
        said += f", a motor's {torque} {where}{motor.drives}{past}"
    return said


def _driven_place(drivetrain: Drivetrain, motor: Motor | None) -> int | None:
    """Return the place of the stage whose input a motor drives, from 0; None if it drives none."""
    if motor is None or motor.drives == AT_WHEEL:
        return None
    if motor.drives == AT_CRANK:
        return 0
    return [stage.name for stage in drivetrain.stages].index(motor.drives)


def _settings(stage: Stage) -> list[tuple[str, float]]:
    """Return what a stage can be set to, and the ratio of each."""
    if stage.continuous is not None:
        return list(zip(("lowest", "highest"), stage.continuous, strict=True))
    return [(choice.label, choice.ratio) for choice in stage.choices]


def _extended(labels: Sequence[str], stage: Stage) -> list[str]:
    """Return the labels of all settings up to and with a stage; one without a choice is no part."""
    settings = _settings(stage)
    if len(settings) == 1:
        return list(labels)
    prefix = "" if stage.teeth else f"{stage.name} "
    return [
        " · ".join(filter(None, (before, f"{prefix}{label}")))
        for before in labels
        for label, _ in settings
    ]


def _rows(
    drivetrain: Drivetrain,
    place: int,
    labels: Sequence[str],
    primary: NDArray[np.float64],
    torque_nm: NDArray[np.float64],
) -> pl.DataFrame:
    """Return the rows of one stage beside its stated limits, the highest torque first."""
    stage, behind = drivetrain.stages[place], drivetrain.stages[place:]
    stepped = all(one.continuous is None for one in behind)
    limit_nm = dict(drivetrain.max_input_torque_nm).get(stage.name)
    least = dict(drivetrain.min_primary_ratio).get(stage.name)
    beyond = np.zeros(len(primary), dtype=bool)
    if limit_nm is not None:
        beyond |= torque_nm >= limit_nm * (1 - _ROUNDING)
    if least is not None:
        beyond |= primary < least * (1 - _ROUNDING)
    stated = limit_nm is not None or least is not None
    return pl.DataFrame(
        {
            "stage": [stage.name] * len(primary),
            "in_front": [label or None for label in labels],
            "primary_ratio": primary,
            "input_torque_nm": torque_nm,
            "max_input_torque_nm": [limit_nm] * len(primary),
            "min_primary_ratio": [least] * len(primary),
            "combinations": [math.prod(len(one.choices) for one in behind) if stepped else None]
            * len(primary),
            "beyond": beyond if stated else [None] * len(primary),
        },
        schema=TORQUE_SCHEMA,
    ).sort("input_torque_nm", descending=True, maintain_order=True)


def _caution(stage: str, beyond: pl.DataFrame, rows: pl.DataFrame, units: UnitSystem) -> str:
    worst = beyond.row(0, named=True)
    said = f"{stage}: {format_quantity(worst['input_torque_nm'], 'torque', units)} at its input"
    if worst["in_front"] is not None:
        said += f" with {worst['in_front']} in front"
    if (limit_nm := worst["max_input_torque_nm"]) is not None:
        said += f", stated limit {format_quantity(limit_nm, 'torque', units)}"
    if (least := worst["min_primary_ratio"]) is not None:
        said += f"; ratio in front {worst['primary_ratio']:.3g}, stated least {least:.3g}"
    if len(rows) > 1:
        named = ", ".join(beyond["in_front"].head(_MOST_NAMED))
        more = ", …" if len(beyond) > _MOST_NAMED else ""
        said += f"; beyond in {len(beyond)} of {len(rows)} settings in front: {named}{more}"
    if beyond["combinations"].count():
        said += f" ({beyond['combinations'].sum()} of {rows['combinations'].sum()} combinations)"
    return said
