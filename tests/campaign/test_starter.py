"""The starter campaign is right as it is written, and never overwrites."""

import re
from pathlib import Path

import pytest

from ridelab.campaign import STARTER, find_rides, load, single_vehicle, write_starter
from ridelab.errors import UsageError


def test_the_starter_is_a_right_campaign(tmp_path: Path) -> None:
    """What `ridelab new` writes passes `ridelab check`."""
    path = write_starter(tmp_path / "new" / "folder")
    assert path == tmp_path / "new" / "folder" / "campaign.toml"
    campaign = load(path)
    assert len(campaign.ladder("nine").gears) == 9
    assert campaign.ladder("nine").range == pytest.approx(5.4)
    assert campaign.claims[0].value == 5.4


def test_what_the_starter_comments_out_is_right_too(tmp_path: Path) -> None:
    """Every commented setting and stage can be put to use as it stands."""
    settings = re.sub(r"^# (\[\[?\w|[\w.]+ = )", r"\1", STARTER, flags=re.MULTILINE)
    path = tmp_path / "campaign.toml"
    path.write_text(settings, encoding="utf-8")
    campaign = load(path)
    assert campaign.vehicles["heron"].stated_rollout_m == 1.563
    assert campaign.loggers["bench"].columns == {"t", "v", "n", "p", "q"}
    assert [row.vehicle for row in campaign.mounted] == ["heron"]
    assert dict(campaign.drivetrains["nine"].max_input_torque_nm) == {"gearbox": 250}

    stages = re.findall(r"^#   (\{.*\}) *(?:#.*)?$", STARTER, flags=re.MULTILINE)
    assert len(stages) == 4
    for stage in stages:
        path.write_text(f"[drivetrains.d]\nstages = [ {stage} ]\n", encoding="utf-8")
        assert load(path).ladder("d").range > 1


def test_an_existing_campaign_is_left_as_it_is(tmp_path: Path) -> None:
    """A second `ridelab new` refuses and changes nothing."""
    path = write_starter(tmp_path)
    path.write_text("# mine", encoding="utf-8")
    with pytest.raises(UsageError, match="exists already"):
        write_starter(tmp_path)
    assert path.read_text(encoding="utf-8") == "# mine"


def test_a_file_in_the_way(tmp_path: Path) -> None:
    """A folder that is a file is one plain error."""
    (tmp_path / "taken").touch()
    with pytest.raises(UsageError, match="taken"):
        write_starter(tmp_path / "taken")
    with pytest.raises(UsageError, match="taken"):
        write_starter(tmp_path / "taken" / "deeper")


def test_a_rider_without_a_campaign_file(tmp_path: Path) -> None:
    """Globs and a tyre make a campaign of one bicycle whose drivetrain is unknown."""
    (tmp_path / "a.fit").touch()
    campaign = single_vehicle(["*.fit"], "47-622", tmp_path)
    (vehicle,) = campaign.vehicles.values()
    assert (vehicle.name, vehicle.kind, vehicle.drivetrain) == ("my cycle", "bicycle", None)
    assert vehicle.stated_rollout_m == pytest.approx(2.249, abs=0.001)
    assert find_rides(campaign).files == (("my cycle", tmp_path / "a.fit"),)
    assert single_vehicle(["*.fit"], None, tmp_path).vehicles["my cycle"].stated_rollout_m is None


@pytest.mark.parametrize(("rides", "tyre"), [([], None), ([""], None), (["*.fit"], "28 inch")])
def test_a_rider_is_told_what_is_missing(rides: list[str], tyre: str | None) -> None:
    """No glob, or a tyre that cannot be read, says what would be accepted."""
    with pytest.raises(UsageError, match="accepted"):
        single_vehicle(rides, tyre, Path())
