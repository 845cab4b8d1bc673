"""Reads campaign.toml: its general settings, its vehicles, and what the parts make together."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, get_args

from ridelab.campaign.claims import read_claims
from ridelab.campaign.drivetrains import read_drivetrains
from ridelab.campaign.loads import RIDER_KEYS, read_motor, read_rider
from ridelab.campaign.loggers import read_loggers
from ridelab.campaign.model import Campaign, Kind, Units, Vehicle
from ridelab.campaign.mounting import read_devices, read_mounted
from ridelab.campaign.power import POWER_KEYS, read_meters
from ridelab.campaign.service import read_serviced
from ridelab.campaign.table import Table, one_of, read_toml, shown
from ridelab.drivetrain.ladder import MERGE_WITHIN
from ridelab.drivetrain.wheel import Tyre
from ridelab.errors import nearest
from ridelab.objects import checked

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from ridelab.drivetrain.stages import Drivetrain
    from ridelab.drivetrain.torque import Rider

_KINDS: dict[str, Kind] = {kind: kind for kind in get_args(Kind)}
_UNITS: dict[str, Units] = {units: units for units in get_args(Units)}
_SECTIONS = ("campaign", "vehicles", "drivetrains", "loggers", "claims", "mounted")
_VEHICLE_KEYS = (
    "kind", "tyre", "rollout_m", "drivetrain", "rides", "odometer_km", "logger", "other_tyres",
    "sensor_wheel", "set_rollout_m", "motor", "replay_onto",
    "comfortable_rpm", "devices", "serviced", *RIDER_KEYS,
    *POWER_KEYS,
)  # fmt: skip
_RIDES = 'a list of globs relative to this file, such as ["rides/heron/*.fit"]'
_ROLLOUT = "metres a turn of the wheel, from 0.3 to 4, such as 1.563 or '1563 mm'"
_TYRES = "a list of designations, those of the wheels that are not driven, such as ['40-349']"
_KM_M = 1000.0
_MOST_KM = 1e6
_LEAST_RPM, _MOST_RPM = 20.0, 200.0


def load(path: str | Path) -> Campaign:
    """Read and check a campaign file.

    Raises:
        CampaignError: anything in it that cannot be; names file, key, found and accepted.
    """
    file = Path(path)
    root = file.resolve().parent
    top = Table(file, "", read_toml(file), _SECTIONS)
    general = top.table("campaign", ("name", "units", "merge_within", "rides", *RIDER_KEYS))
    merge_within = general.positive(
        "merge_within", "percent", "above 0 and below 0.2, such as '1.5 %' or 0.015",
        below=0.2, default=MERGE_WITHIN,
    )  # fmt: skip
    drivetrains, ladders = read_drivetrains(top, merge_within)
    loggers = read_loggers(top)
    rider = read_rider(general)
    vehicles = {
        name: _vehicle(name, table, drivetrains, loggers, rider, shared="rides" in general)
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
        rider=rider,
        rides=_globs(general) if "rides" in general else (),
        mounted=read_mounted(top, vehicles),
    )


def _vehicle(
    name: str,
    table: Table,
    drivetrains: Mapping[str, Drivetrain],
    loggers: Collection[str],
    rider: Rider,
    *,
    shared: bool,
) -> Vehicle:
    devices = read_devices(table)
    rides = _globs(table) if "rides" in table or not shared else ()
    kind, drivetrain = table.choice("kind", _KINDS), _defined(table, "drivetrain", drivetrains)
    tyre, other_tyres = _tyre(table, "tyre"), _other_tyres(table)
    stages = drivetrains[drivetrain].stages if drivetrain is not None else ()
    return Vehicle(
        name=name,
        kind=kind,
        rides=rides,
        tyre=tyre,
        rollout_m=_rollout_m(table, "rollout_m"),
        drivetrain=drivetrain,
        odometer_km=_odometer_km(table),
        logger=_defined(table, "logger", loggers),
        other_tyres=other_tyres,
        sensor_wheel=_sensor_wheel(table, (*([tyre] if tyre else []), *other_tyres)),
        set_rollout_m=_rollout_m(table, "set_rollout_m"),
        rider=read_rider(table, rider, kind),
        motor=read_motor(table, [stage.name for stage in stages]),
        meters=read_meters(table),
        comfortable_rpm=_comfortable_rpm(table),
        replay_onto=_replay_onto(table, drivetrains, drivetrain),
        devices=devices,
        serviced=read_serviced(table),
    )


def _globs(table: Table) -> tuple[str, ...]:
    patterns = table.items("rides", str, _RIDES)
    for pattern in patterns:
        if not pattern or "\0" in pattern:
            table.fail("rides", f"found {shown(pattern)} in the list", _RIDES)
        with table.owning("rides"):
            checked(pattern)
    return tuple(patterns)


def _rollout_m(table: Table, key: str) -> float | None:
    accepted = _accepted_rollout(table.raw.get(key))
    return table.positive(key, "length", accepted, least=0.3, most=4.0, default=None)


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


def _tyre(table: Table, key: str) -> Tyre | None:
    designation = table.text(key, None)
    if designation is None:
        return None
    with table.owning(key):
        return Tyre.parse(designation)


def _other_tyres(table: Table) -> tuple[Tyre, ...]:
    if "other_tyres" not in table:
        return ()
    with table.owning("other_tyres"):
        return tuple(map(Tyre.parse, table.items("other_tyres", str, _TYRES)))


def _sensor_wheel(table: Table, tyres: Collection[Tyre]) -> Tyre | None:
    wheel = _tyre(table, "sensor_wheel")
    if wheel is not None and wheel not in tyres:
        known = one_of([repr(tyre.designation) for tyre in tyres]) if tyres else "tyre first"
        accepted = f"the tyre of a wheel that the vehicle has: {known}"
        table.fail("sensor_wheel", f"found {wheel.designation!r}", accepted)
    return wheel


def _comfortable_rpm(table: Table) -> tuple[float, float] | None:
    """Return the cadences between which the rider is at ease, None where they do not say."""
    if "comfortable_rpm" not in table:
        return None
    accepted = "two cadences in rpm, the lower first, from 20 to 200, such as [55, 95]"
    given = table.numbers("comfortable_rpm", accepted)
    if len(given) != 2 or not _LEAST_RPM <= given[0] < given[1] <= _MOST_RPM:
        table.fail("comfortable_rpm", f"found {shown(table.raw['comfortable_rpm'])}", accepted)
    return given[0], given[1]


def _replay_onto(table: Table, drivetrains: Collection[str], own: str | None) -> tuple[str, ...]:
    """Return the drivetrains that a vehicle's rides are to be replayed on."""
    if "replay_onto" not in table:
        return ()
    accepted = "a list of other drivetrains of this campaign, each once, such as ['nine']"
    names = table.items("replay_onto", str, accepted)
    for name in names:
        if name not in drivetrains:
            table.fail("replay_onto", f"no drivetrain {name!r}", nearest(name, drivetrains))
        if name == own or names.count(name) > 1:
            why = "the vehicle's own drivetrain" if name == own else "twice in the list"
            table.fail("replay_onto", f"found {name!r}, {why}", accepted)
    return tuple(names)


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
