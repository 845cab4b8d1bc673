"""``ridelab paper``: a published ladder, before any ride is read."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from ridelab.cli.columns import column
from ridelab.cli.output import emit, print_table, say, say_prose
from ridelab.cli.place import told_of
from ridelab.cli.text import NO_BREAK, Column, counted, printable
from ridelab.errors import NotAccepted, UsageError, nearest
from ridelab.units import format_number, format_quantity, parse_quantity

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import polars as pl

    from ridelab.campaign import Campaign
    from ridelab.cli.output import Form
    from ridelab.drivetrain.ladder import Ladder
    from ridelab.drivetrain.overview import Steps
    from ridelab.drivetrain.stages import Drivetrain

    #: A wheel's name, its rollout in metres, and the ladder on it.
    Paper = tuple[str | None, float | None, pl.DataFrame]

Part = Literal["gears", "stages", "combinations"]
PARTS: tuple[Part, ...] = ("gears", "stages", "combinations")
_WIDEST_MERGE = 0.2


@dataclass(frozen=True)
class Asked:
    """What ``ridelab paper`` was asked for, beside the drivetrain.

    ``vehicle`` or ``tyre``: the wheel; ``cadence_rpm``: the one cadence to speak of; ``part``: this
    table alone. ``merge_within`` takes the place of the campaign's.
    """

    vehicle: str | None = None
    tyre: str | None = None
    cadence_rpm: int | None = None
    part: Part | None = None
    merge_within: float | None = None


def asked(
    *,
    vehicle: str | None,
    tyre: str | None,
    cadence_rpm: int | None,
    part: str | None,
    merge_within: str | None,
) -> Asked:
    """Check the options.

    Raises:
        UsageError: a part that there is not, or a merge_within that is no small percentage.
    """
    found = next((known for known in PARTS if known == part), None)
    if part is not None and found is None:
        raise UsageError(f"--part: found {part!r}; {nearest(part, PARTS)}")
    within = None
    if merge_within is not None:
        with told_of("--merge-within"):
            within = parse_quantity(merge_within, "percent").value_si
            if not 0 <= within < _WIDEST_MERGE:
                raise NotAccepted(repr(merge_within), "0 to below 20 %, such as '1.5 %' or 0.015")
    return Asked(vehicle, tyre, cadence_rpm, found, within)


def print_paper(campaign: Campaign, drivetrain: str, wanted: Asked, how: Form) -> None:
    """Print the published ladder on every vehicle that has it, or on the wheel asked for."""
    from ridelab.drivetrain.overview import combination_rows, stage_rows

    ladder = ladder_of(campaign, drivetrain, wanted)
    stages = campaign.drivetrains[drivetrain]
    if wanted.part == "stages":
        rows = stage_rows(stages, merge_within(campaign, wanted))
        emit(rows, how) if how != "table" else print_table(_stage_columns(rows))
    elif wanted.part == "combinations":
        emit(combination_rows(ladder), how, campaign.units)
    elif how != "table":
        _emit_gears(campaign, ladder, wanted, how)
    else:
        papers = list(_papers(campaign, ladder, wanted))  # a wrong wheel is refused before a word
        if wanted.part is None:
            _print_whole(ladder, stages, merge_within(campaign, wanted), wanted)
            say()
        _print_gears(papers, campaign)


def ladder_of(campaign: Campaign, drivetrain: str, wanted: Asked) -> Ladder:
    """Return a ladder of the campaign, merged as asked for."""
    from ridelab.drivetrain.ladder import published_ladder

    ladder = campaign.ladder(drivetrain)
    if wanted.merge_within is None:
        return ladder
    return published_ladder(campaign.drivetrains[drivetrain], wanted.merge_within)


def merge_within(campaign: Campaign, wanted: Asked) -> float:
    """Return within what, relative, combinations share a gear."""
    return campaign.merge_within if wanted.merge_within is None else wanted.merge_within


def wheels(
    campaign: Campaign, drivetrain: str, wanted: Asked
) -> Iterator[tuple[str | None, float | None]]:
    """Yield name and rollout of each driven wheel to print the ladder for; one without, if none."""
    from ridelab.drivetrain.wheel import Tyre

    vehicle, tyre = wanted.vehicle, wanted.tyre
    if vehicle is not None and vehicle not in campaign.vehicles:
        raise UsageError(f"no vehicle {vehicle!r}; {nearest(vehicle, campaign.vehicles)}")
    if tyre is not None:
        with told_of("--tyre"):
            rollout_m = Tyre.parse(tyre).nominal_rollout_m
        yield tyre, rollout_m
        return
    found: list[tuple[str | None, float | None]] = [
        (v.name, v.stated_rollout_m)
        for v in campaign.vehicles.values()
        if (v.name == vehicle if vehicle else v.drivetrain == drivetrain)
    ]
    yield from found or [(None, None)]


def percent(relative: float) -> str:
    """Print a relative number as "1.5 %", the number and its sign on one line."""
    return f"{format_number(100 * relative, 1).removesuffix('.0')}{NO_BREAK}%"


def _papers(campaign: Campaign, ladder: Ladder, wanted: Asked) -> Iterator[Paper]:
    from ridelab.drivetrain.paper import CADENCES_RPM, SHIFT_CADENCE_RPM, paper_ladder

    cadence = wanted.cadence_rpm
    cadences, shifting = ((cadence,), cadence) if cadence else (CADENCES_RPM, SHIFT_CADENCE_RPM)
    for name, rollout_m in wheels(campaign, ladder.drivetrain, wanted):
        yield name, rollout_m, paper_ladder(ladder, rollout_m, cadences, shifting)


def _emit_gears(campaign: Campaign, ladder: Ladder, wanted: Asked, how: Form) -> None:
    import polars as pl

    named = [
        paper.select(pl.lit(name, pl.String).alias("vehicle"), pl.all())
        for name, _, paper in _papers(campaign, ladder, wanted)
    ]
    emit(pl.concat(named), how)


def _print_gears(papers: Sequence[Paper], campaign: Campaign) -> None:
    for place, (name, rollout_m, paper) in enumerate(papers):
        if place:
            say()
        if rollout_m:
            rolls = format_quantity(rollout_m, "rollout", campaign.units)
            say(f"{printable(name or '')}, rollout {rolls}")
        print_table(_paper_columns(paper, campaign))


def _paper_columns(paper: pl.DataFrame, campaign: Campaign) -> list[Column]:
    """Columns that tell something, under names short enough for one screen."""
    known = [name for name in paper.columns if paper[name].count()]
    if "gear" in known and paper["label"].to_list() == [str(gear) for gear in paper["gear"]]:
        known.remove("label")
    titles = {"cadence_change_rpm": "to gear below"} | {
        name: f"at {name.split('_')[1].removesuffix('rpm')} rpm"
        for name in known
        if name.startswith("speed_")
    }
    return [column(name, paper[name], campaign.units, titles.get(name, "")) for name in known]


def _print_whole(ladder: Ladder, drivetrain: Drivetrain, within: float, wanted: Asked) -> None:
    """Print what can be said of the ladder in sentences, then what each stage does to it."""
    from ridelab.drivetrain.overview import stage_rows

    say(_summary(ladder))
    for sentence in _sentences(ladder, within, wanted.cadence_rpm):
        say_prose(sentence)
    for stage in drivetrain.stages:
        for note in stage.notes:
            say_prose(f"note: {stage.name}: {note}")
    rows = stage_rows(drivetrain, within)
    if rows.height > 1:
        say()
        print_table(_stage_columns(rows))


def _summary(ladder: Ladder) -> str:
    gears = "stepless" if ladder.stepless else counted(len(ladder.gears), "gear")
    range_ = format_quantity(ladder.range, "range")
    return f"{printable(ladder.drivetrain)}: {gears}, range {range_}"


def _sentences(ladder: Ladder, within: float, cadence_rpm: int | None) -> Iterator[str]:
    """Yield where a stepless ladder has holes, how many gears repeat, and what the steps are."""
    from ridelab.drivetrain.grouping import FEEL_WITHIN
    from ridelab.drivetrain.overview import felt_gears, steps_of

    for low, high in ladder.holes:
        yield f"between its ends it has no ratio from {low:.3f} to {high:.3f}"
    combinations, gears = sum(len(gear.members) for gear in ladder.gears), len(ladder.gears)
    if combinations > gears:
        more = combinations - gears
        yield (
            f"{counted(combinations, 'combination')}; {more} of them "
            f"{'repeats' if more == 1 else 'repeat'} the gear of another, within {percent(within)}"
        )
    felt = felt_gears(ladder)
    if felt < gears:
        yield (
            f"to a rider, who hardly feels less than {percent(FEEL_WITHIN)}, they are "
            f"{counted(felt, 'gear')}"
        )
    if (steps := steps_of(ladder)) is not None:
        yield from _step_sentences(steps, cadence_rpm)


def _step_sentences(steps: Steps, cadence_rpm: int | None) -> Iterator[str]:
    """Yield how even the steps are, and what a shift changes."""
    from ridelab.drivetrain.paper import SHIFT_CADENCE_RPM

    cadence = cadence_rpm or SHIFT_CADENCE_RPM
    sizes = (steps.smallest, steps.mean, steps.largest)
    small, mean, large = (format_quantity(step, "step").replace(" ", NO_BREAK) for step in sizes)
    slow, usual, fast = (format_number(cadence * step, 0) for step in sizes)
    varies = format_quantity(steps.variation, "range").replace(" ", NO_BREAK)
    if small == large:
        yield f"even steps of {mean}: a shift at {cadence} rpm changes the cadence by {usual} rpm"
    else:
        yield (
            f"steps from {small} to {large}, on average {mean}: a shift at {cadence} rpm changes "
            f"the cadence by {slow} to {fast} rpm, on average {usual}"
        )
        yield (
            f"the largest step is {steps.largest_over_smallest:.1f} times the smallest; their "
            f"logarithms vary by {varies} of their mean (0 % were even)"
        )
    yield "how even or fine its steps are says nothing of a drivetrain's efficiency"


def _stage_columns(rows: pl.DataFrame) -> list[Column]:
    names = [
        f"{printable(stage)} {side or ''}".rstrip()
        for stage, side in zip(rows["stage"], rows["shifts"], strict=True)
    ]
    return [
        Column("stage", names, wraps=True),
        column("settings", rows["settings"]),
        column("ratio", rows["lowest_ratio"], title="lowest gear ×"),
        column("ratio", rows["highest_ratio"], title="highest gear ×"),
        column("range", rows["range"], title="range of its own"),
        column("gears", rows["gears"], title="gears with it"),
        column("gears", rows["gears_without"], title="without it"),
    ]
