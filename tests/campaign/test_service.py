"""Services done, as the campaign states them."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import pytest

from ridelab.campaign import Serviced, service_problems

if TYPE_CHECKING:
    from collections.abc import Callable

    from ridelab.campaign import Campaign
    from tests.campaign.conftest import Refused

HERON = """
[vehicles.heron]
kind = "trike"
rides = ["*.fit"]
drivetrain = "nine"
"""
NINE = """
[drivetrains.nine]
stages = [{ name = "gearbox", ratios = [0.55, 0.68] }]
service = { every_km = 10000, every_months = 12 }
"""


def test_services_are_kept_by_day(read: Callable[[str], Campaign]) -> None:
    """In whatever order they are written; a reading may have its unit."""
    line = 'serviced = [{ on = 2031-03-01, odometer_km = "900 km" }, { on = 2030-03-01 }]'
    assert read(HERON + line + NINE).vehicles["heron"].serviced == (
        Serviced(date(2030, 3, 1)),
        Serviced(date(2031, 3, 1), 900.0),
    )


@pytest.mark.parametrize(
    ("value", "key"),
    [
        ("[{ odometer_km = 400 }]", "serviced#1.on"),
        ('[{ on = "2031-03-01" }]', "serviced#1.on"),
        ("[{ on = 2031-03-01T10:00:00 }]", "serviced#1.on"),
        ("[{ on = 2031-03-01, odometer_km = -1 }]", "serviced#1.odometer_km"),
        (
            "[{ on = 2031-03-01, odometer_km = 9 }, { on = 2031-04-01, odometer_km = 8 }]",
            "serviced",
        ),
    ],
)
def test_what_cannot_be_is_refused_by_its_key(refused: Refused, value: str, key: str) -> None:
    """A day is needed, and odometers do not run backwards."""
    assert refused(f"{HERON}serviced = {value}{NINE}").key == f"vehicles.heron.{key}"


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        ("", ["neither odometer_km nor serviced", "months count from the first ride"]),
        ("odometer_km = 0", ["months count from the first ride"]),
        ("serviced = [{ on = 2031-03-01 }]", []),
    ],
)
def test_intervals_without_a_beginning_are_told(
    read: Callable[[str], Campaign], lines: str, told: list[str]
) -> None:
    """Distance without an odometer, months without a service."""
    problems = service_problems(read(HERON + lines + NINE))
    assert [one.path for one in problems] == ["heron"] * len(told)
    for problem, part in zip(problems, told, strict=True):
        assert part in problem.message


def test_no_interval_no_word(read: Callable[[str], Campaign]) -> None:
    """A drivetrain without one is not due."""
    assert service_problems(read(HERON + NINE.replace("service", "# service"))) == ()
