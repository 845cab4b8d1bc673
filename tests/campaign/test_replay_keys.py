"""What a campaign says of replays: candidates of a vehicle, and what can be shifted standing."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from ridelab.campaign import load
from ridelab.errors import CampaignError

if TYPE_CHECKING:
    from pathlib import Path

    from ridelab.campaign import Campaign

DRIVETRAINS = """
[drivetrains.hub]
stages = [{ driver = [38], driven = [15] }, { name = "hub", speeds = 14, range = 5.26 }]
[drivetrains.sprockets]
stages = [{ name = "chain", driver = [38], driven = [30, 26, 22, 19, 17, 15, 13] }]
[drivetrains.stepless]
stages = [{ name = "hub", continuous = [0.5, 1.9] }]
"""


def read(folder: Path, vehicle: str = "", drivetrain: str = "") -> Campaign:
    """Read a campaign with these lines more."""
    file = folder / "campaign.toml"
    file.write_text(
        f'[vehicles.heron]\nkind = "trike"\nrides = ["*.fit"]\ndrivetrain = "hub"\n{vehicle}\n'
        f"{DRIVETRAINS}{drivetrain}",
        encoding="utf-8",
    )
    return load(file)


def test_candidates_are_read_in_order(tmp_path: Path) -> None:
    """The order of the file is the order of the answer."""
    campaign = read(tmp_path, 'replay_onto = ["stepless", "sprockets"]')
    assert campaign.vehicles["heron"].replay_onto == ("stepless", "sprockets")


@pytest.mark.parametrize(
    ("value", "told"),
    [
        ('["sprocket"]', "did you mean 'sprockets'"),
        ('["hub"]', "'hub', the vehicle's own drivetrain"),
        ('["stepless", "stepless"]', "twice in the list"),
        ("[]", "an empty list"),
        ('"stepless"', "a list of other drivetrains"),
    ],
)
def test_candidates_that_cannot_be_are_refused(tmp_path: Path, value: str, told: str) -> None:
    """File and key are named, and what would be accepted."""
    with pytest.raises(CampaignError, match="replay_onto") as refused:
        read(tmp_path, f"replay_onto = {value}")
    assert told in str(refused.value)


def test_a_chain_is_shifted_only_while_it_runs(tmp_path: Path) -> None:
    """Sprockets cannot be shifted at a standstill, hubs can: common practice, no source."""
    drivetrains = read(tmp_path).drivetrains
    assert {name: one.shifts_standing for name, one in drivetrains.items()} == {
        "hub": True,
        "sprockets": False,
        "stepless": True,
    }


def test_what_is_stated_of_standing_shifts_goes_before(tmp_path: Path) -> None:
    """The key settles it; anything but true or false is refused."""
    stated = read(tmp_path, drivetrain="shifts_standing = false").drivetrains["stepless"]
    assert not stated.shifts_standing
    with pytest.raises(CampaignError, match=r"shifts_standing: found 1; accepted: true or false"):
        read(tmp_path, drivetrain="shifts_standing = 1")
