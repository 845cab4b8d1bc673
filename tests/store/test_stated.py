"""What the campaign states is stored as stated, and follows it when it changes."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import polars as pl
import pytest

from ridelab.campaign import Campaign, Claim, Vehicle
from ridelab.drivetrain.stages import Drivetrain, from_ratios, stepless
from ridelab.drivetrain.wheel import Tyre
from tests.store.recorded import a_file, a_ride, measured

if TYPE_CHECKING:
    from ridelab.store import Store

RATIOS = (0.75, 1.0, 4 / 3)


@pytest.fixture
def campaign() -> Campaign:
    """Three vehicles, in an order that is not the alphabet's; two drivetrains, two claims."""
    vehicles = (
        Vehicle("otter", "trike", (), rollout_m=1.563, drivetrain="three", odometer_km=412.0),
        Vehicle("heron", "bicycle", (), tyre=Tyre(47, 622), drivetrain="stepless"),
        Vehicle("adder", "tandem", ()),
    )
    drivetrains = (
        Drivetrain("three", (from_ratios("hub", RATIOS),)),
        Drivetrain("stepless", (stepless("hub", 0.5, 1.9),)),
    )
    return Campaign(
        "spring",
        Path("/nowhere"),
        vehicles={one.name: one for one in vehicles},
        drivetrains={one.name: one for one in drivetrains},
        claims=(
            Claim("c1", "three", "range", 16 / 9, 0.01, "178 %", "data sheet"),
            Claim("c2", "three", "speed", 7.0, 0.02, "25 km/h", gear=3, at_cadence_rpm=90.0),
        ),
    )


def test_vehicles_come_in_the_order_of_the_campaign(store: Store, campaign: Campaign) -> None:
    """With the rollout that counts: measured, else nominal, else none."""
    store.put_campaign(campaign)
    shown = store.frame("vehicles")
    assert shown["vehicle"].to_list() == ["otter", "heron", "adder"]
    # pi × (622 + 2 × 47) mm, the rollout formula of the brief
    assert shown["stated_rollout_m"].to_list() == [1.563, pytest.approx(2.24938, abs=1e-5), None]
    assert shown["rollout_is_measured"].to_list() == [True, False, False]
    assert shown["effective_rollout_m"].null_count() == 3


def test_stepless_drivetrains_have_no_published_gears(store: Store, campaign: Campaign) -> None:
    """The others have one row a gear, with the step from the gear below."""
    store.put_campaign(campaign)
    gears = store.frame("published_gears")
    assert gears["drivetrain"].unique().to_list() == ["three"]
    assert gears["ratio"].to_list() == pytest.approx(RATIOS)
    assert gears["step"].to_list() == [None, pytest.approx(1 / 3), pytest.approx(1 / 3)]


def test_claims_keep_how_they_were_printed(store: Store, campaign: Campaign) -> None:
    """Numbers of gears and words for gears share one column of text."""
    store.put_claims(campaign)
    shown = store.frame("claims").sort("claim")
    assert shown["printed"].to_list() == ["178 %", "25 km/h"]
    assert shown["gear"].to_list() == [None, "3"]
    assert shown["vehicle"].null_count() == 2


def test_vehicle_taken_out_of_the_campaign_leaves_no_measurement(
    store: Store, campaign: Campaign
) -> None:
    """``vehicles`` and ``measured_gears`` speak of the same vehicles; the ride stays stored."""
    ride = a_ride()
    store.put_campaign(campaign)
    store.put_ride(ride, a_file(ride, "adder"))
    store.put_vehicle_gears(measured("adder", ride), "print")
    fewer = {name: one for name, one in campaign.vehicles.items() if name != "adder"}
    store.put_campaign(replace(campaign, vehicles=fewer))
    assert store.frame("vehicles")["vehicle"].to_list() == ["otter", "heron"]
    assert store.frame("measured_gears").is_empty()
    assert store.frame("problems").filter(pl.col("stage") == "measure").is_empty()
    assert len(store.frame("rides")) == 1


def test_verdicts_go_with_the_claims_they_were_about(store: Store, campaign: Campaign) -> None:
    """Changed claims are not shown beside old verdicts; unchanged ones keep theirs."""
    verdict = pl.DataFrame({"claim": ["c1"], "verdict": ["holds"], "reason": ["it does"]})
    store.put_campaign(campaign)
    store.put_claims(campaign)
    store._database.insert("verdicts", verdict)
    store.put_campaign(campaign)
    assert len(store.frame("verdicts")) == 1
    store.put_campaign(replace(campaign, claims=campaign.claims[:1]))
    assert store.frame("verdicts").is_empty()
    assert store.frame("claims").is_empty()


def test_wheels_of_a_vehicle_are_stored(store: Store, campaign: Campaign) -> None:
    """By hand: π × (406 + 100) mm, 97 and 99 % of it under load; 1.59 m set over π × 429 mm."""
    trike = Vehicle(
        "crane",
        "trike",
        (),
        tyre=Tyre(50, 406),
        other_tyres=(Tyre(40, 349), Tyre(40, 349)),
        sensor_wheel=Tyre(40, 349),
        set_rollout_m=1.59,
    )
    store.put_campaign(replace(campaign, vehicles={"crane": trike}))
    (row,) = store.frame("vehicles").to_dicts()
    assert row["nominal_rollout_m"] == pytest.approx(1.5896, abs=1e-4)
    assert row["loaded_rollout_low_m"] == pytest.approx(1.5419, abs=1e-4)
    assert row["loaded_rollout_high_m"] == pytest.approx(1.5737, abs=1e-4)
    assert (row["other_tyres"], row["sensor_wheel"]) == ("40-349, 40-349", "40-349")
    assert (row["set_rollout_m"], row["unit_factor"]) == (1.59, pytest.approx(1.1797, abs=1e-4))
