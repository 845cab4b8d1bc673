"""A shop's season: 20 vehicles and 400 rides, simulated, with claims, services and replays.

Kinds of drivetrain are mixed as a shop mixes them: hubs, gearboxes, chains, a gearbox in front of a
hub with 84 combinations, stepless hubs, one vehicle without papers. One hub and one chain are not
as published. Everything in it is invented.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from ridelab.campaign import load
from ridelab.drivetrain.stages import Drivetrain, from_ratios, from_teeth
from ridelab.simulate import (
    Piece,
    Rider,
    Scenario,
    Sensors,
    Vehicle,
    build_course,
    from_drivetrain,
    simulate_ride,
)

if TYPE_CHECKING:
    from pathlib import Path

    from ridelab.campaign import Campaign
    from ridelab.simulate import Course

RIDES_EACH = 20
_FIRST_DAY = datetime(2026, 3, 2, 7, 5, tzinfo=UTC)
_HILLS = (
    Piece(1500, junctions_every_m=450),
    Piece(1600, grade=0.06),
    Piece(1600, grade=-0.045),
    Piece(9000, hills=0.06, junctions_every_m=1100),
)
_SWEEP = (Piece(900, junctions_every_m=500), Piece(9000, grade=-0.004, sweep=True), *_HILLS[1:])
_TOWN = (Piece(14000, hills=0.015, junctions_every_m=400),)
_RIDERS = (
    Rider(),
    Rider(mass_kg=68.0, cadence_rpm=86.0, power_w=175.0, band_rpm=8.0),
    Rider(mass_kg=82.0, cadence_rpm=74.0, power_w=140.0, band_rpm=11.0, spell_every_s=55.0),
    Rider(mass_kg=64.0, cadence_rpm=78.0, power_w=95.0, fastest_mps=8.0),
)
_SENSORS = (
    Sensors(),
    Sensors(auto_pause=True),
    Sensors(power_meter=True, cadence_fraction=True),
    Sensors(dropouts_per_hour=20.0),
    Sensors(speed="satellite"),
)

_HEAD = """
[campaign]
name = "A season by the estuary (invented)"

[drivetrains.nine]
description = "9-speed gearbox at the cranks"
stages = [
  { name = "gearbox", ratios = [0.55, 0.68, 0.84, 1.04, 1.28, 1.58, 1.95, 2.41, 2.97] },
  { name = "chain", driver = [32], driven = [24] },
]
service = { every_km = 1000, every_months = 12 }

[drivetrains.fourteen]
description = "14-speed hub gear"
stages = [
  { name = "chain", driver = [38], driven = [15] },
  { name = "hub", speeds = 14, range = "526 %", lowest = 0.279 },
]
service = { every_km = 500, every_months = 12 }

[drivetrains.six-by-fourteen]
description = "6-speed gearbox in front of a 14-speed hub"
stages = [
  { name = "gearbox", speeds = 6, range = "295 %", lowest = 1 },
  { name = "chain", driver = [30], driven = [36] },
  { name = "hub", speeds = 14, range = "526 %" },
]
service = { every_km = 800, every_months = 12 }

[drivetrains.double]
description = "two chainrings and nine sprockets"
stages = [
  { name = "chain", driver = [24, 38], driven = [36, 30, 26, 22, 19, 17, 15, 13, 11] },
]

[drivetrains.stepless]
description = "stepless hub"
stages = [
  { name = "chain", driver = [46], driven = [20] },
  { name = "hub", continuous = [0.5, 1.9] },
]

