"""The stages of the package, by the name that a pipeline file calls them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from ridelab.pipeline.context import PlannedStage, Progress
from ridelab.pipeline.health import health, plan_health
from ridelab.pipeline.losing import losses, plan_losses
from ridelab.pipeline.measuring import measure, plan_measuring, plan_verdicts, verdicts
from ridelab.pipeline.reading import plan_reading, read
from ridelab.pipeline.replaying import REPLAY_SETTINGS, plan_replays, replays
from ridelab.store import own_relations

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Mapping

    from ridelab.campaign import Campaign
    from ridelab.pipeline.context import Context
    from ridelab.report.page import First
    from ridelab.store import Store

    Settings = Mapping[str, object]


@dataclass(frozen=True)
class Stage:
    """One stage: what it does, what it would do, the relations it fills, the settings it knows.

    ``reads``: where it may rest while nothing changes, the relations by which that is told: those
    it fills, and what it reads that does not follow from rides, campaign and measuring alone.
    """

    run: Callable[[Context, Settings], None]
    plan: Callable[[Campaign, Store | None, Settings], PlannedStage]
    fills: frozenset[str] = frozenset()
    settings: frozenset[str] = frozenset()
    reads: frozenset[str] = frozenset()


def report(context: Context, _settings: Settings) -> None:
    """Write the report of what the store holds."""
    from ridelab.report import write_report

    context.listen(Progress("report", 0, 1))
    context.store.lay()
    campaign = context.campaign
    first = first_part(context.outcome.seconds)
    page = write_report(context.store, context.out_dir, campaign.name, campaign.units, first)
    context.outcome = replace(context.outcome, report=page)
    context.listen(Progress("report", 1, 1, str(page)))


def first_part(ran: Collection[str]) -> First | None:
    """Return what the page begins with, by the stages that ran: what was asked for."""
    if "service" in ran:
        return "fleet"
    if "ridden_gears" in ran:
        return "use"
    return "claims" if "verdicts" in ran else None


def plan_report(_campaign: Campaign, _store: Store | None, _settings: Settings) -> PlannedStage:
    """The report is written."""
    return PlannedStage("report", "write the report", ("report",))


_READ = (
    "files", "gear_changes", "moments", "pauses", "recorded_rides", "recorded_samples",
    "ride_profiles", "unassigned_rides",
)  # fmt: skip
_MEASURED = (
    "engaged_samples", "fitted_ladders", "inferences", "inferred_rides", "inferred_vehicles",
    "lag_curves", "measured_covariance", "measured_gears", "measured_precision", "measured_range",
    "measured_steps", "ride_statistics", "suggested_teeth",
)  # fmt: skip
_REPLAYED = ("replay_differences", "replayed_gear_use", "replayed_vehicles", "replays")
_LOSSES, _HEALTH = frozenset(("gear_losses",)), frozenset(("ladder_health",))
_JUDGED = frozenset(("claims", "pooled_claims", "test_ride_plan", "verdicts"))
#: What every run changes, and no page shows.
_OF_TIME = frozenset(("reading_times", "run_stages", "runs"))

STAGES = {
    "read": Stage(read, plan_reading, frozenset(_READ)),
    "measure": Stage(measure, plan_measuring, frozenset(_MEASURED)),
    "losses": Stage(losses, plan_losses, _LOSSES, reads=_LOSSES),
    "replay": Stage(replays, plan_replays, frozenset(_REPLAYED), REPLAY_SETTINGS),
    "health": Stage(health, plan_health, _HEALTH, reads=_HEALTH | {"gear_spells"}),
    "verdicts": Stage(verdicts, plan_verdicts, _JUDGED, reads=_JUDGED | _LOSSES),
    "report": Stage(report, plan_report, reads=own_relations() - _OF_TIME),
}
