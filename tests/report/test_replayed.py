"""The part on other drivetrains: the answer first, what it assumes, and names that are hostile."""

from __future__ import annotations

import pytest

from ridelab.report.digits import Printer
from ridelab.report.findings import VehicleFindings, read_findings
from ridelab.report.replayed import replay_exhibits, replayed_part
from tests.report import fabricated
from tests.report.fabricated import FabricatedStore
from tests.report.hostile import HOSTILE
from tests.report.parsed import parse
from tests.report.replays import replayed

METRIC = Printer("metric")


def heron(own: str = "nine", names: tuple[str, ...] = ("four", "twelve")) -> VehicleFindings:
    """Return a vehicle with replays on these drivetrains."""
    store = FabricatedStore()
    fabricated.vehicle(store, "heron", own)
    replayed(store, own, names)
    (found,) = read_findings(store).vehicles
    return found


def test_the_answer_comes_first_and_its_assumption_last() -> None:
    """Words, picture, table, picture, table, what is taken as ridden."""
    part = parse(replayed_part(heron(), METRIC))
    (answer,) = part.all("strong")
    assert answer.text == (
        "Would another drivetrain have kept more of the driving within 70 to 90 rpm? However it is "
        "shifted, four would, of twelve these rides cannot tell."
    )
    assert [one.attributes["id"] for one in part.all("figure")] == [
        "chart-heron.replays", "chart-heron.replayed-gears",
    ]  # fmt: skip
    assert part.all("p")[-1].text.startswith("Speed is taken as ridden")


def test_the_table_tells_the_difference_to_the_ridden_drivetrain() -> None:
    """In points, with its sign and interval; of the ridden one there is none."""
    part = parse(replayed_part(heron(), METRIC))
    table = part.all("table")[0]
    rows = [[cell.text for cell in row.children] for row in table.all("tr")[1:]]
    beside = {(row[0], row[1]): row[6] for row in rows}
    assert beside["four", "by habit"] == "−4 (−7 to −1)"  # habits are 2 points off
    assert beside["nine", "by habit"] == beside["nine", "as ridden"] == "–"


def test_a_vehicle_without_replays_has_no_such_part() -> None:
    """Nobody asked for another drivetrain."""
    store = FabricatedStore()
    fabricated.vehicle(store, "heron", "nine")
    (found,) = read_findings(store).vehicles
    assert replayed_part(found, METRIC) == ""
    assert list(replay_exhibits(found, METRIC)) == []


@pytest.mark.parametrize(
    "hostile",
    [
        *HOSTILE,
        "datum.label') + alert(1) + ('",
    ],
)
def test_hostile_names_are_text(hostile: str) -> None:
    """Of drivetrains, ridden and candidates: neither markup, nor expression, nor ten thousand."""
    part = replayed_part(heron(names=(hostile, "twelve")), METRIC)
    page = parse(part)
    assert len(part) < 80_000
    assert {one.attributes.get("type") for one in page.all("script")} == {"application/json"}
    assert not page.all("img")
    assert not set(part) & set("\x07\x1b\u202e\u2066")
    for exhibit in replay_exhibits(heron(names=(hostile,)), METRIC):
        assert max(map(len, exhibit.said.split(", "))) < 600