[drivetrains.seven]
description = "7-speed hub gear"
stages = [
  { name = "chain", driver = [38], driven = [18] },
  { name = "hub", speeds = 7, range = "244 %" },
]
service = { every_months = 6 }
"""
#: Drivetrain, quantity, value, and what else a claim has.
_CLAIMS = (
    ("nine", "range", '"540 %"', 'tolerance = "2 %"'),
    ("nine", "gears", "9", ""),
    ("nine", "speed", '"37 km/h"', 'gear = "highest"\nat_cadence_rpm = 100'),
    ("fourteen", "range", '"526 %"', 'tolerance = "2 %"'),
    ("fourteen", "gears", "14", ""),
    ("fourteen", "step", '"13.6 %"', 'tolerance = "3 %"'),
    ("six-by-fourteen", "range", '"1552 %"', 'tolerance = "2 %"'),
    ("six-by-fourteen", "gears", "57", ""),
    ("double", "range", '"560 %"', 'tolerance = "2 %"'),
    ("double", "gears", "18", ""),
    ("stepless", "range", '"380 %"', 'tolerance = "2 %"'),
    ("stepless", "development", '"7.1 m"', 'gear = "highest"'),
    ("seven", "step", '"16 %"', 'which = "smallest"\ntolerance = "5 %"'),
    ("seven", "speed", '"34 km/h"', 'gear = "highest"\nat_cadence_rpm = 80'),
)


@dataclass(frozen=True)
class _Kind:
    """What vehicles with one drivetrain have in common."""

    kind: str
    tyre: str
    rollout_m: float
    mass_kg: float = 16.0
    drag_m2: float = 0.52
    shifts_standing: bool = True


_KINDS = {
    "fourteen": _Kind("bicycle", "47-622", 2.204),
    "nine": _Kind("trike", "50-406", 1.563, 18.0, 0.36),
    "six-by-fourteen": _Kind("trike", "50-406", 1.565, 19.0, 0.38),
    "double": _Kind("bicycle", "37-622", 2.150, 12.5, 0.45, shifts_standing=False),
    "stepless": _Kind("cargo", "62-406", 1.632, 42.0, 0.72),
    "seven": _Kind("bicycle", "40-622", 2.150, 18.0, 0.58),
    "": _Kind("bicycle", "32-622", 2.131, 13.0, 0.48, shifts_standing=False),
}
_FLEET = {
    "avocet": "fourteen",
    "bittern": "six-by-fourteen",
    "curlew": "nine",
    "dunlin": "fourteen",
    "egret": "double",
    "fulmar": "stepless",
    "godwit": "nine",
    "heron": "fourteen",
    "ibis": "seven",
    "jacana": "six-by-fourteen",
    "knot": "double",
    "lapwing": "fourteen",
    "merlin": "nine",
    "noddy": "stepless",
    "ouzel": "double",
    "plover": "six-by-fourteen",
    "quail": "",
    "redshank": "fourteen",
    "sanderling": "nine",
    "turnstone": "seven",
}
#: Vehicles that ask how other drivetrains would have done.
_REPLAYED = {"egret": ("fourteen", "nine"), "ibis": ("fourteen",), "curlew": ("fourteen", "double")}
#: Vehicles that are not what their sheets say, and the one without a sheet.
_AS_BUILT = {
    "redshank": Drivetrain(
        "fourteen",
        (
            from_teeth("chain", (38,), (15,)),
            from_ratios("hub", (*(0.279 * 5.26 ** (n / 13) for n in range(13)), 1.4235)),
        ),
    ),
    "turnstone": Drivetrain(
        "seven",
        (
            from_teeth("chain", (38,), (18,)),
            from_ratios("hub", (0.640, 0.752, 0.858, 1.0, 1.165, 1.346, 1.562)),
        ),
    ),
    "quail": Drivetrain("eight", (from_teeth("chain", (40,), (32, 28, 24, 21, 18, 16, 14, 12)),)),
}


def write_campaign(folder: Path, rides_each: int = RIDES_EACH, seed: int = 8) -> Path:
    """Write the campaign and its rides, of 20 to 40 minutes; return the path of campaign.toml.

    One file is no ride, and one vehicle has a ride that broke off: something is always set aside.
    """
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "campaign.toml"
    path.write_text(_HEAD + "".join(map(_vehicle, _FLEET)) + "".join(map(_claim, _CLAIMS)))
    campaign = load(path)
    for place, vehicle in enumerate(_FLEET):
        _write_rides(folder / vehicle, campaign, vehicle, rides_each, seed + 1000 * place)
    (folder / "avocet" / "notes.fit").write_bytes(b"no ride at all")
    broken = folder / "egret" / "ride-00.fit"
    broken.write_bytes(broken.read_bytes()[:-9000])
    return path


def _vehicle(name: str) -> str:
    drivetrain = _FLEET[name]
    own = _KINDS[drivetrain]
    lines = [f'kind = "{own.kind}"', f'tyre = "{own.tyre}"', f'rides = ["{name}/*.fit"]']
    if drivetrain:
        lines.append(f'drivetrain = "{drivetrain}"')
    if name in _REPLAYED:
        lines.append(f"replay_onto = {list(_REPLAYED[name])}")
    return f"\n[vehicles.{name}]\nodometer_km = 120\n" + "\n".join(lines) + "\n"


def _claim(claim: tuple[str, str, str, str]) -> str:
    drivetrain, quantity, value, more = claim
    return (
        f'\n[[claims]]\nid = "{drivetrain}-{quantity}"\ndrivetrain = "{drivetrain}"\n'
        f'quantity = "{quantity}"\nvalue = {value}\n{more}\nsource = "sheet (invented)"\n'
    )


def _write_rides(folder: Path, campaign: Campaign, vehicle: str, rides: int, seed: int) -> None:
    """Write the rides of one vehicle: each second one through all gears, sensors by vehicle."""
    folder.mkdir(exist_ok=True)
    body, place = _body(campaign, vehicle), list(_FLEET).index(vehicle)
    courses = [build_course(pieces, seed) for pieces in (_SWEEP, _HILLS, _TOWN)]
    for number in range(rides):
        scenario = _ride(body, courses, place, number)
        day = _FIRST_DAY + timedelta(days=10 * number + place % 7, hours=place % 9)
        content = simulate_ride(scenario, seed + number).fit_content(day)
        (folder / f"ride-{number:02}.fit").write_bytes(content)


def _ride(body: Vehicle, courses: list[Course], place: int, number: int) -> Scenario:
    rider = _RIDERS[(number + place) % len(_RIDERS)]
    satellite_now_and_then = number % 4 == 3
    sensors = _SENSORS[-1 if satellite_now_and_then else place % (len(_SENSORS) - 1)]
    seconds = 1200 + (61 * (number + 3 * place)) % 1201
    return Scenario(rider, body, courses[number % len(courses)], sensors, seconds)


def _body(campaign: Campaign, vehicle: str) -> Vehicle:
    own, published = _KINDS[_FLEET[vehicle]], campaign.vehicles[vehicle].drivetrain
    built = _AS_BUILT.get(vehicle)
    said = campaign.drivetrains[published] if published else built
    assert said is not None
    return Vehicle(
        gearing=from_drivetrain(said, built),
        rollout_m=own.rollout_m,
        mass_kg=own.mass_kg,
        drag_m2=own.drag_m2,
        shifts_standing=own.shifts_standing,
    )
