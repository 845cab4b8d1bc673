"""What the store says, read once and sorted by vehicle."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple, Protocol

import polars as pl
import polars.selectors as cs

from ridelab.report.digits import known
from ridelab.report.doubts import concerning
from ridelab.resources import data_dir

if TYPE_CHECKING:
    from collections.abc import Callable

Record = dict[str, Any]


class Frames(Protocol):
    """All that the report asks of a store."""

    def frame(self, relation_or_sql: str, /) -> pl.DataFrame:
        """Return a relation by its name, or the result of a query."""


class Use(NamedTuple):
    """How the gears of one vehicle are used: its rows of the relations of the same names."""

    use_by_gear: pl.DataFrame
    use_by_grade: pl.DataFrame
    outside_comfort: pl.DataFrame
    comfortable_cadence: pl.DataFrame
    cadence_habits: pl.DataFrame
    shift_habits: pl.DataFrame
    shift_pairs: pl.DataFrame
    shift_sequences: pl.DataFrame
    stage_use: pl.DataFrame
    replays: pl.DataFrame
    replay_differences: pl.DataFrame
    replayed_gear_use: pl.DataFrame


class Fleet(NamedTuple):
    """What a shop is told of its vehicles: the relations of the same names."""

    fleet: pl.DataFrame
    service: pl.DataFrame
    ladder_health: pl.DataFrame
    sensor_health: pl.DataFrame
    unassigned_rides: pl.DataFrame
    rides: pl.DataFrame

    def frame(self, relation: str, /) -> pl.DataFrame:
        """Return one of them by its name."""
        frame: pl.DataFrame = getattr(self, relation)
        return frame


@dataclass(frozen=True)
class VehicleFindings:
    """One vehicle: a row of ``vehicles`` and what belongs to it.

    The frames are the results of the queries in ``sql/report``: of the same names, ``rides`` of
    ridden. ``span`` is its row of ``measured_range``, ``teeth`` are its rows of
    ``suggested_teeth``, ``losses`` those of ``gear_losses``, lowest gear first, their mean last.
    """

    row: Record
    ladder: pl.DataFrame
    developments: pl.DataFrame
    rides: pl.DataFrame
    lags: pl.DataFrame
    residuals: pl.DataFrame
    residuals_by_speed: pl.DataFrame
    stretch: pl.DataFrame
    rays: pl.DataFrame
    combinations: pl.DataFrame
    use: Use
    span: Record | None
    teeth: tuple[Record, ...]
    losses: pl.DataFrame
    problems: pl.DataFrame

    @property
    def name(self) -> str:
        """The vehicle's name in the campaign."""
        return str(self.row["vehicle"])

    @property
    def gears(self) -> list[int]:
        """The numbers of its gears, published or measured."""
        return sorted(self.ladder["gear"].to_list())

    @property
    def measured(self) -> pl.DataFrame:
        """The gears of the ladder that were measured."""
        return self.ladder.filter(pl.col("development_m").is_not_null())

    @property
    def published(self) -> pl.DataFrame:
        """The gears of the ladder that are published."""
        return self.ladder.filter(pl.col("published_ratio").is_not_null())

    @property
    def not_ridden(self) -> list[int]:
        """Published gears that no ride measured."""
        return self.published.filter(pl.col("development_m").is_null())["gear"].to_list()

    @property
    def strangers(self) -> list[int]:
        """Measured gears that the published ladder does not have; empty where none is published."""
        return (
            []
            if self.published.is_empty()
            else self.measured.join(self.published, on="gear", how="anti")["gear"].to_list()
        )

    @property
    def stepless(self) -> bool:
        """Whether there are no gears to count, only a range."""
        if self.row["stepless"] or (self.span is not None and self.span["low_gear"] is None):
            return True
        return self.row["drivetrain"] is not None and self.ladder.is_empty()

    @property
    def effective_rollout_m(self) -> float | None:
        """Metres a wheel turn as the rides show it; None where they show nothing of it."""
        shown = known(self.row["effective_rollout_low_m"]) is not None
        return known(self.row["effective_rollout_m"]) if shown else None


@dataclass(frozen=True)
class Findings:
    """All that the page tells."""

    vehicles: tuple[VehicleFindings, ...]
    verdicts: pl.DataFrame
    #: The verdict on each claim, all its vehicles taken together.
    claimed: tuple[str, ...]
    pooled: pl.DataFrame
    plan: pl.DataFrame
    fleet: Fleet
    problems: pl.DataFrame

    @property
    def set_aside(self) -> pl.DataFrame:
        """The problems that cost a file, in order of path."""
        return self.problems.filter(pl.col("severity") == "error").sort("path", "message")

    @property
    def doubts(self) -> pl.DataFrame:
        """Warnings, then notes, in order of path."""
        return self.problems.filter(pl.col("severity") != "error").sort(
            pl.col("severity") != "warning", "path", "message"
        )

    @property
    def rides(self) -> pl.DataFrame:
        """All rides of all vehicles."""
        return pl.concat([vehicle.rides for vehicle in self.vehicles]) if self.vehicles else _NONE


_OF_A_VEHICLE = (
    "ladder",
    "developments",
    "ridden",
    "lags",
    "residuals",
    "residuals_by_speed",
    "stretch",
    "rays",
    "combinations",
)
_NONE = pl.DataFrame(schema={"duration_s": pl.Float64, "distance_m": pl.Float64})


def read_findings(store: Frames) -> Findings:
    """Read everything that the page tells, in as many queries as it has tables.

    Raises:
        StoreError: the store cannot be read.
    """
    problems = store.frame("problems")
    spans = {row["vehicle"]: row for row in store.frame("measured_range").iter_rows(named=True)}
    found = {query: _by_vehicle(_query(store, query)) for query in _OF_A_VEHICLE}
    used = [_by_vehicle(store.frame(relation)) for relation in Use._fields]
    teeth = store.frame("suggested_teeth").sort("gear").to_dicts()
    losses = _by_vehicle(store.frame("gear_losses").sort("gear", nulls_last=True))
    vehicles = []
    for row in store.frame("vehicles").iter_rows(named=True):
        own = {query: of_vehicle(row["vehicle"]) for query, of_vehicle in found.items()}
        rides = own.pop("ridden")
        vehicles.append(
            VehicleFindings(
                row=row,
                rides=rides,
                use=Use(*(of_vehicle(row["vehicle"]) for of_vehicle in used)),
                span=spans.get(row["vehicle"]),
                teeth=tuple(one for one in teeth if one["vehicle"] == row["vehicle"]),
                losses=losses(row["vehicle"]),
                problems=concerning(problems, row["vehicle"], rides["path"]),
                **own,
            )
        )
    plan = store.frame("test_ride_plan")
    fleet = Fleet(*(store.frame(relation) for relation in Fleet._fields))
    verdicts, pooled = _query(store, "verdicts"), _query(store, "pooled")
    claimed = tuple(store.frame("pooled_claims")["verdict"])
    return Findings(tuple(vehicles), verdicts, claimed, pooled, plan, fleet, problems)


def _query(store: Frames, name: str) -> pl.DataFrame:
    """Return the result of a query of sql/report; a number that is none becomes null."""
    query = data_dir("sql").joinpath("report", f"{name}.sql").read_text("utf-8")
    return store.frame(query).with_columns(cs.float().fill_nan(None))


def _by_vehicle(frame: pl.DataFrame) -> Callable[[str], pl.DataFrame]:
    parts = frame.partition_by("vehicle", as_dict=True)
    return lambda vehicle: parts.get((vehicle,), frame.clear())
