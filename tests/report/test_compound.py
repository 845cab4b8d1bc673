"""Combinations of a compound drivetrain: which repeat another, drawn and told."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from ridelab.campaign import Campaign, Vehicle
from ridelab.drivetrain.stages import Drivetrain, from_ratios, from_teeth
from ridelab.report.compound import compound_chart, compound_sentence, compound_table
from ridelab.report.digits import Printer
from ridelab.report.findings import read_findings
from ridelab.store import Store
from tests.report.parsed import parse

if TYPE_CHECKING:
    import polars as pl

METRIC = Printer("metric")


@pytest.fixture(scope="module")
def combinations(tmp_path_factory: pytest.TempPathFactory) -> dict[str, pl.DataFrame]:
    """Two chainrings of 2 : 1 on three sprockets that repeat each other, and a plain hub."""
    drivetrains = (
        Drivetrain("double", (from_teeth("chain", (20, 40), (10, 20, 30)),)),
        Drivetrain("plain", (from_ratios("hub", (0.75, 1.0, 4 / 3)),)),
    )
    vehicles = (
        Vehicle("otter", "trike", (), rollout_m=2.0, drivetrain="double"),
        Vehicle("heron", "trike", (), drivetrain="plain"),
        Vehicle("smew", "trike", (), drivetrain="double"),
    )
    campaign = Campaign(
        "spring",
        Path("/nowhere"),
        vehicles={one.name: one for one in vehicles},
        drivetrains={one.name: one for one in drivetrains},
    )
    path = tmp_path_factory.mktemp("compound") / "store.duckdb"
    with Store.open(path) as store:
        store.put_campaign(campaign)
        return {one.name: one.combinations for one in read_findings(store).vehicles}


def test_what_repeats_a_lower_combination_says_which(
    combinations: dict[str, pl.DataFrame],
) -> None:
    """By hand: 20/20 = 1, 20/10 = 40/20 = 2, 20/30 = 2/3, 40/30 = 4/3, 40/10 = 4: five gears."""
    found = combinations["otter"].to_dicts()
    assert [(row["combination"], row["gear"]) for row in found] == [
        ("20/30", 1),
        ("20/20", 2),
        ("40/30", 3),
        ("20/10", 4),
        ("40/20", 4),
        ("40/10", 5),
    ]
    assert [row["beside"] for row in found if row["repeats"]] == ["20/10"]
    assert [row["development_m"] for row in found][:2] == [pytest.approx(4 / 3), pytest.approx(2)]


def test_a_single_stage_is_not_compound(combinations: dict[str, pl.DataFrame]) -> None:
    """A hub of three gears has nothing that could repeat."""
    assert combinations["heron"].is_empty()


def test_the_sentence_counts(combinations: dict[str, pl.DataFrame]) -> None:
    """Six combinations, five gears, none of them close."""
    said = compound_sentence(combinations["otter"]).replace("\u00a0", " ")
    assert said.startswith(
        "6 combinations, 5 of them gears of their own; 1 only repeats another. A"
    )


def test_without_a_wheel_ratios_are_drawn(combinations: dict[str, pl.DataFrame]) -> None:
    """And the table says what it can."""
    chart = compound_chart(combinations["smew"], METRIC).to_dict()
    assert chart["encoding"]["x"]["title"] == "ratio (logarithmic)"
    (rows,) = chart["datasets"].values()
    assert {row["kind"] for row in rows} == {"a gear, not measured", "repeats another"}
    assert "40/20" in parse(compound_table(combinations["smew"], "smew", METRIC)).text
