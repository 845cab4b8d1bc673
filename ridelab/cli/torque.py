"""Torque on the command line: in short for ``ridelab check``, in full for ``ridelab paper``."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from ridelab.cli.columns import NOTHING, column
from ridelab.cli.output import emit, print_table, say, say_prose
from ridelab.cli.text import NO_BREAK, Column, counted, printable
from ridelab.errors import UsageError, nearest

if TYPE_CHECKING:
    from collections.abc import Sequence

    import polars as pl

    from ridelab.campaign import Campaign, Load
    from ridelab.cli.output import Form
    from ridelab.units import UnitSystem

_MOST_SETTINGS = 24  # of one stage, in a table for people
_SPARED = {"beyond", "combinations"}
_BEYOND = {True: "beyond", False: "below"}


def print_torque(campaign: Campaign, drivetrain: str, vehicle: str | None, how: Form) -> None:
    """Print the input torque of each stage, for every vehicle that has the drivetrain.

    Raises:
        UsageError: the campaign has no such drivetrain or vehicle.
    """
    import polars as pl

    from ridelab.campaign import loads_on

    campaign.ladder(drivetrain)  # refuses one that there is not
    if vehicle is not None and vehicle not in campaign.vehicles:
        raise UsageError(f"no vehicle {vehicle!r}; {nearest(vehicle, campaign.vehicles)}")
    loads = loads_on(campaign, drivetrain, vehicle)
    if how != "table":
        named = [
            load.table.select(pl.lit(load.vehicle, pl.String).alias("vehicle"), pl.all())
            for load in loads
        ]
        emit(pl.concat(named), how)
        return
    say(f"{printable(drivetrain)}: torque at the input of each stage")
    for load in loads:
        say()
        _print_load(load, campaign.units)
    say()
    _print_what_it_is(loads)


def print_assumptions(campaign: Campaign) -> None:
    """Print what the torques that ``ridelab check`` shows stand on."""
    from ridelab.campaign import limited_loads
    from ridelab.drivetrain.torque import assumptions

    say()
    said: dict[str, list[str]] = {}
    loads = list(limited_loads(campaign))
    for load in loads:
        sentence = assumptions(load.rider, load.motor, campaign.units)
        said.setdefault(sentence, []).append(load.vehicle or "")
    for sentence, vehicles in said.items():
        _prose(f"{', '.join(vehicles)}: {sentence}")
    _print_what_it_is(loads)


def _print_load(load: Load, units: UnitSystem) -> None:
    from ridelab.drivetrain.torque import assumptions, cautions

    whose = f"{load.vehicle}: " if load.vehicle else ""
    _prose(whose + assumptions(load.rider, load.motor, units))
    shown = load.table.group_by("stage", maintain_order=True).head(_MOST_SETTINGS)
    print_table(_columns(shown, units))
    if left := load.table.height - shown.height:
        say(f"{counted(left, 'setting')} of lower torque left out; --json has all")
    for caution in cautions(load.table, units):
        _prose(f"caution: {caution}")


def _columns(table: pl.DataFrame, units: UnitSystem) -> list[Column]:
    titles = {
        "primary_ratio": "ratio in front",
        "max_input_torque_nm": "stated limit",
        "min_primary_ratio": "least ratio stated",
    }
    known = [name for name in table.columns if table[name].count() and name not in _SPARED]
    columns = [column(name, table[name], units, titles.get(name, "")) for name in known]
    if table["beyond"].count():
        words = [_BEYOND[one] if one is not None else NOTHING for one in table["beyond"]]
        columns.append(Column("by this estimate", words))
    return columns


def _print_what_it_is(loads: Sequence[Load]) -> None:
    from ridelab.drivetrain.torque import BELOW

    say_prose(
        "Estimates, losses left out. A jump on a pedal, hands that pull at the bars or a back that "
        f"pushes against a seat press harder than weight. What is not beyond is {BELOW}."
    )
    if any(load.motor is not None for load in loads):
        say_prose("Local law decides what an assisted vehicle may do on public roads.")


def _prose(text: str) -> None:
    """Say a sentence, numbers and their units held together."""
    say_prose(re.sub(r"(?<=[0-9]) (?=(kg|lb|mm|N·m|lbf·ft)\b)", NO_BREAK, text))
