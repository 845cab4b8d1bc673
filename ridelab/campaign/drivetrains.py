"""Reads the drivetrains of campaign.toml: each stage table goes to the builder of its kind."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from ridelab.campaign.epicyclics import read_epicyclic
from ridelab.campaign.table import shown
from ridelab.drivetrain import stages
from ridelab.drivetrain.ladder import published_ladder
from ridelab.drivetrain.stages import Drivetrain, ServiceInterval, Stage
from ridelab.errors import nearest

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from ridelab.campaign.table import Table
    from ridelab.drivetrain.ladder import Ladder

_KEYS = (
    "description", "stages", "service", "max_input_torque_nm", "min_primary_ratio",
    "shifts_standing",
)  # fmt: skip
_FORMS = (
    "one of: ratios = [...]; driver = [teeth], driven = [teeth]; speeds = 14, range = 5.26; "
    "epicyclic = { sun = 20, ring = 60 }; continuous = [0.5, 1.9]"
)
_TEETH = "a list of whole tooth counts, such as [22, 36]"
_KM_M = 1000.0
_MOST_TORQUE_NM = 10_000.0
_TORQUE = "newton metres below 10000, such as 250"
_LEAST_RATIO = (
    "turns of its input for one of the crank, 0.05 to 20, such as 1.9, or teeth such as '36:19'"
)
_TEETH_RATIO = re.compile(r"([1-9][0-9]{0,2})\s*[:/]\s*([1-9][0-9]{0,2})", re.ASCII)


def read_drivetrains(
    top: Table, merge_within: float
) -> tuple[dict[str, Drivetrain], dict[str, Ladder]]:
    """Return the drivetrains of a campaign file by name, and the ladder of each.

    Raises:
        CampaignError: a stage that cannot be, or is none of the kinds there are.
    """
    drivetrains, ladders = {}, {}
    for name, table in top.table("drivetrains", None).named(_KEYS):
        drivetrains[name] = _drivetrain(name, table)
        with table.owning("stages"):
            ladders[name] = published_ladder(drivetrains[name], merge_within)
        low, high = ladders[name].ends
        if low < stages.LEAST_RATIO or high > stages.MOST_RATIO:
            table.fail(
                "stages",
                f"found ratios from {low:.4g} to {high:.4g} over all stages",
                f"stages that make {stages.LEAST_RATIO:g} to {stages.MOST_RATIO:g} together",
            )
    return drivetrains, ladders


def _drivetrain(name: str, table: Table) -> Drivetrain:
    built: list[Stage] = []
    for place, raw in enumerate(table.tables("stages", _STAGE_KEYS, f"tables, each {_FORMS}"), 1):
        stage = _stage(raw, f"stage {place}")
        if stage.name in {other.name for other in built}:
            raw.fail("name", f"found {shown(stage.name)} twice", "a name of its own for each stage")
        built.append(stage)
    return Drivetrain(
        name=name,
        stages=tuple(built),
        description=table.text("description", ""),
        service=_service(table) if "service" in table else None,
        max_input_torque_nm=_torque_limits(table, [stage.name for stage in built]),
        min_primary_ratio=_least_ratios(table, [stage.name for stage in built]),
        stated_shifts_standing=_shifts_standing(table),
    )


def _stage(table: Table, default_name: str) -> Stage:
    kinds = [kind for kind, (keys, _) in _STAGE_KINDS.items() if any(key in table for key in keys)]
    if not kinds:
        table.fail("", "says nothing of its ratios", _FORMS)
    if len(kinds) > 1:
        keys = " and ".join(key for key in table.raw if key != "name")
        table.fail("", f"is {len(kinds)} kinds of stage at once: it has {keys}", _FORMS)
    name = table.text("name", default_name)
    with table.owning():
        return _STAGE_KINDS[kinds[0]][1](name, table)


def _from_ratios(name: str, table: Table) -> Stage:
    ratios = table.numbers("ratios", "a list of ratios, lowest first")
    return stages.from_ratios(name, ratios, table.half_digit("ratios"))


def _from_teeth(name: str, table: Table) -> Stage:
    driver, driven = (table.items(key, int, _TEETH) for key in ("driver", "driven"))
    return stages.from_teeth(name, driver, driven)


def _from_range(name: str, table: Table) -> Stage:
    speeds = table.integer("speeds", "a whole number of speeds, 2 or more")
    range_ = table.quantity("range", "ratio", "highest ratio over lowest: 5.26 or '526 %'")
    lowest = table.quantity("lowest", "ratio", "the lowest ratio, such as 0.279", None)
    half_digits = range_.half_digit, lowest.half_digit if lowest else 0.0
    ratio = lowest.value_si if lowest else None
    return stages.from_range(name, speeds, range_.value_si, ratio, half_digits)


def _stepless(name: str, table: Table) -> Stage:
    accepted = "two numbers, the lowest and the highest ratio, such as [0.5, 1.9]"
    ends = table.numbers("continuous", accepted)
    if len(ends) != 2:
        table.fail("continuous", f"found {len(ends)} numbers", accepted)
    return stages.stepless(name, ends[0], ends[1], table.half_digit("continuous"))


#: What makes a stage one kind or another: the keys that belong to it, and what builds it.
_STAGE_KINDS: dict[str, tuple[tuple[str, ...], Callable[[str, Table], Stage]]] = {
    "ratios": (("ratios",), _from_ratios),
    "driver and driven": (("driver", "driven"), _from_teeth),
    "speeds and range": (("speeds", "range", "lowest"), _from_range),
    "epicyclic": (("epicyclic",), read_epicyclic),
    "continuous": (("continuous",), _stepless),
}
_STAGE_KEYS = ("name", *(key for keys, _ in _STAGE_KINDS.values() for key in keys))


def _shifts_standing(table: Table) -> bool | None:
    stated = table.raw.get("shifts_standing")
    if stated is not None and not isinstance(stated, bool):
        accepted = "true or false: can gears be changed while the crank stands?"
        table.fail("shifts_standing", f"found {shown(stated)}", accepted)
    return stated


def _service(table: Table) -> ServiceInterval:
    service = table.table("service", ("every_km", "every_months"))
    interval = ServiceInterval(
        every_km=service.positive(
            "every_km",
            "length",
            "kilometres below a million, such as 10000",
            below=1e6,
            unit_si=_KM_M,
            default=None,
        ),
        every_months=service.positive(
            "every_months", "ratio", "months below 1200, such as 12", below=1200, default=None
        ),
    )
    if interval == ServiceInterval():
        table.fail("service", "found no interval", "{ every_km = 10000, every_months = 12 } or one")
    return interval


def _torque_limits(table: Table, names: Sequence[str]) -> tuple[tuple[str, float], ...]:
    limits = _of_stages(table, "max_input_torque_nm", names)
    return tuple(
        (name, limits.positive(name, "torque", _TORQUE, below=_MOST_TORQUE_NM))
        for name in limits.raw
    )


def _least_ratios(table: Table, names: Sequence[str]) -> tuple[tuple[str, float], ...]:
    """Return the least ratio in front of each stage that has one stated, as number or as teeth."""
    limits = _of_stages(table, "min_primary_ratio", names)
    if names[0] in limits:
        limits.fail(names[0], "the crank itself drives the first stage", "a stage behind another")
    return tuple((name, _least_ratio(limits, name)) for name in limits.raw)


def _least_ratio(limits: Table, name: str) -> float:
    raw = limits.raw[name]
    teeth = _TEETH_RATIO.fullmatch(raw.strip()) if isinstance(raw, str) else None
    if isinstance(raw, str) and teeth is None:
        limits.fail(name, f"found {shown(raw)}", _LEAST_RATIO)
    ratio = (
        int(teeth[1]) / int(teeth[2])
        if teeth
        else limits.positive(name, "ratio", _LEAST_RATIO, least=0.05, most=20)
    )
    if not 0.05 <= ratio <= 20:
        limits.fail(name, f"found {shown(raw)}", _LEAST_RATIO)
    return ratio


def _of_stages(table: Table, key: str, names: Sequence[str]) -> Table:
    """Return a table whose keys are names of stages."""
    limits = table.table(key, None)
    for name in limits.raw:
        if name not in names:
            limits.fail(name, "no stage has this name", nearest(name, names))
    return limits
