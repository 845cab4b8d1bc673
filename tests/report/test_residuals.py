"""Residuals: the queries against figures made by hand, and what is said of them."""

from __future__ import annotations

from math import exp, log
from typing import TYPE_CHECKING

import polars as pl
import pytest

from ridelab.report.digits import Printer
from ridelab.report.findings import read_findings
from ridelab.report.residuals import (
    gear_sentence,
    residuals_by_gear,
    residuals_by_speed,
    speed_sentence,
)
from tests.report import fabricated

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.report.findings import VehicleFindings

METRIC = Printer("metric")


def ridden(
    gear_m: dict[int, float], samples: Sequence[tuple[int, float, float, bool]]
) -> VehicleFindings:
    """Return a vehicle with these gears and samples: gear, residual, cadence, whether coupled."""
    store = fabricated.FabricatedStore()
    fabricated.vehicle(store, "tern")
    rollout = fabricated.ROLLOUTS["tern"]
    fabricated.measured(store, "tern", {gear: metres / rollout for gear, metres in gear_m.items()})
    ride = fabricated.ride(store, "tern", 1)
    store.run("delete from recorded_samples")
    store.run("delete from engaged_samples")
    count = len(samples)
    recorded = {"ride": [ride] * count, "n": range(count), "t_s": [float(n) for n in range(count)]}
    cadence = {"cadence_rpm": [sample[2] for sample in samples]}
    store.add_frame("recorded_samples", pl.DataFrame(recorded | cadence))
    engaged = {
        "ride": [ride] * count,
        "n": range(count),
        "gear": [sample[0] for sample in samples],
        "development_m": [gear_m.get(gear, 1.0) * exp(off) for gear, off, _, _ in samples],
        "coupled": [sample[3] for sample in samples],
    }
    store.add_frame("engaged_samples", pl.DataFrame(engaged))
    (vehicle,) = read_findings(store).vehicles
    return vehicle


def test_residuals_are_quantiles_of_the_logarithm_by_gear() -> None:
    """-1, 0, 1, 2 and 3 %: quartiles 0 and 2 %, median 1 %; by linear interpolation (type 7)."""
    found = ridden({1: 2.0, 2: 3.0}, [(1, off / 100, 60, True) for off in range(-1, 4)]).residuals
    assert found["gear"].to_list() == [1]
    row = found.row(0, named=True)
    assert [row[one] for one in ("q05", "q25", "q50", "q75", "q95")] == pytest.approx(
        [-0.008, 0.0, 0.01, 0.02, 0.028]
    )
    assert row["samples"] == 5


def test_only_driving_in_a_measured_gear_has_a_residual() -> None:
    """Riding without drive, and gears without a measurement, have none."""
    samples = [(1, 0.0, 60, True), (1, 0.3, 60, False), (3, 0.0, 60, True)]
    found = ridden({1: 2.0, 2: 3.0}, samples).residuals
    assert found.select("gear", "samples").rows() == [(1, 1)]


def test_a_gear_knows_how_far_its_neighbours_are() -> None:
    """Among the measured gears with samples, in the logarithm."""
    samples = [(gear, 0.0, 60, True) for gear in (1, 2, 4)]
    found = ridden({1: 2.0, 2: 2.5, 4: 4.0}, samples).residuals
    assert found["step_above"].to_list() == [
        pytest.approx(log(1.25)), pytest.approx(log(1.6)), None,
    ]  # fmt: skip
    assert found["step_below"].to_list() == [
        None, pytest.approx(log(1.25)), pytest.approx(log(1.6)),
    ]  # fmt: skip


def test_speed_is_development_times_cadence() -> None:
    """3 m at 100 rpm is 5 m/s; bins are half a metre a second wide and need 20 samples."""
    samples = [(2, 0.0001, 100, True)] * 20 + [(2, 0.0, 60, True)] * 19
    found = ridden({1: 2.0, 2: 3.0}, samples).residuals_by_speed
    assert found.select("from_mps", "to_mps", "samples").rows() == [(5.0, 5.5, 20)]


