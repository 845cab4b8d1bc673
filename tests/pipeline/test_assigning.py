"""Which vehicle a ride belongs to, and that nothing is guessed."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from ridelab.campaign import Campaign, Mounted, Vehicle
from ridelab.pipeline.assigning import assigned

if TYPE_CHECKING:
    from tests.pipeline.conftest import Bench

DAY = datetime(2031, 5, 4, tzinfo=UTC)
INBOX = """[campaign]
name = "Invented spring rides"
rides = ["inbox/*.fit"]
"""
QUICK = '[[stages]]\nrun = "read"\n[[stages]]\nrun = "measure"\n'


def shop(*mounted: Mounted) -> Campaign:
    """Three vehicles; units 1 and 2 each on one, unit 3 said to be on two."""
    units = {"heron": ("1", "3"), "otter": ("2", "3"), "stork": ()}
    vehicles = {
        name: Vehicle(name, "trike", (), devices=devices) for name, devices in units.items()
    }
    return Campaign("shop", Path("/shop"), vehicles=vehicles, mounted=mounted)


def on(vehicle: str, device: str | None = None, days: float = 1) -> Mounted:
    """A row of dates."""
    return Mounted(vehicle, DAY, DAY + timedelta(days=days), device)


@pytest.mark.parametrize(
    ("rows", "claimed_by", "device", "vehicle"),
    [
        ((), "stork", None, "stork"),
        ((), None, "1", "heron"),
        ((), "heron", "1", "heron"),
        ((), "stork", "9", "stork"),
        ((on("stork"),), None, None, "stork"),
        ((on("stork"),), None, "1", "stork"),  # dates go before the unit's usual vehicle
        ((on("stork", "2"),), None, "1", "heron"),  # the row is about another unit
        ((on("stork", "1"), on("otter", "2")), None, "2", "otter"),
        ((on("heron"),), None, "3", "heron"),
        # two rules, two vehicles, or no rule:
        ((), "otter", "1", None),
        ((on("stork"),), "otter", None, None),
        ((), None, "3", None),
        ((), None, "9", None),
        ((), None, None, None),
    ],
)
def test_rules_agree_or_the_ride_belongs_to_none(
    rows: tuple[Mounted, ...], claimed_by: str | None, device: str | None, vehicle: str | None
) -> None:
    """With a reason where it belongs to none."""
    found = assigned(shop(*rows), claimed_by, device, DAY + timedelta(hours=9))
    assert found.vehicle == vehicle
    assert bool(found.reason) == (vehicle is None)


def test_reasons_name_the_rules_that_disagree() -> None:
    """So that a person knows what to change."""
    found = assigned(shop(on("stork")), "otter", "1", DAY)
    assert "the globs of 'otter' name its file, but a row of [[mounted]]" in found.reason
    assert "'stork'" in found.reason


def test_ride_of_no_known_time_is_told_so() -> None:
    """1970 is what a recording has that nobody knows the time of: no date to look for."""
    found = assigned(shop(on("stork")), None, None, datetime(1970, 1, 1, tzinfo=UTC))
    assert found.reason.endswith(
        "nothing says when it was recorded, for a row of [[mounted]] to cover"
    )


def test_rides_of_the_inbox_go_by_date_and_are_measured(bench: Bench) -> None:
    """The one that no row covers stays stored, without a vehicle, and is listed with the reason."""
    bench.edit('[campaign]\nname = "Invented spring rides"\n', INBOX)
    for place in ("heron/a", "heron/b", "otter/c"):
        (bench.root / f"rides/{place}.fit").rename(bench.root / f"{Path(place).name}.fit")
    for name in "abc":
        (bench.root / "inbox").mkdir(exist_ok=True)
        (bench.root / f"{name}.fit").rename(bench.root / f"inbox/{name}.fit")
    row = '\n[[mounted]]\nvehicle = "heron"\nfrom = 2031-05-04\nuntil = 2031-05-05\n'
    file = bench.root / "campaign.toml"
    file.write_text(file.read_text("utf-8") + row, "utf-8")
    first = bench.run(QUICK)
    assert first.read == 3
    owned = dict(bench.frame("select path, vehicle from recorded_rides").iter_rows())
    assert owned == {"inbox/a.fit": "heron", "inbox/b.fit": "heron", "inbox/c.fit": None}
    unassigned = bench.frame("unassigned_rides")
    assert unassigned["path"].to_list() == ["inbox/c.fit"]
    assert "no row of [[mounted]] covers 2031-05-06 08:00 UTC" in unassigned["reason"][0]
    assert any(path == "inbox/c.fit" for path, _, _ in bench.told("files"))
    assert first.measured == ("heron",)

    bench.edit("until = 2031-05-05", "until = 2031-05-06")
    again = bench.run(QUICK)
    assert again.read == 0
    assert bench.frame("unassigned_rides").is_empty()
    assert again.measured == ("heron",)
