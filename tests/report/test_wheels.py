"""Rollouts side by side, and what a unit set to another wheel does, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridelab.report.digits import Printer
from ridelab.report.findings import read_findings
from ridelab.report.wheels import other_wheels, rollout_table
from tests.report import fabricated
from tests.report.parsed import parse

if TYPE_CHECKING:
    from ridelab.report.findings import VehicleFindings
    from ridelab.report.markup import Markup

METRIC = Printer("metric")


def trike(**stated: object) -> VehicleFindings:
    """Return heron, ridden with an effective rollout of 1.550 ± 0.002 m, with more stated of it."""
    store = fabricated.FabricatedStore()
    fabricated.vehicle(store, "heron", "nine", kind="trike")
    fabricated.published(store, "nine", fabricated.NINE)
    for column, value in stated.items():
        quoted = f"'{value}'" if isinstance(value, str) else value
        store.run(f"update stated_vehicles set {column} = {quoted}")  # noqa: S608 - a test's own
    return read_findings(store).vehicles[0]


def cells(markup: Markup) -> list[list[str]]:
    """Return the text of a table, row by row, with ordinary spaces."""
    return [
        [cell.text.replace("\u00a0", " ") for cell in row.all("th") + row.all("td")]
        for row in parse(markup).all("tr")
    ]


def test_rollouts_stand_side_by_side_with_their_spans() -> None:
    """By hand: π × 0.506 m = 1.5896 m; 96 to 101 %, 97 to 99 %; 1.563 m ± 0.5 %; as ridden."""
    heron = trike(
        tyre="50-406",
        nominal_rollout_m=1.5896,
        loaded_rollout_low_m=1.5896 * 0.97,
        loaded_rollout_high_m=1.5896 * 0.99,
        stated_rollout_m=1.563,
        rollout_is_measured=True,
    )
    assert cells(rollout_table(heron, METRIC)) == [
        ["Rollout", "Value, m", "Between, m", "Beside nominal, %"],
        ["nominal, 50-406", "1.590", "1.526 to 1.605", "0.0"],
        ["loaded, as a rule", "–", "1.542 to 1.574", "−3.0 to −1.0"],
        ["measured, as stated", "1.563", "1.555 to 1.571", "−1.7"],
        ["as the rides show it", "1.550", "1.548 to 1.552", "−2.5"],
    ]


def test_without_a_tyre_there_is_nothing_to_compare() -> None:
    """The sentence on the rollout says all there is."""
    assert rollout_table(trike(), METRIC) == ""
    assert other_wheels(trike(), METRIC) == ""


def test_a_unit_set_to_another_wheel_is_told() -> None:
    """Which wheels are not driven, where the sensor sits, and how far developments are off."""
    heron = trike(other_tyres="40-349", sensor_wheel="40-349", set_rollout_m=1.59, unit_factor=1.18)
    assert parse(other_wheels(heron, METRIC)).text.replace("\u00a0", " ") == (
        "Wheels that are not driven: 40-349; the speed sensor sits on 40-349. The recording unit "
        "was set to 1.590 m: developments that it recorded by its wheel sensor are 18.0 % longer "
        "than by the rollout stated for that wheel."
    )
    right = trike(set_rollout_m=1.348, unit_factor=1.0002)
    assert "what the wheel under its sensor rolls" in parse(other_wheels(right, METRIC)).text