def test_the_longer_tail_is_told() -> None:
    """Nine tenths between 0 and +10 %: soft pedalling leaks upwards."""
    up = [(1, 0.0, 60, True)] * 80 + [(1, 0.1, 60, True)] * 20
    down = [(gear, -off, cadence, driven) for gear, off, cadence, driven in up]
    assert "longer tail upwards" in gear_sentence(ridden({1: 2.0}, up).residuals)
    assert "longer tail downwards" in gear_sentence(ridden({1: 2.0}, down).residuals)
    both = gear_sentence(ridden({1: 2.0}, up + down).residuals)
    assert "longer tail" not in both
    assert "apart" not in both  # one gear has no neighbour


def test_the_nearest_gears_are_told() -> None:
    """Of 2, 2.5 and 2.75 m the last two, by 10 %."""
    samples = [(gear, 0.0, 60, True) for gear in (1, 2, 3)]
    said = gear_sentence(ridden({1: 2.0, 2: 2.5, 3: 2.75}, samples).residuals)
    assert "nearest to each other are 10\u00a0% apart" in said


def test_a_picture_that_cuts_bars_off_says_so() -> None:
    """One gear of ten with a far tail does not squeeze the others, and is cut off."""
    tame = [(gear, off, 60, True) for gear in range(1, 10) for off in (-0.001, 0.001)]
    gears = {gear: 2.0 * 1.1**gear for gear in range(1, 11)}
    quiet = ridden(gears, tame).residuals
    assert "edge" not in gear_sentence(quiet)
    wild = ridden(gears, [*tame, (10, 0.5, 60, True), (10, -0.001, 60, True)]).residuals
    assert "edge" in gear_sentence(wild)
    scale = residuals_by_gear(wild).to_dict()["layer"][1]["encoding"]["y"]["scale"]
    assert scale["domain"] == pytest.approx([-1.15, 1.15])


def test_a_trend_with_speed_is_told() -> None:
    """A fifth of a percent more at 10 m/s than at 2: a tyre may grow so much, but not by 2 %."""

    def at(off: float) -> VehicleFindings:
        slow = [(1, 0.0, 60, True)] * 30
        middle = [(1, off / 2, 180, True)] * 30
        return ridden({1: 2.0}, slow + middle + [(1, off, 300, True)] * 30)

    def said(off: float) -> str:
        return speed_sentence(at(off).residuals_by_speed, METRIC).replace("\u00a0", " ")

    assert (
        "The middle moves by +0.20 % from the one to the other, no more than a tyre may grow."
        in said(0.002)
    )
    assert "by +2.0 % from the one to the other, more than a tyre may grow." in said(0.02)
    assert "does not move" in said(0.0)
    assert "tyre" not in said(-0.005)


def test_the_speed_at_which_samples_lie_furthest_off_is_told() -> None:
    """Slow riding 6 % below the gear, as where a sensor or satellite loses slow speeds."""
    slow, fast = [(1, -0.06, 60, True)] * 30, [(1, 0.0, 300, True)] * 300
    said = speed_sentence(ridden({1: 2.0}, slow + fast).residuals_by_speed, METRIC)
    assert "Around 6 km/h it lies −5.8 % off." in said.replace("\u00a0", " ")
    level = speed_sentence(
        ridden({1: 2.0}, fast + [(1, 0.0, 60, True)] * 30).residuals_by_speed, METRIC
    )
    assert "Around" not in level


def test_widening_at_low_speed_is_told() -> None:
    """Quartiles 2 % apart below, 0.2 % above; speeds in the units asked for."""
    slow = [(1, off, 60, True) for off in (-0.02, -0.01, 0.01, 0.02)] * 10
    fast = [(1, off, 300, True) for off in (-0.002, -0.001, 0.001, 0.002)] * 10
    found = ridden({1: 2.0}, slow + fast).residuals_by_speed
    wide = [
        float((row["q75"] - row["q25"]) * 100)
        for row in (found.row(0, named=True), found.row(-1, named=True))
    ]
    said = speed_sentence(found, Printer("imperial")).replace("\u00a0", " ")
    assert wide[0] > 5 * wide[1]
    assert f"{wide[0]:.2g} % wide below" in said
    assert "mph" in said


def test_one_speed_alone_shows_no_trend() -> None:
    """There is nothing to compare it with, and no error."""
    found = ridden({1: 2.0}, [(1, 0.0, 60, True)] * 30).residuals_by_speed
    assert "one speed" in speed_sentence(found, METRIC)
    assert residuals_by_speed(found, METRIC).to_dict()["height"] > 0
