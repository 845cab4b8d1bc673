"""What columns of exported charts mean: none without a unit and a meaning."""

from __future__ import annotations

import tomllib
from importlib.resources import files
from typing import TYPE_CHECKING

import pytest

from ridelab.report.chart_columns import chart_columns
from ridelab.report.digits import Printer
from ridelab.report.findings import read_findings
from ridelab.report.illustrations import illustrations
from ridelab.store import Store

if TYPE_CHECKING:
    from pathlib import Path

    from tests.report.fabricated import FabricatedStore


@pytest.fixture(scope="module")
def told(store: FabricatedStore, tmp_path_factory: pytest.TempPathFactory) -> list[tuple[str, ...]]:
    """Return chart, column, unit and meaning of all charts of the fabricated store."""
    path: Path = tmp_path_factory.mktemp("columns") / "ridelab.duckdb"
    exhibits = list(illustrations(read_findings(store), Printer("metric")))
    with Store.open(path) as laid_out:
        return list(chart_columns(exhibits, laid_out))


def test_each_column_has_a_unit_and_a_meaning(told: list[tuple[str, ...]]) -> None:
    """Of every kind of chart there is."""
    assert len({chart for chart, *_ in told}) > 12
    assert [row for row in told if not (row[2] and row[3])] == []
    assert len({row[:2] for row in told}) == len(told)


def test_what_a_relation_says_is_said_here(told: list[tuple[str, ...]]) -> None:
    """And what is told of one chart alone is not told of another."""
    said = {(chart, column): (unit, meaning) for chart, column, unit, meaning in told}
    assert said["density", "from_m"] == ("m", "lower end of the bin of development")
    assert said["deviations", "ratio_low"] == (
        "1",
        "lower end of its 95 % interval, the common scale left out",
    )
    assert "1 s before a gap" in said["stretch", "seconds"][1]
    assert "1 s before a gap" not in said["time-in-gear", "seconds"][1]


def test_every_entry_ends_in_its_unit() -> None:
    """In brackets, as the comments of relations do."""
    entries = tomllib.loads(files("ridelab.report").joinpath("columns.toml").read_text("utf-8"))
    flat = [said for value in entries.values() for said in (
        value.values() if isinstance(value, dict) else [value]
    )]  # fmt: skip
    assert all(said.endswith("]") and " [" in said for said in flat)
