"""Columns of the store as people see them: units by name, digits by measure."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

import polars as pl
import pytest

from ridelab.cli.columns import clock, column, shown

if TYPE_CHECKING:
    from ridelab.units import UnitSystem


@pytest.mark.parametrize(
    ("name", "value", "header", "unit", "cell"),
    [
        ("speed_mps", 10.0, "speed", "km/h", "36.0"),
        ("cadence_before_rpm", 79.6, "cadence before", "rpm", "80"),
        ("development_low_m", 1.4442, "development low", "m", "1.44"),
        ("effective_rollout_m", 1.5632, "effective rollout", "m", "1.563"),
        ("distance_m", 12345.6, "distance", "km", "12.3"),
        ("altitude_m", 12.34, "altitude", "m", "12.3"),
        ("power_w", 187.6, "power", "W", "188"),
        ("t_s", 12.5, "t", "s", "12.5"),
        ("range_high", 5.4123, "range high", "%", "541"),
        ("step", 0.1364, "step", "%", "13.6"),
        ("deviation", -0.0123, "deviation", "%", "-1.23"),
        ("grade", 0.0512, "grade", "%", "5.1"),
        ("ratio", 1.1423, "ratio", "", "1.142"),
        ("lat_deg", 53.123456, "lat", "°", "53.12346"),
        ("share_of_climb", 0.0512, "share of climb", "%", "5.1"),
        ("work_j", 61234.0, "work", "kJ", "61.2"),
        ("metres", 12345.6, "way", "km", "12.3"),
        ("powered_s", 3723.0, "powered", "", "1:02:03"),
        ("seconds", 3723.0, "seconds", "", "1:02:03"),
        ("spread", 0.0051234, "spread", "", "0.005123"),
    ],
)
def test_unit_follows_from_the_name(
    name: str, value: float, header: str, unit: str, cell: str
) -> None:
    """Every kind of column that the relations have."""
    found = column(name, pl.Series([value]))
    assert (found.name, found.unit, found.cells[0]) == (header, unit, cell)


@pytest.mark.parametrize(
    ("name", "value", "unit", "cell"),
    [("speed_mps", 10.0, "mph", "22.4"), ("distance_m", 16093.44, "mi", "10.0")],
)
def test_imperial_units(name: str, value: float, unit: str, cell: str) -> None:
    """10 m/s is 22.4 mph; 10 miles are 16093.44 m (NIST SP 811)."""
    units: UnitSystem = "imperial"
    found = column(name, pl.Series([value]), units)
    assert (found.unit, found.cells[0]) == (unit, cell)


@pytest.mark.parametrize("nothing", [None, float("nan"), float("inf")])
def test_unknown_is_a_dash(nothing: float | None) -> None:
    """Neither "None" nor "nan" reaches a person."""
    assert column("speed_mps", pl.Series([nothing], dtype=pl.Float64)).cells == ["–"]


def test_other_kinds_of_value() -> None:
    """Truth, whole numbers, times, long identifiers, text from files."""
    frame = pl.DataFrame(
        {
            "coupled": [True],
            "gear": [3],
            "started_at": [datetime(2026, 5, 1, 8, 30, tzinfo=UTC)],
            "ride": ["0123456789abcdef" * 4],
            "vehicle": ["her\x1bon"],
        }
    )
    cells = [column.cells[0] for column in shown(frame)]
    assert cells == ["yes", "3", "2026-05-01 08:30:00", "0123456789", r"her\x1bon"]


def test_clock_counts_hours_on() -> None:
    """30 hours are no day and six hours."""
    assert clock(30 * 3600 + 59.6) == "30:01:00"


def test_digits_are_those_that_the_interval_supports() -> None:
    """Row by row, in the unit shown, at both ends; without an interval those of the measure."""
    frame = pl.DataFrame(
        {
            "range": [5.26249, 2.0],
            "range_low": [5.25812, None],
            "range_high": [5.26679, None],
            "development_m": [1.14712, 4.7],
            "development_low_m": [1.14412, 4.6],
            "development_high_m": [1.15012, 4.8],
        }
    )
    cells = {column.name: list(column.cells) for column in shown(frame)}
    assert cells["range"] == ["526.2", "200"]
    assert cells["range low"] == ["525.8", "–"]
    assert cells["range high"] == ["526.7", "–"]
    assert cells["development"] == ["1.147", "4.7"]
    assert cells["development high"] == ["1.150", "4.8"]


@pytest.mark.parametrize(("units", "shown_as"), [("metric", "412.0"), ("imperial", "256.0")])
def test_kilometres_that_were_stated_are_no_metres(units: UnitSystem, shown_as: str) -> None:
    """An odometer is stored as stated: 412 km are 256 international miles (1.609344 km)."""
    [column] = shown(pl.DataFrame({"odometer_km": [412.0]}), units)
    assert column.cells == [shown_as]
