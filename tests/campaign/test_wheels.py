"""Several wheels: which one the sensor sits on, what the unit is set to, how far that is off."""

from collections.abc import Callable

import pytest

from ridelab.campaign import Campaign, wheel_problems
from ridelab.drivetrain.wheel import Tyre

from .conftest import Refused

TRIKE = "[vehicles.v]\nkind = 'trike'\nrides = ['*.fit']\ntyre = '50-406'\n"
OTHER = "other_tyres = ['40-349']\n"


def messages(campaign: Campaign) -> list[str]:
    """Return what is odd about the wheels."""
    return [problem.message for problem in wheel_problems(campaign)]


def test_wheels_of_a_trike_are_read(read: Callable[[str], Campaign]) -> None:
    """The tyre is that of the driven wheel; others are listed, and one may carry the sensor."""
    lines = OTHER + "sensor_wheel = '40 × 349'\nset_rollout_m = '1348 mm'\n"
    trike = read(TRIKE + lines).vehicles["v"]
    assert (trike.tyre, trike.other_tyres) == (Tyre(50, 406), (Tyre(40, 349),))
    assert (trike.sensor_wheel, trike.set_rollout_m) == (Tyre(40, 349), 1.348)
    # by hand: π × (349 + 80) mm = 1347.7 mm
    assert trike.counted_rollout_m == pytest.approx(1.3477, abs=1e-4)
    assert trike.unit_factor == pytest.approx(1.0002, abs=1e-4)


def test_the_driven_wheel_is_counted_unless_stated_otherwise(
    read: Callable[[str], Campaign],
) -> None:
    """A measured rollout is that of the driven wheel."""
    campaign = read(TRIKE + OTHER + "rollout_m = 1.56\n")
    assert campaign.vehicles["v"].counted_rollout_m == 1.56
    campaign = read(TRIKE + OTHER + "rollout_m = 1.56\nsensor_wheel = '50-406'\n")
    assert campaign.vehicles["v"].counted_rollout_m == 1.56


def test_a_rollout_that_no_such_tyre_has_is_told(read: Callable[[str], Campaign]) -> None:
    """By hand: π × (406 + 100) mm = 1.590 m; 2.100 m is 32.1 % more, 1.470 m 7.5 % less."""
    (said,) = messages(read(TRIKE + "rollout_m = 2.1\n"))
    assert said == (
        "rollout_m is 2.100 m, 32.1 % more than the nominal 1.590 m of a 50-406: is one of the two "
        "another wheel's?"
    )
    (said,) = messages(read(TRIKE + "rollout_m = 1.47\n"))
    assert "7.5 % less" in said
    assert not messages(read(TRIKE + "rollout_m = 1.52\n"))


def test_a_mix_up_of_wheels_is_told_by_its_factor(read: Callable[[str], Campaign]) -> None:
    """By hand: 506 / 429 = 1.179, 17.9 % too long; the other way round 0.848, 15.2 % too short."""
    (both,) = messages(read(TRIKE + OTHER))
    assert "sits on 40-349 records developments 17.9 % too long (× 1.179)" in both
    assert "on the driven wheel records developments 15.2 % too short (× 0.848)" in both
    assert both.endswith("sensor_wheel and set_rollout_m in its table would settle it")
    (one,) = messages(read(TRIKE + OTHER + "sensor_wheel = '40-349'\n"))
    assert "17.9 % too long" in one
    assert "too short" not in one


def test_a_unit_set_to_another_wheel_is_told(read: Callable[[str], Campaign]) -> None:
    """Set to the driven 1.590 m while the sensor turns with 1.348 m: 18 % too long; to that: fine.

    A tyre's rollout is only nominal: a setting within its span, 4 % less, is not called wrong.
    """
    sensor = TRIKE + OTHER + "sensor_wheel = '40-349'\n"
    (said,) = messages(read(sensor + "set_rollout_m = 1.590\n"))
    assert "set to 1.590 m, but the wheel under its sensor rolls 1.348 m" in said
    assert "18.0 % too long (× 1.180)" in said
    assert messages(read(sensor + "set_rollout_m = 1.32\n")) == []
    measured = TRIKE + "rollout_m = 1.563\n"
    assert messages(read(measured + "set_rollout_m = 1.560\n")) == []
    (said,) = messages(read(measured + "set_rollout_m = 1.590\n"))
    assert "1.7 % too long" in said


def test_wheels_that_roll_alike_are_not_mixed_up(read: Callable[[str], Campaign]) -> None:
    """A bicycle with the same tyre in front, or 2 mm narrower, is left in peace."""
    assert messages(read(TRIKE + "other_tyres = ['50-406', '49-406']\n")) == []


def test_a_rim_that_nobody_makes_is_told(read: Callable[[str], Campaign]) -> None:
    """47-662 is a slip for 622 more often than a rim."""
    (said,) = messages(read(TRIKE.replace("50-406", "47-662")))
    assert said == "no rim in use has the bead seat of 47-662; the nearest is 642 mm"


@pytest.mark.parametrize(
    ("lines", "key", "said"),
    [
        ("other_tyres = '40-349'", "other_tyres", "a list of designations"),
        ("other_tyres = []", "other_tyres", "an empty list"),
        ("other_tyres = ['16 inch']", "other_tyres", "'47-305' (16 × 1.75)"),
        ("sensor_wheel = '40-349'", "sensor_wheel", "wheel that the vehicle has: '50-406'"),
        (OTHER + "sensor_wheel = '47-622'", "sensor_wheel", "'50-406' or '40-349'"),
        ("set_rollout_m = 1590", "set_rollout_m", 'did you mean "1590 mm"?'),
    ],
)
def test_wheels_that_cannot_be_are_refused(
    refused: Refused, lines: str, key: str, said: str
) -> None:
    """The error names the key, what was found, and what would be accepted."""
    error = refused(TRIKE + lines)
    assert error.key == f"vehicles.v.{key}"
    assert said in str(error)
