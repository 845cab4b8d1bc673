"""Power at the wheel comes from the field that the campaign names, and from no other."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import polars as pl
import pytest

from ridelab.telemetry import Content, Ride, read_content
from ridelab.telemetry.wheel_power import with_wheel_power
from tests.store.recorded import a_ride
from tests.telemetry.fit.test_developer import SINT16, described
from tests.telemetry.fitbytes import CYCLING, START, Layout, file_id, fit_file


def with_field(label: str, values: list[float | str | None]) -> Ride:
    """A ride of four samples, of which an app wrote one field more."""
    fields = pl.DataFrame({"t_s": [0.0, 1.0, 2.0, 3.0], label: values})
    return replace(a_ride(), extra_fields=fields, problems=())


def wheel_power(ride: Ride) -> list[float | None]:
    """What is known of the power at the wheel."""
    return ride.samples["wheel_power_w"].to_list()


@pytest.mark.parametrize("named", ["hub power", "hub power [kW]"])
def test_a_field_is_found_by_its_name(named: str) -> None:
    """With its unit or without; 1 kW is 1000 W."""
    ride = with_wheel_power(with_field("hub power [kW]", [0.2, None, 0.21, 0.0]), named)
    assert wheel_power(ride) == [200.0, None, 210.0, 0.0]
    assert ride.problems == ()


def test_a_field_without_a_unit_is_in_watts() -> None:
    """Whole numbers as well."""
    assert wheel_power(with_wheel_power(with_field("hub", [1, 2, 3, 4]), "hub")) == [1, 2, 3, 4]


@pytest.mark.parametrize(
    ("label", "values", "said"),
    [
        ("hub powr", [1.0, 2.0, 3.0, 4.0], "did you mean 'hub powr'"),
        ("hub power [rpm]", [1.0, 2.0, 3.0, 4.0], "known: W, kW"),
        ("hub power", ["a", "b", None, None], "it holds text"),
    ],
)
def test_what_is_no_power_is_told_and_left(
    label: str, values: list[float | str | None], said: str
) -> None:
    """The ride is otherwise as it was."""
    before = with_field(label, values)
    ride = with_wheel_power(before, "hub power")
    assert ride.samples.equals(before.samples)
    [problem] = ride.problems
    assert said in problem.message


def test_the_door_takes_the_field_of_a_fit_file() -> None:
    """Beside the one field of power that the FIT profile has."""
    layout = Layout("record", ("timestamp", "power"), local=3, developer=((7, 2, 0),))
    content = fit_file(
        file_id(),
        described((0, 7, SINT16, b"hub", b"W")),
        layout.definition(),
        layout.data(START, 250, extra=(240).to_bytes(2, "little")),
        layout.data(START + 1, 260, extra=(251).to_bytes(2, "little")),
        CYCLING,
    )
    ride = read_content(Content(Path("ride.fit"), content), (), None, "hub")
    assert ride.samples.select("power_w", "wheel_power_w").rows() == [(250, 240), (260, 251)]
