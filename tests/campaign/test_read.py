"""campaign.toml becomes checked objects, or one error that says what to change."""

from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ridelab.campaign import Campaign, load
from ridelab.drivetrain.stages import ServiceInterval
from ridelab.drivetrain.wheel import Tyre
from ridelab.errors import CampaignError, UsageError

from .conftest import Refused, Write

HERON = """
[campaign]
name = "Harbour loop"
units = "imperial"
merge_within = "2 %"

[vehicles.heron]
kind = "trike"
tyre = "50-406"
drivetrain = "nine"
rides = ["rides/heron/*.fit", "more/**/*.fit"]
odometer_km = 412.0

[vehicles."night bus"]
kind = "tandem"
rollout_m = 2.1
rides = ["bus.fit"]

[drivetrains.nine]
description = "9-speed gearbox at the cranks"
stages = [
  { name = "gearbox", ratios = [0.55, 0.68, 0.84, 1.04, 1.28, 1.58, 1.95, 2.41, 2.97] },
  { driver = [32], driven = [24] },
]
service = { every_km = 10000, every_months = 12 }
max_input_torque_nm = { gearbox = 250, "stage 2" = "90 N·m" }
"""
VEHICLE = '[vehicles.v]\nkind = "trike"\nrides = ["*.fit"]\n'


def test_a_campaign_is_read(read: Callable[[str], Campaign], tmp_path: Path) -> None:
    """Names stay as given, values are SI, what is silent has its default."""
    campaign = read(HERON)
    assert (campaign.name, campaign.units, campaign.merge_within) == (
        "Harbour loop", "imperial", 0.02,
    )  # fmt: skip
    assert campaign.root == tmp_path
    assert list(campaign.vehicles) == ["heron", "night bus"]
    heron = campaign.vehicles["heron"]
    assert (heron.kind, heron.tyre, heron.drivetrain) == ("trike", Tyre(50, 406), "nine")
    assert heron.rides == ("rides/heron/*.fit", "more/**/*.fit")
    assert heron.odometer_km == 412
    nine = campaign.drivetrains["nine"]
    assert [stage.name for stage in nine.stages] == ["gearbox", "stage 2"]
    assert nine.service == ServiceInterval(10_000, 12)
    assert dict(nine.max_input_torque_nm) == {"gearbox": 250, "stage 2": 90}
    assert campaign.claims == ()


def test_stated_rollout_prefers_the_measured(read: Callable[[str], Campaign]) -> None:
    """A measured rollout beats the nominal one of the tyre; without either there is none."""
    both = VEHICLE + 'tyre = "50-406"\n'
    assert read(both).vehicles["v"].stated_rollout_m == pytest.approx(1.5896, abs=1e-4)
    assert read(both + "rollout_m = 1.563").vehicles["v"].stated_rollout_m == 1.563
    assert read(both + 'rollout_m = "1563 mm"').vehicles["v"].stated_rollout_m == 1.563
    assert read(VEHICLE).vehicles["v"].stated_rollout_m is None


def test_the_smallest_campaign(read: Callable[[str], Campaign], tmp_path: Path) -> None:
    """An empty file is a campaign without vehicles, called like its folder, metric."""
    campaign = read("")
    assert (campaign.name, campaign.units, campaign.merge_within) == (
        tmp_path.name, "metric", 0.015,
    )  # fmt: skip


def test_ladder_of_the_campaign(read: Callable[[str], Campaign]) -> None:
    """The ladder merges as the campaign sets; an unknown drivetrain is told with the known ones."""
    chain = "[drivetrains.c]\nstages = [{ driver = [34, 38], driven = [18, 16] }]\n"
    assert len(read(chain).ladder("c").gears) == 3
    campaign = read("[campaign]\nmerge_within = 0.001\n" + chain)
    assert len(campaign.ladder("c").gears) == 4
    with pytest.raises(UsageError, match="known: c"):
        campaign.ladder("d")


def test_a_byte_order_mark_and_other_line_ends_are_read(tmp_path: Path) -> None:
    """Files saved by editors of other systems are read the same."""
    path = tmp_path / "campaign.toml"
    path.write_bytes(b"\xef\xbb\xbf" + VEHICLE.replace("\n", "\r\n").encode())
    assert list(load(path).vehicles) == ["v"]


