"""Reads campaign.toml: its general settings, its vehicles, and what the parts make together."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, get_args

from ridelab.campaign.claims import read_claims
from ridelab.campaign.drivetrains import read_drivetrains
from ridelab.campaign.loggers import read_loggers
from ridelab.campaign.model import Campaign, Kind, Units, Vehicle
from ridelab.campaign.table import Table, read_toml, shown
from ridelab.drivetrain.ladder import MERGE_WITHIN
from ridelab.drivetrain.wheel import Tyre
from ridelab.errors import nearest

if TYPE_CHECKING:
    from collections.abc import Collection

_KINDS: dict[str, Kind] = {kind: kind for kind in get_args(Kind)}
_UNITS: dict[str, Units] = {units: units for units in get_args(Units)}
_SECTIONS = ("campaign", "vehicles", "drivetrains", "loggers", "claims")
_VEHICLE_KEYS = ("kind", "tyre", "rollout_m", "drivetrain", "rides", "odometer_km", "logger")
_RIDES = 'a list of globs relative to this file, such as ["rides/heron/*.fit"]'
_KM_M = 1000.0


def load(path: str | Path) -> Campaign:
    """Read and check a campaign file.

    Raises:
        CampaignError: anything in it that cannot be; names file, key, found and accepted.
    """
    file = Path(path)
    root = file.resolve().parent
    top = Table(file, "", read_toml(file), _SECTIONS)
    general = top.table("campaign", ("name", "units", "merge_within"))
    merge_within = general.positive(
        "merge_within", "percent", "above 0 and below 0.2, such as '1.5 %' or 0.015",
        below=0.2, default=MERGE_WITHIN,
    )  # fmt: skip
    drivetrains, ladders = read_drivetrains(top, merge_within)
    loggers = read_loggers(top)
    return Campaign(
        name=general.text("name", root.name),
        root=root,
        units=general.choice("units", _UNITS, "metric"),
        vehicles={
            name: _vehicle(name, table, drivetrains, loggers)
            for name, table in top.table("vehicles", None).named(_VEHICLE_KEYS)
        },
        drivetrains=drivetrains,
        claims=read_claims(top, ladders),
        merge_within=merge_within,
        loggers=loggers,
        file=file,
    )


def _vehicle(
    name: str, table: Table, drivetrains: Collection[str], loggers: Collection[str]
) -> Vehicle:
    rides = table.items("rides", str, _RIDES)
    for pattern in rides:
        if not pattern or "\0" in pattern:
            table.fail("rides", f"found {shown(pattern)} in the list", _RIDES)
    return Vehicle(
        name=name,
        kind=table.choice("kind", _KINDS),
        rides=tuple(rides),
        tyre=_tyre(table),
        rollout_m=table.positive(
            "rollout_m", "length", "metres a turn of the driven wheel, below 5, such as 1.563",
            below=5.0, default=None,
        ),
        drivetrain=_defined(table, "drivetrain", drivetrains),
        odometer_km=_odometer_km(table),
        logger=_defined(table, "logger", loggers),
    )  # fmt: skip


def _defined(table: Table, key: str, names: Collection[str]) -> str | None:
    """Return a name that another table of the campaign defines, None where the key is absent."""
    name = table.text(key, None)
    if name is not None and name not in names:
        found = f"found {shown(name)}, which no [{key}s] table defines"
        table.fail(key, found, nearest(name, names))
    return name


def _tyre(table: Table) -> Tyre | None:
    designation = table.text("tyre", None)
    if designation is None:
        return None
    with table.owning("tyre"):
        return Tyre.parse(designation)


def _odometer_km(table: Table) -> float | None:
    accepted = "kilometres before the first ride, 0 or more, such as 412.0"
    reading = table.quantity("odometer_km", "length", accepted, None)
    if reading is None:
        return None
    in_metres = isinstance(table.raw["odometer_km"], str)
    km = reading.value_si / _KM_M if in_metres else reading.value_si
    if km < 0:
        table.fail("odometer_km", f"found {reading.printed}", accepted)
    return km
