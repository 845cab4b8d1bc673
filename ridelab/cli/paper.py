"""``ridelab paper``: a published ladder, before any ride is read."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridelab.cli.columns import column
from ridelab.cli.output import emit, print_table, say
from ridelab.cli.place import told_of
from ridelab.cli.text import printable
from ridelab.errors import UsageError, nearest
from ridelab.units import format_quantity

if TYPE_CHECKING:
    from collections.abc import Iterator

    import polars as pl

    from ridelab.campaign import Campaign
    from ridelab.cli.output import Form
    from ridelab.cli.text import Column
    from ridelab.drivetrain.ladder import Ladder

_TITLES = {
    "speed_60rpm_mps": "at 60 rpm",
    "speed_80rpm_mps": "at 80 rpm",
    "speed_100rpm_mps": "at 100 rpm",
    "cadence_change_rpm": "to gear below",
}


def print_paper(
    campaign: Campaign, drivetrain: str, vehicle: str | None, tyre: str | None, how: Form
) -> None:
    """Print the published ladder on every vehicle that has it, or on the wheel asked for."""
    import polars as pl

    from ridelab.drivetrain.paper import paper_ladder

    ladder = campaign.ladder(drivetrain)
    wheels = list(_wheels(campaign, drivetrain, vehicle, tyre))
    papers = [(name, rollout, paper_ladder(ladder, rollout)) for name, rollout in wheels]
    if how != "table":
        emit(pl.concat([_named(paper, name) for name, _, paper in papers]), how)
        return
    say(_summary(drivetrain, ladder))
    for name, rollout_m, paper in papers:
        say()
        if rollout_m:
            rolls = format_quantity(rollout_m, "rollout", campaign.units)
            say(f"{printable(name or '')}, rollout {rolls}")
        print_table(_paper_columns(paper, campaign))


def _wheels(
    campaign: Campaign, drivetrain: str, vehicle: str | None, tyre: str | None
) -> Iterator[tuple[str | None, float | None]]:
    """Yield name and rollout of each driven wheel to print the ladder for; one without, if none."""
    from ridelab.drivetrain.wheel import Tyre

    if vehicle is not None and vehicle not in campaign.vehicles:
        raise UsageError(f"no vehicle {vehicle!r}; {nearest(vehicle, campaign.vehicles)}")
    if tyre is not None:
        with told_of("--tyre"):
            rollout_m = Tyre.parse(tyre).nominal_rollout_m
        yield tyre, rollout_m
        return
    wheels = [
        (v.name, v.stated_rollout_m)
        for v in campaign.vehicles.values()
        if (v.name == vehicle if vehicle else v.drivetrain == drivetrain)
    ]
    if wheels:
        yield from wheels
    else:
        yield None, None


def _named(paper: pl.DataFrame, name: str | None) -> pl.DataFrame:
    """Put the vehicle, or the tyre asked for, in front of its ladder."""
    import polars as pl

    return paper.select(pl.lit(name, pl.String).alias("vehicle"), pl.all())


def _summary(drivetrain: str, ladder: Ladder) -> str:
    gears = "stepless" if ladder.stepless else f"{len(ladder.gears)} gears"
    return f"{printable(drivetrain)}: {gears}, range {format_quantity(ladder.range, 'range')}"


def _paper_columns(paper: pl.DataFrame, campaign: Campaign) -> list[Column]:
    """Columns that tell something, under names short enough for one screen."""
    known = [name for name in paper.columns if paper[name].count()]
    if "gear" in known and paper["label"].to_list() == [str(gear) for gear in paper["gear"]]:
        known.remove("label")
    return [column(name, paper[name], campaign.units, _TITLES.get(name, "")) for name in known]
