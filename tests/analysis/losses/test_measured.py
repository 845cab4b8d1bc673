"""Losses as measured beside those that were ridden, and what is said of the meters."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from ridelab.analysis.losses import GEAR_LOSS_SCHEMA, GearLosses, measure_losses, spells_of
from ridelab.campaign.power import Meters
from tests.analysis.losses.made import LOSSES, USUAL, Pair, samples

EXACT = Meters(None, 0.005, 0.005, is_assumed=False)
MEAN = sum(LOSSES) / len(LOSSES)


def measured(
    pair: Pair = USUAL,
    meters: Meters = EXACT,
    rides: int = 3,
    seed: int = 0,
    losses: tuple[float, ...] = LOSSES,
) -> GearLosses:
    """What some rides under two meters come to."""
    made = {f"{one}": spells_of(samples(pair, losses, 100 * seed + one)) for one in range(rides)}
    return measure_losses(made, meters)


def rows(found: GearLosses) -> dict[int | None, dict[str, Any]]:
    """Its rows, by gear."""
    return {row["gear"]: row for row in found.rows.to_dicts()}


def test_every_gear_and_their_mean_are_told() -> None:
    """Within their intervals of what is lost in truth."""
    found = measured()
    assert found.rows.schema == GEAR_LOSS_SCHEMA
    told = rows(found)
    assert list(told) == [1, 2, 3, 4, 5, None]
    for gear, loss in (*enumerate(LOSSES, 1), (None, MEAN)):
        assert told[gear]["loss_low"] <= loss <= told[gear]["loss_high"]
        assert told[gear]["loss"] == pytest.approx(loss, abs=0.01)
    assert told[1]["rides"] == 3
    assert told[1]["spells"] == 6
    assert told[1]["wheel_w"] / told[1]["crank_w"] == pytest.approx(1 - told[1]["loss"], abs=0.005)


def test_a_bias_of_the_meters_shifts_losses_and_not_how_gears_compare() -> None:
    """3 % more at the wheel is 3 % less lost, in every gear alike."""
    straight, biased = (
        rows(measured(Pair(bias=bias, drift=0.0), Meters(None))) for bias in (0.0, 0.03)
    )
    for gear in range(1, 6):
        assert biased[gear]["loss"] == pytest.approx(straight[gear]["loss"] - 0.03, abs=0.004)
        assert biased[gear]["against_mean"] == pytest.approx(
            straight[gear]["against_mean"], abs=0.001
        )
    assert straight[3]["against_mean_high"] < 0 < straight[1]["against_mean_low"]
    assert biased[1]["against_mean_low"] > 0


def test_intervals_hold_the_truth() -> None:
    """Differences in 95 % of 60 runs of 5 gears (90 % at least: binomial, gears not independent),
    losses in all, as the meters err by less than is stated.
    """  # noqa: D205 - the first sentence is that long
    differences = absolute = 0
    for seed in range(60):
        told = rows(measured(seed=seed + 1, rides=2))
        for gear, loss in enumerate(LOSSES, 1):
            beyond = 1 - (1 - loss) / np.exp(np.log(1 - np.array(LOSSES)).mean())
            low, high = (told[gear][f"against_mean_{end}"] for end in ("low", "high"))
            differences += low <= beyond <= high
            absolute += told[gear]["loss_low"] <= loss <= told[gear]["loss_high"]
    assert differences >= 0.9 * 300
    assert absolute >= 0.97 * 300


def test_accuracy_widens_losses_alone() -> None:
    """By all that both meters may be off; a difference between gears is as sharp as before."""
    sharp, blunt = rows(measured(meters=EXACT)), rows(measured(meters=Meters(None)))
    for gear in (1, 3):
        assert blunt[gear]["loss_high"] - sharp[gear]["loss_high"] == pytest.approx(0.03, abs=0.004)
        for name in ("against_mean", "against_mean_low", "against_mean_high"):
            assert blunt[gear][name] == pytest.approx(sharp[gear][name])


def test_meters_less_exact_than_the_loss_are_warned_of() -> None:
    """A loss of 3 % between meters of 2 % each cannot be told."""
    found = measured(Pair(drift=0.0), Meters(None), losses=(0.03, 0.02, 0.04))
    [warning] = found.warnings
    assert "taken to be exact to ±2 % at the crank and ±2 % at the wheel" in warning
    assert "only how gears compare" in warning
    assert all(row["loss_low"] == 0 for row in rows(found).values())


def test_exact_meters_are_spoken_of_as_well() -> None:
    """As a note, with what was stated."""
    found = measured()
    assert found.warnings == ()
    assert "stated to be exact to ±0.5 % at the crank" in found.notes[0]


def test_more_power_at_the_wheel_than_at_the_crank_is_never_a_gain() -> None:
    """Beyond what accuracy and scatter allow the meters disagree; how gears compare is left."""
    found = measured(Pair(bias=0.15))
    assert "the meters disagree" in found.warnings[0]
    for row in rows(found).values():
        assert (row["loss"], row["loss_low"], row["loss_high"]) == (None, None, None)
    assert rows(found)[1]["against_mean"] > 0
    within = rows(measured(Pair(bias=0.08), Meters(None)))
    assert min(row["loss"] for row in within.values()) == 0


def test_too_little_riding_is_told() -> None:
    """Not an empty table alone."""
    short = measure_losses({"a": spells_of(samples(rounds=1).head(60))}, EXACT)
    assert short.rows.is_empty()
    assert "too little steady pedalling under both" in short.notes[0]
    assert measure_losses({}, EXACT).rows.is_empty()


def test_lags_single_rides_and_silent_meters_are_told() -> None:
    """What was done to the recordings, and what was not."""
    found = measured(Pair(lag_s=2), rides=1)
    said = " ".join(found.notes)
    assert "trails the crank's by 2 s in 1 of 1 rides" in said
    assert "from one ride" in said


def test_stepless_has_one_loss() -> None:
    """Under no gear."""
    made = {str(one): spells_of(samples(seed=one), stepless=True) for one in range(2)}
    told = rows(measure_losses(made, EXACT))
    assert list(told) == [None]
    assert told[None]["against_mean"] is None
    assert told[None]["loss"] == pytest.approx(MEAN, abs=0.012)
