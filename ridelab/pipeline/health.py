"""The stage ``health``: whether ladders depart from what is published, or from themselves."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridelab.pipeline.context import PlannedStage, Progress

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ridelab.campaign import Campaign
    from ridelab.pipeline.context import Context
    from ridelab.store import Store

_SPELLS = """
    select recorded_rides.vehicle, recorded_rides.started_at, gear_spells.*
    from gear_spells inner join recorded_rides using (ride)
    where recorded_rides.vehicle is not null order by ride, start_s
"""


def health(context: Context, _settings: Mapping[str, object]) -> None:
    """Fill ``ladder_health``, anew each time: one vehicle more is a test more for all."""
    from ridelab.analysis.health import ladder_health
    from ridelab.analysis.printed import printed_within

    store, campaign = context.store, context.campaign
    context.listen(Progress("health", 0, 1))
    ladders = {name: campaign.ladder(name) for name in campaign.drivetrains}
    rows = ladder_health(
        store.frame("vehicles"),
        store.frame("measured_gears"),
        store.frame("measured_precision"),
        store.frame(_SPELLS),
        printed_within(campaign.drivetrains, ladders),
        {name: one.moves_chain for name, one in campaign.drivetrains.items()},
    )
    store.replace("ladder_health", rows)
    context.listen(Progress("health", 1, 1))


def plan_health(
    campaign: Campaign, _store: Store | None, _settings: Mapping[str, object]
) -> PlannedStage:
    """All vehicles are looked at, always: together they make the fleet that alarms count for."""
    return PlannedStage("health", "look for faults in the ladders", tuple(campaign.vehicles))
