"""Rider, motor and limits of a campaign become torques and cautions."""

from collections.abc import Callable

import pytest

from ridelab.campaign import Campaign, describe, loads_on, torque_problems
from ridelab.drivetrain.torque import Motor, Rider

from .conftest import Refused

DRIVETRAIN = """
[drivetrains.d]
stages = [{ name = "gearbox", ratios = [0.5, 1] }, { name = "hub", ratios = [1, 2] }]
"""


def vehicle(lines: str, kind: str = "bicycle") -> str:
    """Return the table of a vehicle with the drivetrain d."""
    return f"[vehicles.v]\nkind = '{kind}'\nrides = ['*.fit']\ndrivetrain = 'd'\n{lines}\n"


def test_what_nobody_states_is_assumed(read: Callable[[str], Campaign]) -> None:
    """The vehicle's own table first, then the campaign's, then 80 kg and 170 mm."""
    general = "[campaign]\nrider_kg = '200 lb'\n"
    own = read(general + DRIVETRAIN + vehicle("rider_kg = 70\ncrank_mm = 165")).vehicles["v"].rider
    assert own.crank_m == pytest.approx(0.165)
    assert (own.mass_kg, own.assumed) == (70, ())
    shared = read(general + DRIVETRAIN + vehicle("")).vehicles["v"].rider
    # 1 lb = 0.45359237 kg (NIST SP 811)
    assert shared.mass_kg == pytest.approx(90.718474)
    assert shared.assumed == ("crank",)
    assert read(DRIVETRAIN + vehicle("")).vehicles["v"].rider == Rider()


def test_two_ride_a_tandem(read: Callable[[str], Campaign]) -> None:
    """Both stand on the pedals, unless its own table says what mass does."""
    assert read(DRIVETRAIN + vehicle("", "tandem")).vehicles["v"].rider.mass_kg == 160
    stated = read(DRIVETRAIN + vehicle("rider_kg = 140", "tandem"))
    assert stated.vehicles["v"].rider.mass_kg == 140


def test_a_motor_drives_the_crank_unless_told_otherwise(read: Callable[[str], Campaign]) -> None:
    """Its torque may have a unit; a stage is named by its name."""
    own = vehicle("motor = { torque_nm = '85 N·m' }")
    assert read(DRIVETRAIN + own).vehicles["v"].motor == Motor(85, "crank")
    other = vehicle("motor = { torque_nm = 40, drives = 'hub' }")
    assert read(DRIVETRAIN + other).vehicles["v"].motor == Motor(40, "hub")
    assert read(DRIVETRAIN + vehicle("")).vehicles["v"].motor is None


def test_limits_are_torques_or_ratios(read: Callable[[str], Campaign]) -> None:
    """A least ratio in front is a number, or the teeth that makers print: 36:19 is 1.895."""
    limits = "max_input_torque_nm = { hub = 100 }\nmin_primary_ratio = { hub = '36:19' }\n"
    drivetrain = read(DRIVETRAIN + limits).drivetrains["d"]
    assert dict(drivetrain.max_input_torque_nm) == {"hub": 100}
    assert dict(drivetrain.min_primary_ratio) == {"hub": pytest.approx(36 / 19)}
    number = read(DRIVETRAIN + "min_primary_ratio = { hub = 1.9 }\n").drivetrains["d"]
    assert dict(number.min_primary_ratio) == {"hub": 1.9}


def test_check_tells_the_worst_of_each_limited_stage(read: Callable[[str], Campaign]) -> None:
    """By hand: 80 kg × 9.80665 × 0.17 m / 0.5 = 266.7 N·m into the hub, 1 of 2 settings beyond."""
    campaign = read(DRIVETRAIN + "max_input_torque_nm = { hub = 200 }\n" + vehicle(""))
    (row,) = describe(campaign)["torque"]
    assert (row["vehicle"], row["stage"], row["in_front"]) == ("v", "hub", "gearbox 1")
    assert row["input_torque_nm"] == pytest.approx(266.74, abs=0.01)
    assert (row["settings_beyond"], row["settings"]) == (1, 2)
    (problem,) = torque_problems(campaign)
    assert (problem.path, problem.severity) == ("v", "warning")
    assert problem.message.startswith(
        "hub: 267 N·m at its input with gearbox 1 in front, stated limit 200 N·m"
    )


def test_without_a_limit_check_is_silent(read: Callable[[str], Campaign]) -> None:
    """Nothing is held against nothing."""
    campaign = read(DRIVETRAIN + vehicle(""))
    assert describe(campaign)["torque"] == []
    assert torque_problems(campaign) == ()


def test_a_drivetrain_that_nobody_rides_has_the_rider_of_the_campaign(
    read: Callable[[str], Campaign],
) -> None:
    """A shop may ask before it builds; a vehicle of another drivetrain may be named."""
    other = "[drivetrains.e]\nstages = [{ ratios = [1] }]\n"
    campaign = read(
        "[campaign]\nrider_kg = 100\n"
        + DRIVETRAIN
        + other
        + vehicle("rider_kg = 60\nmotor = { torque_nm = 30, drives = 'hub' }")
    )
    (load,) = loads_on(campaign, "e")
    assert (load.vehicle, load.rider.mass_kg, load.motor) == (None, 100, None)
    (load,) = loads_on(campaign, "e", "v")
    assert (load.vehicle, load.rider.mass_kg, load.motor) == ("v", 60, None)


@pytest.mark.parametrize(
    ("text", "key", "said"),
    [
        ("[campaign]\nrider_kg = 5", "campaign.rider_kg", "from 20 to 400 kg"),
        (DRIVETRAIN + vehicle("rider_kg = '80 km'"), "vehicles.v.rider_kg", "mass"),
        (
            DRIVETRAIN + vehicle("crank_mm = 17"),
            "vehicles.v.crank_mm",
            "found 17; accepted: the le",
        ),
        (DRIVETRAIN + vehicle("motor = 85"), "vehicles.v.motor", "a table"),
        (DRIVETRAIN + vehicle("motor = {}"), "vehicles.v.motor.torque_nm", "missing"),
        (
            DRIVETRAIN + vehicle("motor = { torque_nm = 40, drives = 'hup' }"),
            "vehicles.v.motor.drives",
            "crank, wheel, gearbox or hub",
        ),
        (
            DRIVETRAIN + "min_primary_ratio = { gearbox = 1.9 }",
            "drivetrains.d.min_primary_ratio.gearbox",
            "the crank itself drives the first stage",
        ),
        (
            DRIVETRAIN + "min_primary_ratio = { hup = 1.9 }",
            "drivetrains.d.min_primary_ratio.hup",
            "did you mean 'hub'?",
        ),
        (
            DRIVETRAIN + "min_primary_ratio = { hub = '1900 %' }",
            "drivetrains.d.min_primary_ratio.hub",
            "such as 1.9, or teeth such as '36:19'",
        ),
        (
            DRIVETRAIN + "min_primary_ratio = { hub = '500:1' }",
            "drivetrains.d.min_primary_ratio.hub",
            "found '500:1'",
        ),
        (
            DRIVETRAIN + "min_primary_ratio = { hub = 190 }",
            "drivetrains.d.min_primary_ratio.hub",
            "found 190",
        ),
    ],
)
def test_impossible_loads_are_refused(refused: Refused, text: str, key: str, said: str) -> None:
    """The error names the key, what was found, and what would be accepted."""
    error = refused(text)
    assert error.key == key
    assert said in str(error)
