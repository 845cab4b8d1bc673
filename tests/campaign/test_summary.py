"""`ridelab check` tells what was understood, without reading a ride."""

from pathlib import Path

import pytest

from ridelab.campaign import describe, load

CAMPAIGN = """
[vehicles.heron]
kind = "trike"
tyre = "50-406"
rollout_m = 1.563
drivetrain = "nine"
rides = ["*.fit"]

[drivetrains.nine]
description = "9-speed gearbox"
stages = [
  { name = "gearbox", speeds = 9, range = 5.4 },
  { name = "chain", driver = [32], driven = [24] },
]
[drivetrains.smooth]
stages = [{ continuous = [0.5, 1.9] }]

[[claims]]
drivetrain = "nine"
quantity = "range"
value = "540 %"
tolerance = "2 %"
[[claims]]
drivetrain = "smooth"
quantity = "ratio"
gear = "highest"
value = 1.9
"""


def test_rows_of_a_campaign(tmp_path: Path) -> None:
    """Rollouts, ladders, tolerances and the number of ride files, in SI."""
    path = tmp_path / "campaign.toml"
    path.write_text(CAMPAIGN, encoding="utf-8")
    (tmp_path / "a.fit").write_bytes(b"not a ride, and not opened")
    rows = describe(load(path))
    (heron,) = rows["vehicles"]
    assert heron["ride_files"] == 1
    (wheel,) = rows["wheels"]
    assert (wheel["wheel"], wheel["tyre"], wheel["also"]) == ("driven", "50-406", "20 × 1.95")
    assert wheel["nominal_rollout_m"] == pytest.approx(1.5896, abs=1e-4)
    assert wheel["loaded_rollout_low_m"] == pytest.approx(0.97 * 1.5896, abs=1e-4)
    assert wheel["measured_rollout_m"] == 1.563
    nine, smooth = rows["drivetrains"]
    assert (nine["gears"], nine["combinations"], nine["stages"]) == (9, 9, "gearbox → chain")
    assert nine["range"] == pytest.approx(5.4)
    assert (smooth["gears"], smooth["lowest_ratio"], smooth["highest_ratio"]) == (None, 0.5, 1.9)
    ours, theirs = rows["claims"]
    assert (ours["claimed"], ours["tolerance"], ours["vehicles"]) == ("540 %", 0.02, 1)
    assert (theirs["gear"], theirs["vehicles"]) == ("highest", 0)


@pytest.mark.parametrize(
    ("lines", "shown"),
    [
        ("quantity = 'speed'\nvalue = 25\ngear = 9\nat_cadence_rpm = 80", "25 m/s = 90 km/h"),
        (
            "quantity = 'speed'\nvalue = 7.00\ngear = 9\nat_cadence_rpm = 80",
            "7.00 m/s = 25.20 km/h",
        ),
        ("quantity = 'speed'\nvalue = '25 km/h'\ngear = 9\nat_cadence_rpm = 80", "25 km/h"),
        ("quantity = 'range'\nvalue = 5.40", "5.40 = 540 %"),
        ("quantity = 'step'\nvalue = 0.136", "0.136 = 13.6 %"),
        ("quantity = 'development'\nvalue = 8.5\ngear = 9", "8.5 m"),
        ("quantity = 'gears'\nvalue = 9", "9"),
    ],
)
def test_a_bare_number_is_shown_with_its_unit(tmp_path: Path, lines: str, shown: str) -> None:
    """A speed meant in km/h and written without its unit catches the eye: it is m/s."""
    path = tmp_path / "campaign.toml"
    drivetrain = "[drivetrains.nine]\nstages = [{ speeds = 9, range = 5.4 }]\n"
    path.write_text(f"{drivetrain}[[claims]]\ndrivetrain = 'nine'\n{lines}\n", encoding="utf-8")
    assert describe(load(path))["claims"][0]["claimed"] == shown


def test_an_empty_campaign_has_empty_rows(tmp_path: Path) -> None:
    """Nothing defined is nothing told, and no error."""
    path = tmp_path / "campaign.toml"
    path.write_text("", encoding="utf-8")
    assert describe(load(path)) == {
        name: [] for name in ("vehicles", "wheels", "drivetrains", "torque", "loggers", "claims")
    }


def test_rows_of_a_logger(tmp_path: Path) -> None:
    """Which column holds what, how it is written, and which vehicles name it."""
    path = tmp_path / "campaign.toml"
    path.write_text(
        """
[vehicles.heron]
kind = "trike"
rides = ["*.csv"]
logger = "bench"
[loggers.bench]
delimiter = "tab"
time = { column = "t", format = "seconds" }
columns = { speed = { column = "v", unit = "km/h" }, crank_pulses = { column = "n" } }
""",
        encoding="utf-8",
    )
    (bench,) = describe(load(path))["loggers"]
    assert (bench["logger"], bench["delimiter"], bench["decimal"]) == ("bench", "tab", ".")
    assert (bench["time"], bench["columns"]) == ("t (seconds)", "speed: v, crank_pulses: n")
    assert bench["named_by"] == "heron"
