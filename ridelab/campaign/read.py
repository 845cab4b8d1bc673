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

if TYPE_CHECKING:
    from collections.abc import Collection

_KINDS: dict[str, Kind] = {kind: kind for kind in get_args(Kind)}
_UNITS: dict[str, Units] = {units: units for units in get_args(Units)}
_SECTIONS = ("campaign", "vehicles", "drivetrains", "loggers", "claims")
_VEHICLE_KEYS = ("kind", "tyre", "rollout_m", "drivetrain", "rides", "odometer_km", "logger")
_RIDES = 'a list of globs relative to this file, such as ["rides/heron/*.fit"]'
_ROLLOUT = "metres a turn of the driven wheel, from 0.3 to 4, such as 1.563 or '1563 mm'"
_KM_M = 1000.0
_MOST_KM = 1e6


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
    vehicles = {
        name: _vehicle(name, table, drivetrains, loggers)
        for name, table in top.table("vehicles", None).named(_VEHICLE_KEYS)
    }
    return Campaign(
        name=general.text("name", root.name),
        root=root,
        units=general.choice("units", _UNITS, "metric"),
        vehicles=vehicles,
        drivetrains=drivetrains,
        claims=read_claims(top, ladders, vehicles),
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
            "rollout_m", "length", _accepted_rollout(table.raw.get("rollout_m")),
            least=0.3, most=4.0, default=None,
        ),
        drivetrain=_defined(table, "drivetrain", drivetrains),
        odometer_km=_odometer_km(table),
        logger=_defined(table, "logger", loggers),
    )  # fmt: skip


def _accepted_rollout(found: object) -> str:
    """Return what is accepted, after the same number in millimetres if that would be."""
    in_mm = isinstance(found, int | float) and 300 <= found <= 4000
    return f'did you mean "{found} mm"? {_ROLLOUT}' if in_mm else _ROLLOUT


def _defined(table: Table, key: str, names: Collection[str]) -> str | None:
    """Return a name that another table of the campaign defines, None where the key is absent."""
    name = table.text(key, None)
    if name is not None and name not in names:
        table.undefined(key, name, names)
    return name


def _tyre(table: Table) -> Tyre | None:
    designation = table.text("tyre", None)
    if designation is None:
        return None
    with table.owning("tyre"):
        return Tyre.parse(designation)


def _odometer_km(table: Table) -> float | None:
    accepted = "kilometres before the first ride, from 0 to a million, such as 412.0"
    reading = table.quantity("odometer_km", "length", accepted, None)
    if reading is None:
        return None
    in_metres = isinstance(table.raw["odometer_km"], str)
    km = reading.value_si / _KM_M if in_metres else reading.value_si
    if not 0 <= km <= _MOST_KM:
        table.fail("odometer_km", f"found {reading.printed}", accepted)
    return km
