"""Reads who presses on the pedals and what motor helps, for the torque through a drivetrain."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridelab.drivetrain.torque import AT_CRANK, AT_WHEEL, Motor, Rider

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.campaign.model import Kind
    from ridelab.campaign.table import Table

#: Keys that stand in [campaign], for all vehicles, or in a vehicle's own table.
RIDER_KEYS = ("rider_kg", "crank_mm")
_MASS = "the mass on the pedals, from 20 to 400 kg, such as 80 or '176 lb'"
_CRANK = "the length of the crank, from 50 to 300 mm, such as 170 or '17 cm'"
_TORQUE = "newton metres up to 1000, such as 85 or '63 lbf·ft'"
_MM_M = 0.001
_MOST_MOTOR_NM = 1000.0


def read_rider(table: Table, fallback: Rider | None = None, kind: Kind | None = None) -> Rider:
    """Return the rider that a table states, what it leaves out from ``fallback``, else as usual.

    A tandem whose own table states no mass has two of that rider.

    Raises:
        CampaignError: a mass or a crank that nobody has.
    """
    usual = fallback or Rider()
    mass_kg = table.positive("rider_kg", "mass", _MASS, least=20, most=400, default=None)
    crank_mm = table.positive(
        "crank_mm", "length", _CRANK, least=50, most=300, unit_si=_MM_M, default=None
    )
    stated = {"rider": mass_kg is not None, "crank": crank_mm is not None}
    return Rider(
        usual.mass_kg * (2 if kind == "tandem" else 1) if mass_kg is None else mass_kg,
        usual.crank_m if crank_mm is None else crank_mm * _MM_M,
        tuple(word for word in usual.assumed if not stated[word]),
    )


def read_motor(table: Table, stages: Sequence[str]) -> Motor | None:
    """Return the motor of a vehicle whose drivetrain has these stages; None where it has none.

    Raises:
        CampaignError: no torque, or it drives what the drivetrain does not have.
    """
    if "motor" not in table:
        return None
    motor = table.table("motor", ("torque_nm", "drives"))
    places = {place: place for place in (AT_CRANK, AT_WHEEL, *stages)}
    return Motor(
        torque_nm=motor.positive("torque_nm", "torque", _TORQUE, most=_MOST_MOTOR_NM),
        drives=motor.choice("drives", places, AT_CRANK),
    )
