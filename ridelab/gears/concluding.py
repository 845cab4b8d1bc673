"""A fitted ladder and what is kept of its rides -> the vehicle as measured."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridelab.gears import counting, measured, outcome
from ridelab.gears.precision import covariances, precision
from ridelab.gears.result import COVARIANCE_SCHEMA, VehicleGears
from ridelab.gears.teeth import teeth_of
from ridelab.problems import Problem

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.gears.kept import Kept
    from ridelab.gears.ladder import Stated
    from ridelab.gears.result import RideGears
    from ridelab.gears.spells import Estimate


def concluded(
    vehicle: str,
    kept: Kept,
    found: Estimate | None,
    stated: Stated,
    rides: Sequence[RideGears],
    notes: Sequence[Problem],
) -> VehicleGears:
    """Return the vehicle as measured: ``found`` from the spells of all rides that are kept.

    ``rides``, ``notes``: handed on, with what there is to say of the vehicle.
    """
    rungs = kept.rungs
    table = measured.table(rungs, found, kept.use, stated, kept.unridden)
    probabilities = dict(rungs.count_probabilities)
    doubt = counting.doubt(len(table.gears), probabilities) if probabilities else None
    said = [doubt] if doubt else []
    problems = [
        *notes,
        *outcome.wrong_wheel(vehicle, table.rollout, stated),
        *outcome.strangers(vehicle, table.gears, stated),
        *(Problem(vehicle, "measure", "warning", text) for text in (*said, *rungs.doubts)),
    ]
    listed = table.listed
    scatters = [ride.scatter for ride in kept.rides]
    return VehicleGears(
        vehicle=vehicle,
        rollout=table.rollout,
        gears=table.gears,
        range=table.range,
        stepless=False,
        rides=tuple(rides),
        problems=tuple(problems),
        placement_probability=rungs.placement_probability,
        unexplained_share=rungs.unexplained_share,
        count_probability=probabilities.get(len(table.gears), 0.0) if probabilities else None,
        steps=table.steps,
        teeth=teeth_of(table, stated),
        covariance=COVARIANCE_SCHEMA.to_frame() if listed is None else covariances(rungs, listed),
        precision=None if listed is None else precision(found, scatters, kept.usual_rpm),
        kept=None if found is None else kept,
    )
