"""Verdicts on simulated vehicles that are not what is published, or are not recorded rightly."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest

from ridelab.campaign import load
from ridelab.pipeline import load as load_pipeline
from ridelab.pipeline import run
from ridelab.simulate import (
    Piece,
    Rider,
    Scenario,
    Sensors,
    Vehicle,
    build_course,
    from_ratios,
    simulate_ride,
)
from ridelab.store import Store
from tests.analysis.ridden import NINE

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

ROLLOUT_M = 1.563
MEASURED = f"rollout_m = {ROLLOUT_M}"
NOMINAL = 'tyre = "50-406"'  # π × 506 mm = 1.590 m, of which the true rollout is 1.7 % less
NINE_STAGES = f"""
  {{ name = "gearbox", ratios = {list(NINE)} }},
  {{ name = "chain", driver = [32], driven = [24] }},"""
FOURTEEN_STAGES = """
  { name = "chain", driver = [38], driven = [15] },
  { name = "hub", speeds = 14, range = 5.26, lowest = 0.279 },"""
FOURTEEN = [0.279 * 38 / 15 * 5.26 ** (n / 13) for n in range(14)]
STAGES = """
[[stages]]
run = "read"
[[stages]]
run = "measure"
[[stages]]
run = "verdicts"
"""


def claim(name: str, quantity: str, value: float, more: str = "", tolerance: float = 0.02) -> str:
    """One claim of the campaign file."""
    return (
        f'[[claims]]\nid = "{name}"\ndrivetrain = "published"\nquantity = "{quantity}"\n'
        f"value = {value}\ntolerance = {tolerance}\n{more}\n"
    )


def verdicts(
    folder: Path,
    built: Sequence[float],
    stages: str,
    claims: str,
    wheel: str = MEASURED,
    sensors: Sensors | None = None,
) -> dict[str, str]:
    """Ride every gear of a vehicle twice; return the verdict on each claim by its name.

    The wheel truly rolls ``ROLLOUT_M``; ``wheel`` is what the campaign states of it.
    """
    course = build_course((Piece(500), Piece(20000, sweep=True)), 4)
    vehicle = Vehicle(from_ratios(built), ROLLOUT_M)
    # A gear off the ladder is told from 60 s on.
    scenario = Scenario(Rider(sweep_s=45.0), vehicle, course, sensors or Sensors(), 1100)
    for day in (4, 5):
        ride = simulate_ride(scenario, day)
        ride.to_fit(folder / f"{day}.fit", datetime(2031, 5, day, 8, tzinfo=UTC))
    (folder / "quick.toml").write_text(STAGES, encoding="utf-8")
    (folder / "campaign.toml").write_text(
        f'[campaign]\nname = "Invented"\n[vehicles.heron]\nkind = "trike"\n{wheel}\n'
        f'drivetrain = "published"\nrides = ["*.fit"]\n'
        f"[drivetrains.published]\nstages = [{stages}\n]\n{claims}",
        encoding="utf-8",
    )
    campaign, path = load(folder / "campaign.toml"), folder / "ridelab.duckdb"
    run(load_pipeline(folder / "quick.toml"), campaign, path, folder / "report")
    with Store.open(path, read_only=True) as store:
        return dict(store.frame("verdicts").select("claim", "verdict").iter_rows())


def of_nine(driven: int, tolerance: float = 0.02) -> str:
    """Claims on three ratios, the range, and the speed in gear 9, with this sprocket."""
    ratios = [ratio * 32 / driven for ratio in NINE]
    speed_mps = ratios[-1] * ROLLOUT_M * 80 / 60
    return (
        claim("lowest", "ratio", ratios[0], 'gear = "lowest"', tolerance)
        + claim("fifth", "ratio", ratios[4], "gear = 5", tolerance)
        + claim("highest", "ratio", ratios[8], 'gear = "highest"', tolerance)
        + claim("speed", "speed", speed_mps, 'gear = "highest"\nat_cadence_rpm = 80', tolerance)
        + claim("range", "range", 2.97 / 0.55)
    )


def test_vehicle_as_published_bears_its_claims_out(tmp_path: Path) -> None:
    """The wheel measured, the unit set to it: every true claim holds at 2 %."""
    found = verdicts(tmp_path, [ratio * 32 / 24 for ratio in NINE], NINE_STAGES, of_nine(24))
    assert set(found.values()) == {"holds"}


@pytest.mark.parametrize("wheel", [MEASURED, NOMINAL])
def test_wrong_primary_ratio_does_not_hold(tmp_path: Path, wheel: str) -> None:
    """Published 32/24, built 32/22: no ratio and no speed is as published, but the range is."""
    built = [ratio * 32 / 22 for ratio in NINE]
    found = verdicts(tmp_path, built, NINE_STAGES, of_nine(24), wheel)
    assert found.pop("range") == "holds"
    assert "holds" not in found.values()


@pytest.mark.parametrize("wheel", [MEASURED, NOMINAL])
@pytest.mark.parametrize("set_to", [0.98, 1.02])
def test_unit_set_to_another_wheel_does_not_disprove_a_true_claim(
    tmp_path: Path, wheel: str, set_to: float
) -> None:
    """Two percent short or long, claims that are true to the last digit, 0.5 % of tolerance."""
    found = verdicts(
        tmp_path,
        [ratio * 32 / 24 for ratio in NINE],
        NINE_STAGES,
        of_nine(24, tolerance=0.005),
        wheel,
        Sensors(set_rollout_m=set_to * ROLLOUT_M),
    )
    assert "fails" not in found.values()


@pytest.mark.parametrize("step", [1.136, 1.2])
def test_hub_with_a_fifteenth_gear_fails_the_count(tmp_path: Path, step: float) -> None:
    """A gear above the highest of the published fourteen: no 14 gears, no 526 %."""
    built = [*FOURTEEN, FOURTEEN[-1] * step]
    claims = claim("gears", "gears", 14) + claim("range", "range", 5.26)
    found = verdicts(tmp_path, built, FOURTEEN_STAGES, claims)
    assert found["gears"] == "fails"
    assert found["range"] != "holds"
