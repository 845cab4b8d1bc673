"""What a campaign says of a vehicle's two power meters."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from ridelab.campaign import Campaign

    from .conftest import Refused

LOGGER = """
[loggers.bench]
time = { column = "t", format = "seconds" }
columns.power = { column = "p" }
"""
WHEEL = 'columns.wheel_power = { column = "q", unit = "kW" }\n'


def vehicle(lines: str) -> str:
    """A campaign of one vehicle with these lines more."""
    return f'[vehicles.heron]\nkind = "trike"\nrides = ["*.fit"]\n{lines}\n'


def test_what_nobody_states_is_two_percent_each(read: Callable[[str], Campaign]) -> None:
    """Common practice, no source; together twice that."""
    meters = read(vehicle("")).vehicles["heron"].meters
    assert meters.is_assumed
    assert meters.apart == pytest.approx(0.04)


@pytest.mark.parametrize(
    ("stated", "each"),
    [
        ('"1.5 %"', (0.015, 0.015)),
        ("0.01", (0.01, 0.01)),
        ('{ crank = "1 %", wheel = "1.5 %" }', (0.01, 0.015)),
        ('{ wheel = "1 %" }', (0.02, 0.01)),
    ],
)
def test_accuracies_are_stated_for_both_or_each(
    read: Callable[[str], Campaign], stated: str, each: tuple[float, float]
) -> None:
    """One that is not stated is taken as usual."""
    meters = read(vehicle(f"power_accuracy = {stated}")).vehicles["heron"].meters
    assert (meters.crank_accuracy, meters.wheel_accuracy) == pytest.approx(each)
    assert not meters.is_assumed


@pytest.mark.parametrize(
    ("lines", "key", "said"),
    [
        ('power_accuracy = "40 %"', "power_accuracy", "below 20 %"),
        ("power_accuracy = 2", "power_accuracy", "'1.5 %'"),
        ("power_accuracy = { hub = 0.02 }", "hub", "crank, wheel"),
        ('power_accuracy = { wheel = "0 %" }', "wheel", "above 0"),
        ('wheel_power_field = " "', "wheel_power_field", "the name that the FIT files give"),
    ],
)
def test_meters_that_cannot_be_are_refused(
    refused: Refused, lines: str, key: str, said: str
) -> None:
    """Key, what was found and what would be accepted."""
    error = refused(vehicle(lines))
    assert key in str(error)
    assert said in str(error)


def test_files_may_tell_of_a_loss(read: Callable[[str], Campaign]) -> None:
    """By a named field, or by a logger with both powers."""
    assert not read(vehicle("")).tells_loss("heron")
    assert read(vehicle('wheel_power_field = "hub"')).tells_loss("heron")
    assert not read(vehicle("") + LOGGER).tells_loss("heron")
    assert read(vehicle("") + LOGGER + WHEEL).tells_loss("heron")
