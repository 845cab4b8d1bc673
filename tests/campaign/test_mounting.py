"""Recording units and dates that tell a vehicle."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from ridelab.campaign import Campaign
    from tests.campaign.conftest import Refused

TWO = """
[campaign]
rides = ["inbox/*.fit"]
[vehicles.heron]
kind = "trike"
devices = ["3941870215", 77]
[vehicles.otter]
kind = "bicycle"
rides = ["rides/otter/*.fit"]
"""


def test_vehicles_need_no_globs_where_the_campaign_has_some(
    read: Callable[[str], Campaign],
) -> None:
    """Units are known by serial numbers, as text or as numbers."""
    campaign = read(TWO)
    assert campaign.rides == ("inbox/*.fit",)
    assert campaign.vehicles["heron"].rides == ()
    assert campaign.vehicles["heron"].devices == ("3941870215", "77")


def test_dates_stand_for_whole_days_of_their_zone(read: Callable[[str], Campaign]) -> None:
    """Lisbon is an hour ahead of UTC in summer (IANA time zone database): 30 June ends at 23 h."""
    row = 'vehicle = "heron"\nfrom = 2031-06-29\nuntil = 2031-06-30\nzone = "Europe/Lisbon"'
    [mounted] = read(f"{TWO}[[mounted]]\n{row}").mounted
    assert mounted.start == datetime(2031, 6, 28, 23, tzinfo=UTC)
    assert mounted.end == datetime(2031, 6, 30, 23, tzinfo=UTC)
    assert mounted.speaks_of("1", mounted.start)
    assert not mounted.speaks_of("1", mounted.end)
    assert mounted.speaks_of(None, mounted.end - timedelta(seconds=1))


def test_times_may_name_their_own_zone(read: Callable[[str], Campaign]) -> None:
    """An offset in the time goes before that of the row."""
    row = 'vehicle = "heron"\nfrom = 2031-06-29T14:00:00+02:00\nuntil = 2031-06-29T15:30:00'
    [mounted] = read(f"{TWO}[[mounted]]\n{row}\ndevice = 5").mounted
    assert mounted.start == datetime(2031, 6, 29, 12, tzinfo=UTC)
    assert mounted.end == datetime(2031, 6, 29, 15, 30, tzinfo=UTC)
    assert mounted.device == "5"
    assert not mounted.speaks_of(None, mounted.start)


@pytest.mark.parametrize(
    ("devices", "conflict"), [(("1", "2"), False), (("1", "1"), True), (("1", None), True)]
)
def test_rows_of_one_time_need_units_to_tell_them_apart(
    read: Callable[[str], Campaign],
    refused: Refused,
    devices: tuple[str | None, ...],
    conflict: bool,
) -> None:
    """Two vehicles on one day: only with a unit each."""
    rows = "".join(
        f'[[mounted]]\nvehicle = "{vehicle}"\nfrom = 2031-06-29\nuntil = 2031-06-30\n'
        + (f'device = "{device}"\n' if device else "")
        for vehicle, device in zip(("heron", "otter"), devices, strict=True)
    )
    if conflict:
        assert "'heron'" in str(refused(TWO + rows))
    else:
        assert len(read(TWO + rows).mounted) == 2


@pytest.mark.parametrize(
    ("row", "key"),
    [
        ('vehicle = "hern"\nfrom = 2031-06-29\nuntil = 2031-06-30', "vehicle"),
        ('vehicle = "heron"\nfrom = 2031-06-29\nuntil = 2031-06-28', "until"),
        ('vehicle = "heron"\nfrom = "2031-06-29"\nuntil = 2031-06-30', "from"),
        ('vehicle = "heron"\nuntil = 2031-06-30', "from"),
        ('vehicle = "heron"\nfrom = 2031-06-29\nuntil = 9999-12-31', "until"),
        ('vehicle = "heron"\nfrom = 2031-06-29\nuntil = 2031-06-30\nzone = "Moon"', "zone"),
        ('vehicle = "heron"\nfrom = 2031-06-29\nuntil = 2031-06-30\ndevice = ""', "device"),
        ('vehicle = "heron"\nfrom = 2031-06-29\nuntil = 2031-06-30\nunit = "1"', "unit"),
    ],
)
def test_what_cannot_be_is_refused_by_its_key(refused: Refused, row: str, key: str) -> None:
    """With the row counted from 1."""
    assert refused(f"{TWO}[[mounted]]\n{row}").key == f"mounted#1.{key}"
