"""The stages of a shop's pipeline, on simulated rides with a fault and without."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

from ridelab.pipeline import load as load_pipeline
from ridelab.simulate import simulate_ride
from tests.simulate.rides import hub_ride

if TYPE_CHECKING:
    from tests.pipeline.conftest import Bench

STAGES = ("gear_spells", "health", "sensor_health", "service")
QUICK = """
[[stages]]
run = "read"
[[stages]]
run = "measure"
[[stages]]
query = "ridden_gears"
[[stages]]
query = "gear_spells"
[[stages]]
run = "health"
[[stages]]
query = "sensor_health"
[[stages]]
query = "service"
each_run = true
"""


def test_pipeline_fleet_has_these_stages_after_what_they_read() -> None:
    """Spells before the health of ladders, all after measuring."""
    steps = [step.name for step in load_pipeline("fleet").steps]
    assert [name for name in steps if name in STAGES] == list(STAGES)
    assert max(map(steps.index, ("measure", "ridden_gears"))) < steps.index(STAGES[0])


def test_sound_vehicles_are_told_sound(bench: Bench) -> None:
    """One with a published ladder; the other is tested as far as one ride goes."""
    assert bench.run(QUICK).failed == ()
    found = dict(bench.frame("select vehicle, kind from ladder_health").iter_rows())
    assert found["heron"] == "sound"
    fleet = {row["vehicle"]: row for row in bench.frame("fleet").iter_rows(named=True)}
    assert (fleet["heron"]["rides"], fleet["otter"]["rides"]) == (2, 1)
    assert fleet["heron"]["gears_published"] == 14
    assert (fleet["heron"]["health"], fleet["heron"]["rollout_state"]) == ("sound", "as stated")
    assert fleet["otter"]["gears_published"] is None
    assert fleet["heron"]["moving_s"] > 600
    spells = bench.frame("gear_spells")
    assert spells["ride"].n_unique() == 3
    assert spells["seconds"].min() >= 10  # type: ignore[operator]


def test_gear_that_is_built_otherwise_is_named(bench: Bench) -> None:
    """By its sheet, gear 8 of the hub is 4 % lower than it is built."""
    hub = [0.279 * 5.26 ** (n / 13) for n in range(14)]
    hub[7] /= 1.04
    printed = ", ".join(f"{ratio:.5f}" for ratio in hub)
    bench.edit("speeds = 14, range = 5.26, lowest = 0.279", f"ratios = [{printed}]")
    for seed in (11, 12, 13):
        day = datetime(2031, 6, seed, 8, tzinfo=UTC)
        content = simulate_ride(hub_ride(duration_s=1200), seed).fit_content(day)
        bench.put(f"rides/heron/more{seed}.fit", content)
    bench.run(QUICK)
    rows = bench.frame("ladder_health").filter(vehicle="heron").to_dicts()
    assert [(row["kind"], row["gear"]) for row in rows] == [("gear off", 8)]
    assert 0.03 < rows[0]["size"] < 0.05
    assert "whether this hub or gearbox is the one described" in rows[0]["finding"]
