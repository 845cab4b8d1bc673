"""The table of losses says what is lost, never that something is gained, and what meters allow."""

from __future__ import annotations

from typing import Any

from ridelab.report.digits import Printer
from ridelab.report.findings import VehicleFindings, read_findings
from ridelab.report.losses import losses_table
from ridelab.report.vehicles import vehicle_section
from tests.report import fabricated
from tests.report.parsed import parse
from tests.report.test_wheels import cells

METRIC = Printer("metric")
BY_METERS = {
    "crank_w": 171.2,
    "wheel_w": 162.6,
    "seconds": 456.0,
    "spells": 9,
    "rides": 3,
    "wheel_over_crank": 0.95,
    "scatter": 0.002,
    "freedom": 5.6,
    "accuracy": 0.01,
}


def heron(*rows: dict[str, Any], told: str = "") -> VehicleFindings:
    """A vehicle with these rows of gear_losses, and a warning."""
    store = fabricated.FabricatedStore()
    fabricated.vehicle(store, "heron", "nine")
    fabricated.published(store, "nine", fabricated.NINE)
    store.add("gear_losses", *({"vehicle": "heron"} | BY_METERS | row for row in rows))
    if told:
        store.add(
            "problems",
            {"path": "heron", "stage": "losses", "severity": "warning", "message": told},
        )
    return read_findings(store).vehicles[0]


def told_as(row: dict[str, Any]) -> list[str]:
    """The cells of one row."""
    return cells(losses_table(heron(row), METRIC))[1]


def test_a_gear_has_its_loss_and_how_it_compares() -> None:
    """With the digits that either interval supports; the mean last."""
    mean = {"gear": None, "loss": 0.046, "loss_low": 0.034, "loss_high": 0.058}
    third = {
        "gear": 3, "loss": 0.0396, "loss_low": 0.0283, "loss_high": 0.0509,
        "against_mean": -0.0060, "against_mean_low": -0.0071, "against_mean_high": -0.0049,
    }  # fmt: skip
    table = cells(losses_table(heron(mean, third), METRIC))
    assert [row[0] for row in table] == ["Gear", "3", "mean"]
    assert table[1][1:4] == ["4", "3 to 5", "−0.6 ± 0.1"]
    assert table[1][4:] == ["171", "163", "8 min", "3"]
    assert table[2][1:4] == ["5", "3 to 6", "–"]


def test_meters_that_disagree_tell_no_loss() -> None:
    """How gears compare is left."""
    row = told_as(
        {"gear": 1, "against_mean": 0.01, "against_mean_low": 0.008, "against_mean_high": 0.012}
    )
    assert row[1:4] == ["–", "–", "+1.0 ± 0.2"]


def test_what_the_meters_allow_is_said_below() -> None:
    """As in the terminal; markup in it is text."""
    page = vehicle_section(heron({"gear": 1}, told="exact to <b>2 %</b>"), METRIC)
    assert "Exact to &lt;b&gt;2" in page
    assert "<b>" not in page


def test_without_two_meters_there_is_nothing() -> None:
    """A motor alone is told."""
    assert losses_table(heron(), METRIC) == ""
    assert (
        "its motor" in parse(losses_table(heron(told="its motor adds power"), METRIC)).text.lower()
    )
