"""Tyre designations are read, and roll as far as the standard's diameters say."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridelab.drivetrain.wheel import Tyre, accepted_rollout_m
from ridelab.errors import NotAccepted, UsageError


@pytest.mark.parametrize("bead_seat_mm", [622, 584, 559, 406, 349, 305])
def test_bead_seats_of_the_standard(bead_seat_mm: int) -> None:
    """Bead seat diameters of ISO 5775-1 (values from memory) are read as they stand."""
    tyre = Tyre.parse(f"47-{bead_seat_mm}")
    assert (tyre.section_mm, tyre.bead_seat_mm) == (47, bead_seat_mm)
    assert tyre.nominal_rollout_m == pytest.approx(math.pi * (bead_seat_mm + 94) / 1000)


@pytest.mark.parametrize(
    ("designation", "trade_rollout_m"),
    [("23-622", 2.096), ("25-622", 2.105), ("28-622", 2.136), ("32-622", 2.155)],
)
def test_nominal_rollout_is_near_the_trades(designation: str, trade_rollout_m: float) -> None:
    """Within 0.5 % of the rollouts that bicycle computers are set to.

    Common practice, no source; values from memory.
    """
    assert Tyre.parse(designation).nominal_rollout_m == pytest.approx(trade_rollout_m, rel=0.005)


@pytest.mark.parametrize(
    ("designation", "trade_rollout_m"),
    [("23-622", 2.096), ("25-622", 2.105), ("28-622", 2.136), ("32-622", 2.155)],
)
@pytest.mark.parametrize("loss", [0.0, 0.01, 0.03])
def test_a_loaded_tyre_rolls_within_the_span_of_a_nominal_rollout(
    designation: str, trade_rollout_m: float, loss: float
) -> None:
    """The trade's rollouts (as above), unloaded, and 1 to 3 % less, loaded: both from memory.

    A measured rollout allows none of that: 1 % less is not the same wheel.
    """
    nominal_m = Tyre.parse(designation).nominal_rollout_m
    low_m, high_m = accepted_rollout_m(nominal_m, is_measured=False)
    assert low_m < trade_rollout_m * (1 - loss) < high_m
    low_m, high_m = accepted_rollout_m(trade_rollout_m, is_measured=True)
    assert low_m < trade_rollout_m < high_m
    assert not low_m < trade_rollout_m * 0.99 < high_m


@given(section=st.integers(10, 120), bead_seat=st.integers(100, 700))
def test_designation_round_trip(section: int, bead_seat: int) -> None:
    """Every designation within bounds is printed as it was read."""
    assert Tyre.parse(f"{section}-{bead_seat}").designation == f"{section}-{bead_seat}"


@pytest.mark.parametrize(
    "written", ["47-622", " 47 - 622", "47–622", "47x622", "47 × 622", "47X622"]
)
def test_dash_and_spaces_of_a_designation_are_free(written: str) -> None:
    """However width and bead seat diameter are held together, it is one tyre."""
    assert Tyre.parse(written) == Tyre(47, 622)


@pytest.mark.parametrize(
    "designation",
    ["622", "", "9-622", "47-99", "999-999", "4.7-622", "26 x 175", "26 × 9.9", "4" * 50],
)
def test_other_forms_are_refused_with_an_example(designation: str) -> None:
    """Whatever is no designation is quoted, beside one that would be taken."""
    with pytest.raises(NotAccepted, match="'47-622'") as refusal:
        Tyre.parse(designation)
    assert isinstance(refusal.value, UsageError)
    assert repr(designation[:40]) in str(refusal.value)


def test_a_designation_turned_round_is_set_right() -> None:
    """Bead seat first is a slip that can be named."""
    with pytest.raises(NotAccepted, match="did you mean '47-622'"):
        Tyre.parse("622-47")


def test_a_bead_seat_that_no_rim_has_names_the_nearest() -> None:
    """47-662 is taken as it stands, and may be 47-642; 622 is in the standard's list."""
    assert Tyre.parse("47-662").nearest_listed_mm == 642
    assert Tyre.parse("47-622").nearest_listed_mm is None


def test_a_loaded_wheel_rolls_one_to_three_percent_less() -> None:
    """50-406 by hand: π × 0.506 m = 1.5896 m, of that 97 and 99 %.

    Common practice, no source. It lies within the span that measuring allows a nominal rollout.
    """
    tyre = Tyre.parse("50-406")
    assert tyre.loaded_rollout_m == pytest.approx((1.5420, 1.5738), abs=1e-4)
    low_m, high_m = accepted_rollout_m(tyre.nominal_rollout_m, is_measured=False)
    assert low_m < tyre.loaded_rollout_m[0] < tyre.loaded_rollout_m[1] < high_m
