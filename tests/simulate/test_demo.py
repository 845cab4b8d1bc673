"""The demo campaign: complete, marked as invented, and safe to write."""

from __future__ import annotations

from pathlib import Path

import polars as pl
import pytest

from ridelab.campaign import find_rides, load
from ridelab.errors import NotARide, UsageError
from ridelab.simulate.demo import write_demo
from ridelab.telemetry import read_ride


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a demo."""
    return write_demo(tmp_path_factory.mktemp("demo") / "demo").parent


def engaged_s(demo: Path, vehicle: str) -> dict[int, int]:
    """True seconds engaged and coupled in each gear, over all rides of a vehicle."""
    rides = [path for path in (demo / "truth" / vehicle).glob("*.csv") if "shifts" not in path.stem]
    truth = pl.concat([pl.read_csv(path).filter("coupled") for path in rides])
    return dict(truth["gear"].drop_nulls().value_counts().iter_rows())


def test_the_campaign_is_right_and_finds_its_rides(demo: Path) -> None:
    """Every glob matches, and every ride file belongs to one vehicle or to the inbox."""
    campaign = load(demo / "campaign.toml")
    found = find_rides(campaign)
    assert found.problems == ()
    assert {vehicle for vehicle, _ in found.files} == {*campaign.vehicles, None}
    assert len(found.files) == len(list((demo / "rides").rglob("*.fit")))


def test_it_says_that_it_is_invented(demo: Path) -> None:
    """In the file, and in every source that a claim names."""
    campaign = load(demo / "campaign.toml")
    assert "invented" in campaign.name
    assert all("invented" in claim.source for claim in campaign.claims)
    assert b"simulated ride" in (demo / "rides/dunlin/bank-road.fit").read_bytes()


def test_every_ride_has_its_truth(demo: Path) -> None:
    """Row for row: the records that can be read are the first of the truth."""
    for _, found in find_rides(load(demo / "campaign.toml")).files:
        path = Path(str(found))
        if path.stem == "unit-settings":
            continue
        truth = pl.read_csv(demo / "truth" / path.parent.name / f"{path.stem}.csv")
        read = read_ride(path).samples["t_s"]
        assert truth["t_s"].head(len(read)).to_list() == read.to_list()
        assert len(read) == len(truth) or path.stem == "broken-off"


def test_it_stays_small(demo: Path) -> None:
    """At most 27,000 records, so that it is over within seconds."""
    rides = [path for path in (demo / "truth").rglob("*.csv") if "shifts" not in path.stem]
    assert sum(len(pl.read_csv(path)) for path in rides) <= 27_000


def test_ends_of_the_ladders_whose_range_is_claimed_are_ridden(demo: Path) -> None:
    """Half a minute in the lowest and in the highest gear, so that a verdict can be reached."""
    for vehicle, highest in (("plover", 9), ("dunlin", 14), ("lapwing", 17)):
        seconds = engaged_s(demo, vehicle)
        assert seconds[1] >= 30, vehicle
        assert seconds[highest] >= 30, vehicle


def test_the_gear_of_the_undecided_claim_is_never_ridden(demo: Path) -> None:
    """Nobody rode the seventh gear."""
    assert max(engaged_s(demo, "turnstone")) < 7


def test_one_file_is_no_ride_and_one_breaks_off(demo: Path) -> None:
    """So that what was set aside and why has something to show."""
    with pytest.raises(NotARide, match="settings"):
        read_ride(demo / "rides/dunlin/unit-settings.fit")
    broken = read_ride(demo / "rides/lapwing/broken-off.fit")
    assert any("breaks off" in problem.message for problem in broken.problems)
    assert len(broken.samples) > 300


def test_writing_again_writes_the_same_bytes(demo: Path) -> None:
    """An earlier demo may be written over: nothing changes, what was added stays."""
    before = {path: path.read_bytes() for path in demo.rglob("*") if path.is_file()}
    (demo / "ridelab.duckdb").touch()
    write_demo(demo)
    (demo / "ridelab.duckdb").unlink()
    assert {path: path.read_bytes() for path in demo.rglob("*") if path.is_file()} == before


def test_another_seed_makes_other_rides(demo: Path, tmp_path: Path) -> None:
    """The campaign stays, the rides differ."""
    other = write_demo(tmp_path / "other", seed=1).parent
    assert (other / "campaign.toml").read_bytes() == (demo / "campaign.toml").read_bytes()
    ride = "rides/plover/bank-road.fit"
    assert (other / ride).read_bytes() != (demo / ride).read_bytes()


def test_a_folder_with_anything_else_is_refused(tmp_path: Path) -> None:
    """Nothing is written beside a stranger's files."""
    (tmp_path / "notes.txt").write_text("mine")
    with pytest.raises(UsageError, match="is not empty; name a folder"):
        write_demo(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["notes.txt"]


def test_a_changed_demo_is_refused(demo: Path, tmp_path: Path) -> None:
    """Somebody's changes to the campaign are not written over."""
    text = (demo / "campaign.toml").read_text()
    (tmp_path / "campaign.toml").write_text(text.replace("412.0", "500.0"))
    with pytest.raises(UsageError, match="was changed since"):
        write_demo(tmp_path)


def test_a_file_in_place_of_the_folder_is_refused(tmp_path: Path) -> None:
    """A path that is a file is named as such."""
    (tmp_path / "demo").write_text("mine")
    with pytest.raises(UsageError, match="is a file"):
        write_demo(tmp_path / "demo")
