"""The demo campaign: a small invented fleet, its simulated rides, and the truth beside them."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

from ridelab.campaign import load
from ridelab.drivetrain.stages import Drivetrain, from_ratios, from_teeth
from ridelab.errors import UsageError
from ridelab.simulate.activity import settings_tables
from ridelab.simulate.course import Piece, build_course
from ridelab.simulate.fitfile import fit_bytes
from ridelab.simulate.gearing import from_drivetrain
from ridelab.simulate.ride import SimulatedRide, simulate_ride
from ridelab.simulate.scenario import Rider, Scenario, Sensors, Vehicle

if TYPE_CHECKING:
    from collections.abc import Mapping

DEMO_SEED = 20260411
#: A recording that broke off keeps this share of its bytes.
_KEPT_SHARE = 0.6

#: What the fleet really is, where it is not what the campaign says.
_AS_BUILT = {
    "turnstone": Drivetrain(
        "seven",
        (
            from_teeth("chain", (38,), (18,)),
            from_ratios("hub", (0.640, 0.752, 0.858, 1.0, 1.165, 1.346, 1.562)),
        ),
    ),
    # Its highest gear is 3 % lower than published.
    "redshank": Drivetrain(
        "fourteen",
        (
            from_teeth("chain", (38,), (15,)),
            from_ratios(
                "hub", (*(0.279 * 5.26 ** (n / 13) for n in range(13)), 0.97 * 0.279 * 5.26)
            ),
        ),
    ),
    "whimbrel": Drivetrain(
        "eight", (from_teeth("chain", (40,), (32, 28, 24, 21, 18, 16, 14, 12)),)
    ),
}

_HILLS = (
    Piece(1200, junctions_every_m=450),
    Piece(1500, grade=0.07),
    Piece(1500, grade=-0.045),
    Piece(6000, hills=0.07, junctions_every_m=1100),
    Piece(1500, grade=-0.03),
    Piece(1200, grade=0.10),
    Piece(9000, hills=0.05, junctions_every_m=1300),
)
_SWEEP = (
    Piece(900, junctions_every_m=500),
    Piece(5500, grade=-0.006, sweep=True),
    Piece(1000, grade=0.08),
    Piece(2000, grade=-0.04),
    Piece(9000, hills=0.055, junctions_every_m=900),
)
_TOWN = (Piece(9000, hills=0.012, junctions_every_m=380),)


@dataclass(frozen=True)
class _Body:
    """A vehicle of the fleet but for its gears: true rollout, what the unit is set to, build."""

    rollout_m: float
    set_rollout_m: float
    mass_kg: float
    drag_m2: float
    rolling: float = 0.006
    shifts_standing: bool = True


_FLEET = {
    "plover": _Body(1.5625, 1.563, 17.0, 0.36, rolling=0.007),
    "dunlin": _Body(2.204, 2.205, 16.0, 0.52),
    "redshank": _Body(2.206, 2.205, 16.0, 0.52),
    "lapwing": _Body(2.150, 2.150, 12.5, 0.45, rolling=0.005, shifts_standing=False),
    "godwit": _Body(1.632, 1.630, 42.0, 0.72, rolling=0.008),
    "turnstone": _Body(2.150, 2.150, 18.0, 0.58, rolling=0.007),
    "whimbrel": _Body(2.131, 2.130, 13.0, 0.48, rolling=0.005, shifts_standing=False),
}


@dataclass(frozen=True)
class _DemoRide:
    vehicle: str
    name: str
    day: datetime
    duration_s: int
    course: tuple[Piece, ...]
    rider: Rider = field(default_factory=Rider)
    sensors: Sensors = field(default_factory=Sensors)
    breaks_off: bool = False
    folder: str = ""  # where it is laid, if not with its vehicle
    serial: int | None = None  # of the recording unit


def _day(day: int, hour: int, month: int = 4) -> datetime:
    return datetime(2026, month, day, hour, 5, tzinfo=UTC)


_QUICK = Rider(mass_kg=68.0, cadence_rpm=86.0, power_w=175.0, band_rpm=8.0)
_CALM = Rider(mass_kg=82.0, cadence_rpm=74.0, power_w=140.0, band_rpm=11.0, spell_every_s=55.0)
_TOWN_RIDER = Rider(mass_kg=64.0, cadence_rpm=78.0, power_w=85.0, fastest_mps=7.0)
#: Units that go from vehicle to vehicle: of one the campaign says where it was, of one it does not.
_LENT_UNIT, _UNKNOWN_UNIT = 40711, 40715

_RIDES = (
    _DemoRide("plover", "sluice-hill", _day(11, 8), 2400, _SWEEP, _CALM),
    _DemoRide("plover", "bank-road", _day(12, 9), 2100, _HILLS, _QUICK, Sensors(auto_pause=True)),
    _DemoRide(
        "dunlin",
        "sluice-hill",
        _day(11, 10),
        2700,
        _SWEEP,
        Rider(),
        Sensors(gear_events=True, power_meter=True, cadence_fraction=True),
    ),
    _DemoRide("dunlin", "bank-road", _day(12, 11), 2000, _HILLS, _CALM),
    _DemoRide("lapwing", "sluice-hill", _day(11, 13), 2700, _SWEEP, _QUICK),
    _DemoRide(
        "lapwing", "bank-road", _day(12, 14), 1500, _HILLS, Rider(), Sensors(speed="satellite")
    ),
    _DemoRide("lapwing", "broken-off", _day(18, 9), 1200, _HILLS, _CALM, breaks_off=True),
    _DemoRide("godwit", "sluice-hill", _day(18, 11), 2100, _SWEEP, Rider()),
    _DemoRide("turnstone", "market-round", _day(18, 15), 1500, _TOWN, _TOWN_RIDER),
    _DemoRide("whimbrel", "sluice-hill", _day(19, 9), 1800, _SWEEP, Rider()),
    _DemoRide("turnstone", "market-round-2", _day(16, 7, month=5), 1200, _TOWN, _TOWN_RIDER),
    _DemoRide(
        "turnstone",
        "unit-a-0613",
        _day(13, 7, month=6),
        1100,
        _TOWN,
        _TOWN_RIDER,
        folder="inbox",
        serial=_LENT_UNIT,
    ),
    _DemoRide(
        "turnstone",
        "market-round-3",
        _day(5, 7, month=9),
        1200,
        _TOWN,
        _TOWN_RIDER,
        Sensors(dropouts_per_hour=60.0),
    ),
    _DemoRide(
        "dunlin",
        "unit-b-0905",
        _day(5, 10, month=9),
        900,
        _HILLS,
        folder="inbox",
        serial=_UNKNOWN_UNIT,
    ),
    _DemoRide("redshank", "sluice-hill", _day(5, 13, month=9), 2700, _SWEEP, Rider()),
)


def write_demo(folder: str | Path, seed: int = DEMO_SEED) -> Path:
    """Write the demo campaign with its rides and their truth; return the path of campaign.toml.

    The same seed writes the same bytes. ``truth/`` mirrors ``rides/``: for each ride a table with
    the columns of ``TRUTH_SCHEMA``, and one of its shifts with those of ``TRUE_SHIFT_SCHEMA``.

    Raises:
        UsageError: the folder holds anything else, a changed demo included, or cannot be written.
    """
    folder = Path(folder)
    text = (files("ridelab.simulate") / "demo.toml").read_text(encoding="utf-8")
    path = folder / "campaign.toml"
    _refuse_what_is_not_a_demo(folder, path, text)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
        drivetrains = load(path)
        for number, plan in enumerate(_RIDES):
            published = drivetrains.vehicles[plan.vehicle].drivetrain
            ride = simulate_ride(
                _scenario(plan, drivetrains.drivetrains, published, seed), seed + number
            )
            _write_ride(folder, plan, ride)
        settings = fit_bytes(settings_tables(_day(11, 7)))
        (folder / "rides" / "dunlin" / "unit-settings.fit").write_bytes(settings)
    except OSError as error:
        raise UsageError(f"{error.filename} cannot be written: {error.strerror}") from error
    return path


def _refuse_what_is_not_a_demo(folder: Path, path: Path, text: str) -> None:
    if not folder.exists():
        return
    if not folder.is_dir():
        raise UsageError(f"{folder} is a file; name a folder that is new or empty")
    if not any(folder.iterdir()):
        return
    if not path.is_file():
        raise UsageError(f"{folder} is not empty; name a folder that is new or empty")
    if path.read_bytes() != text.encode():
        raise UsageError(
            f"{path} is not the campaign of the demo, or was changed since, and is left as it is; "
            "name a folder that is new or empty"
        )


def _scenario(
    plan: _DemoRide, drivetrains: Mapping[str, Drivetrain], published: str | None, seed: int
) -> Scenario:
    body = _FLEET[plan.vehicle]
    built = _AS_BUILT.get(plan.vehicle)
    said = drivetrains[published] if published else built
    assert said is not None  # noqa: S101 - every vehicle of the fleet is one or the other
    vehicle = Vehicle(
        gearing=from_drivetrain(said, built),
        rollout_m=body.rollout_m,
        mass_kg=body.mass_kg,
        rolling=body.rolling,
        drag_m2=body.drag_m2,
        shifts_standing=body.shifts_standing,
    )
    sensors = replace(plan.sensors, set_rollout_m=body.set_rollout_m)
    return Scenario(plan.rider, vehicle, build_course(plan.course, seed), sensors, plan.duration_s)


def _write_ride(folder: Path, plan: _DemoRide, ride: SimulatedRide) -> None:
    laid = plan.folder or plan.vehicle
    rides, truth = (folder / kind / laid for kind in ("rides", "truth"))
    for made in (rides, truth):
        made.mkdir(parents=True, exist_ok=True)
    content = ride.fit_content(plan.day, plan.serial)
    if plan.breaks_off:
        content = content[: int(_KEPT_SHARE * len(content))]
    (rides / f"{plan.name}.fit").write_bytes(content)
    ride.truth.write_csv(truth / f"{plan.name}.csv", float_precision=6)
    ride.shifts.write_csv(truth / f"{plan.name}-shifts.csv", float_precision=3)
