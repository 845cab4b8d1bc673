"""The campaign whose runs are killed: FIT files, logs and an archive; and what it was before."""

from __future__ import annotations

import io
import zipfile
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from ridelab.simulate import simulate_ride
from tests.pipeline.test_loggers import BENCH, minutes
from tests.simulate.rides import hub_ride

if TYPE_CHECKING:
    from pathlib import Path

FIRST = datetime(2031, 5, 4, 8, tzinfo=UTC)
CAMPAIGN = """
[campaign]
name = "Invented rides that are interrupted"

[vehicles.heron]
kind = "bicycle"
rollout_m = 2.1
drivetrain = "fourteen"
rides = ["rides/heron/*"]
replay_onto = ["eighteen"]
comfortable_rpm = [65, 95]

[vehicles.otter]
kind = "trike"
rollout_m = {rollout_m}
drivetrain = "fourteen"
rides = ["rides/otter/{otters}"]

[vehicles.plover]
kind = "trike"
tyre = "47-622"
rides = ["rides/plover/*.zip"]

[drivetrains.fourteen]
stages = [
  {{ name = "chain", driver = [38], driven = [15] }},
  {{ name = "hub", speeds = 14, range = 5.26, lowest = 0.279 }},
]
service = {{ every_km = 5000, every_months = 6 }}

[drivetrains.eighteen]
stages = [{{ name = "gearbox", speeds = 18, range = 6.36, lowest = 0.7 }}]

[[claims]]
drivetrain = "fourteen"
quantity = "range"
value = "526 %"
"""
#: What a campaign is now, and what it was before a file, a wheel and so all of a log changed.
NOW = {"rollout_m": "2.1", "otters": "*"}
BEFORE = {"rollout_m": "2.0", "otters": "*.csv"}
#: ``fleet`` and the replays of ``usage``, without the report.
STAGES = """
[[stages]]
run = "read"
[[stages]]
run = "measure"
[[stages]]
run = "losses"
[[stages]]
query = "shifts"
per_ride = true
[[stages]]
query = "ridden_gears"
per_ride = true
[[stages]]
query = "gear_spells"
per_ride = true
[[stages]]
run = "replay"
[[stages]]
run = "health"
[[stages]]
query = "sensor_health"
per_ride = true
[[stages]]
query = "service"
each_run = true
[[stages]]
run = "verdicts"
"""
REPORT = """
[[stages]]
run = "report"
"""


def write_rides(folder: Path, seconds: int) -> None:
    """Write nine rides of so many seconds: five FIT files, two of them in an archive, and two logs.

    One of the FIT files breaks off, and one file is no ride at all.
    """
    fits = [
        simulate_ride(hub_ride(duration_s=seconds), seed).fit_content(FIRST + timedelta(days=seed))
        for seed in range(5)
    ]
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for number in (3, 4):
            archive.writestr(f"week/{number}.fit", fits[number])
        archive.writestr("week/letter.txt", "no ride")
    files = {
        "heron/a.fit": fits[0],
        "heron/b.fit": fits[1],
        "heron/c.fit": fits[2][: len(fits[2]) * 2 // 3],
        "heron/letter.fit": b"no ride at all, but long enough to be one",
        "otter/day-2031-05-09.csv": minutes(),
        "otter/day-2031-05-10.csv": minutes((1.0, 1.25, 1.6)),
        "otter/d.fit": fits[3][: len(fits[3]) // 2],
        "plover/week.zip": packed.getvalue(),
    }
    for path, content in files.items():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_bytes(content)


def write_campaign(folder: Path, rides: Path, settings: dict[str, str]) -> Path:
    """Write the campaign into a folder that reads ``rides``; return its file."""
    folder.mkdir(parents=True, exist_ok=True)
    if not (folder / "rides").exists():
        (folder / "rides").symlink_to(rides)
    for name, text in (("quick", STAGES), ("whole", STAGES + REPORT)):
        (folder / f"{name}.toml").write_text(text, encoding="utf-8")
    file = folder / "campaign.toml"
    file.write_text(CAMPAIGN.format(**settings) + BENCH, encoding="utf-8")
    return file