@pytest.mark.parametrize(
    ("text", "key", "said"),
    [
        ("[vehicels.v]", "vehicels", "did you mean 'vehicles'?"),
        ("[campaign]\nunit = 'metric'", "campaign.unit", "did you mean 'units'?"),
        ("[campaign]\nunits = 'nautical'", "campaign.units", "metric or imperial"),
        ("[campaign]\nname = 3", "campaign.name", "found 3"),
        ("[campaign]\nmerge_within = 1.5", "campaign.merge_within", "'1.5 %' or 0.015"),
        ("campaign = 'x'", "campaign", "a table, [campaign]"),
        ("vehicles = []", "vehicles", "a table"),
        ("[vehicles]\nv = 1", "vehicles.v", "a table, [vehicles.v]"),
        ("[vehicles.v]\nrides = ['*']", "vehicles.v.kind", "bicycle, trike, tandem, cargo or velo"),
        (VEHICLE.replace("trike", "trikke"), "vehicles.v.kind", "found 'trikke'"),
        (VEHICLE + "tire = '50-406'", "vehicles.v.tire", "did you mean 'tyre'?"),
        (VEHICLE + "tyre = '26 inch'", "vehicles.v.tyre", "'47-559' (26 × 1.75), '37-590'"),
        (VEHICLE + "tyre = 47", "vehicles.v.tyre", "found 47"),
        (VEHICLE + "rollout_m = 1563", "vehicles.v.rollout_m", 'did you mean "1563 mm"?'),
        (VEHICLE + "rollout_m = 0.2", "vehicles.v.rollout_m", "from 0.3 to 4"),
        (VEHICLE + "rollout_m = 4.1", "vehicles.v.rollout_m", "from 0.3 to 4"),
        (VEHICLE + "rollout_m = '4100 mm'", "vehicles.v.rollout_m", "found '4100 mm'"),
        (VEHICLE + "rollout_m = -1.5", "vehicles.v.rollout_m", "found -1.5"),
        (VEHICLE + "rollout_m = nan", "vehicles.v.rollout_m", "found nan"),
        (VEHICLE + "rollout_m = true", "vehicles.v.rollout_m", "found true"),
        (VEHICLE + "rollout_m = '1,563 m'", "vehicles.v.rollout_m", "decimal mark"),
        (VEHICLE + "odometer_km = -1", "vehicles.v.odometer_km", "from 0 to a million"),
        (VEHICLE + "odometer_km = 1e7", "vehicles.v.odometer_km", "from 0 to a million"),
        (VEHICLE + "drivetrain = 'nine'", "vehicles.v.drivetrain", "a table [drivetrains.nine]"),
        (VEHICLE + "logger = 'a b'", "vehicles.v.logger", "a table [loggers.'a b']"),
        ("[vehicles.v]\nkind = 'trike'", "vehicles.v.rides", "missing"),
        ("[vehicles.v]\nkind = 'trike'\nrides = '*.fit'", "vehicles.v.rides", "a list of globs"),
        ("[vehicles.v]\nkind = 'trike'\nrides = []", "vehicles.v.rides", "an empty list"),
        ("[vehicles.v]\nkind = 'trike'\nrides = [1]", "vehicles.v.rides", "found 1 in the list"),
        ("[vehicles.v]\nkind = 'trike'\nrides = ['']", "vehicles.v.rides", "found '' in the list"),
        ("[vehicles.'a.b']\nkind = 1\nrides = ['*']", "vehicles.'a.b'.kind", "found 1"),
    ],
)
def test_what_cannot_be_is_refused(refused: Refused, text: str, key: str, said: str) -> None:
    """The error names the key, what was found, and what would be accepted."""
    error = refused(text)
    assert error.key == key
    assert said in str(error)


def test_malformed_toml_names_line_and_column(refused: Refused) -> None:
    """The parser's own place is passed on."""
    assert "(at line 2, column 6)" in str(refused("[campaign]\nname : 'x'"))


@pytest.mark.parametrize(
    "text", ["x = " + "[" * 100_000, "x = " + "9" * 10_000, "a.b = 1\na.b = 2", 'x = "\x00"']
)
def test_hostile_toml_is_one_plain_error(refused: Refused, text: str) -> None:
    """Depth, huge numbers and repeated keys are no tracebacks."""
    assert "is not TOML" in str(refused(text))


def test_missing_files_and_folders(tmp_path: Path) -> None:
    """No file says how to get one; a folder says what to name instead."""
    with pytest.raises(
        CampaignError, match=r"nowhere\.toml: does not exist; accepted: .*ridelab new"
    ):
        load(tmp_path / "nowhere.toml")
    with pytest.raises(CampaignError, match=r"is a folder; accepted: a file, such as .*\.toml"):
        load(tmp_path)


def test_text_that_is_not_utf_8(tmp_path: Path) -> None:
    """Another encoding is named at the byte where it shows."""
    path = tmp_path / "campaign.toml"
    path.write_bytes(b'[campaign]\nname = "Gr\xfcn"\n')
    with pytest.raises(CampaignError, match="byte 21 is not UTF-8"):
        load(path)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(
    line=st.integers(0, len(HERON.splitlines()) - 1),
    value=st.sampled_from(
        ["1", "-1", "0", "1.5", "inf", "''", "'x'", "[]", "[[]]", "{}", "true", "2026-01-01", "[1]"]
    ),
)
def test_any_value_anywhere_is_taken_or_refused(write: Write, line: int, value: str) -> None:
    """Whatever stands behind a key, the outcome is a campaign or a CampaignError."""
    lines = HERON.splitlines()
    if "= " in lines[line] and not lines[line].startswith(" "):
        lines[line] = f"{lines[line].split('=')[0]}= {value}"
    path = write("\n".join(lines))
    try:
        campaign = load(path)
    except CampaignError as error:
        assert str(path) in str(error)  # noqa: PT017 - being refused is one of two right outcomes
    else:
        assert all(campaign.ladder(name).range >= 1 for name in campaign.drivetrains)
