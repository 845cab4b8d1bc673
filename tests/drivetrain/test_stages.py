"""Each kind of stage multiplies as its makers' arithmetic says."""

import math
from collections.abc import Callable
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridelab.drivetrain.stages import (
    Stage,
    epicyclic,
    from_range,
    from_ratios,
    from_teeth,
    stepless,
)
from ridelab.errors import NotAccepted


def ratios(stage: Stage) -> list[float]:
    """Return the ratios of a stage's choices."""
    return [choice.ratio for choice in stage.choices]


def test_ratios_are_kept_and_numbered() -> None:
    """Published ratios stay as published; their places are their labels."""
    stage = from_ratios("gearbox", [0.55, 1.04, 2.97])
    assert ratios(stage) == [0.55, 1.04, 2.97]
    assert [choice.label for choice in stage.choices] == ["1", "2", "3"]
    assert (stage.shifters, stage.ends) == (1, (0.55, 2.97))


def test_every_pair_of_wheels_is_a_choice() -> None:
    """A chain turns the driven wheel driver/driven times as fast: teeth pass one for one."""
    stage = from_teeth("chain", [22, 36], [34, 17])
    assert [choice.label for choice in stage.choices] == ["22/34", "22/17", "36/34", "36/17"]
    assert ratios(stage) == [22 / 34, 22 / 17, 36 / 34, 36 / 17]
    assert stage.teeth == ((22, 34), (22, 17), (36, 34), (36, 17))
    assert stage.shifters == 2


def test_a_fixed_chain_shifts_nothing() -> None:
    """One wheel on each side is one choice."""
    assert from_teeth("chain", [32], [24]).shifters == 0


@pytest.mark.parametrize(
    ("speeds", "range_factor", "step_percent", "change_at_80_rpm"),
    [(14, 5.26, 13.6, 11), (18, 6.36, 11.5, 9)],
)
def test_even_ladder_steps(
    speeds: int, range_factor: float, step_percent: float, change_at_80_rpm: int
) -> None:
    """14 gears over 526 % step by 13.6 %, 18 over 636 % by 11.5 %: 11 and 9 rpm at 80 rpm.

    Common practice, no source.
    """
    values = ratios(from_range("hub", speeds, range_factor))
    steps = [upper / lower - 1 for lower, upper in pairwise(values)]
    assert [round(100 * step, 1) for step in steps] == [step_percent] * (speeds - 1)
    assert {round(80 * step) for step in steps} == {change_at_80_rpm}
    assert values[-1] / values[0] == pytest.approx(range_factor)
    assert math.prod(values) == pytest.approx(1)


def test_lowest_ratio_fixes_an_even_ladder() -> None:
    """With the lowest ratio given, the highest is that times the range."""
    stage = from_range("hub", 14, 5.26, lowest_ratio=0.279)
    assert stage.ends == pytest.approx((0.279, 0.279 * 5.26))


def test_fourteen_speeds_as_published() -> None:
    """An even ladder from 0.279 over 526 % is the published one to within half a percent.

    The published ratios of a 14-speed hub gear, from memory.
    """
    published = [
        0.279, 0.316, 0.360, 0.409, 0.464, 0.528, 0.600, 0.682, 0.774, 0.881, 1.000, 1.135,
        1.292, 1.467,
    ]  # fmt: skip
    assert ratios(from_range("hub", 14, 5.26, 0.279)) == pytest.approx(published, rel=0.005)


def test_epicyclic_three_speed() -> None:
    """Ring 60, sun 20: 3/4, 1, 4/3, by Willis' equation (machine-design textbooks)."""
    assert ratios(epicyclic("hub", sun=20, ring=60)) == pytest.approx([3 / 4, 1, 4 / 3])


@given(sun=st.integers(10, 60), planet=st.integers(8, 60))
def test_epicyclic_obeys_willis(sun: int, planet: int) -> None:
    """(n_ring - n_carrier) / (n_sun - n_carrier) = -sun/ring in each of the two geared speeds."""
    ring = sun + 2 * planet
    down, locked, up = ratios(epicyclic("hub", sun, ring))
    # per turn of the input: the ring drives the carrier, then the carrier drives the ring
    for n_ring, n_carrier in ((1.0, down), (up, 1.0)):
        assert (n_ring - n_carrier) / (0 - n_carrier) == pytest.approx(-sun / ring)
    assert locked == 1


def test_stepless_has_ends_and_no_choices() -> None:
    """A stepless stage is shifted, but has no settings to count."""
    stage = stepless("hub", 0.5, 1.9)
    assert (stage.choices, stage.continuous, stage.ends) == ((), (0.5, 1.9), (0.5, 1.9))
    assert stage.shifters == 1


@pytest.mark.parametrize(
    ("build", "key"),
    [
        (lambda: from_ratios("s", []), "ratios"),
        (lambda: from_ratios("s", [1.0, 0.0]), "ratios"),
        (lambda: from_ratios("s", [-1.0]), "ratios"),
        (lambda: from_ratios("s", [math.inf]), "ratios"),
        (lambda: from_teeth("s", [], [24]), "driver"),
        (lambda: from_teeth("s", [32], []), "driven"),
        (lambda: from_teeth("s", [-32], [24]), "driver"),
        (lambda: from_teeth("s", [32], [24, 0]), "driven"),
        (lambda: from_teeth("s", [32], [24, 24]), "driven"),
        (lambda: from_range("s", 1, 5.26), "speeds"),
        (lambda: from_range("s", 10**9, 5.26), "speeds"),
        (lambda: from_range("s", 14, 1.0), "range"),
        (lambda: from_range("s", 14, math.nan), "range"),
        (lambda: from_range("s", 14, 5.26, lowest_ratio=0.0), "lowest"),
        (lambda: epicyclic("s", 0, 60), "sun"),
        (lambda: epicyclic("s", 60, 60), "ring"),
        (lambda: stepless("s", 1.9, 0.5), "continuous"),
        (lambda: stepless("s", 0.0, 1.9), "continuous"),
    ],
)
def test_impossible_stages_are_refused(build: Callable[[], Stage], key: str) -> None:
    """The refusal names the key at fault."""
    with pytest.raises(NotAccepted) as refusal:
        build()
    assert refusal.value.key == key


def test_printed_digits_leave_ratios_open() -> None:
    """0.55 to a hundredth is 0.9 % either way; the digits of a range move its ends apart."""
    box = from_ratios("box", [0.5, 2.0], 0.005)
    assert box.rounding == ((0.01, 0.0), (0.0, 0.0025))
    assert from_ratios("box", [0.5, 2.0]).rounding == ()
    hub = from_range("hub", 3, 5.0, half_digits=(0.05, 0.0))
    assert list(hub.rounding) == [pytest.approx((-0.005, 0.0, 0.005))]
    fixed = from_range("hub", 3, 5.0, 0.25, (0.05, 0.0005))
    wider, higher = fixed.rounding
    assert wider == pytest.approx((0.0, 0.005, 0.01))
    assert higher == (0.002, 0.002, 0.002)
    assert stepless("hub", 0.5, 2.0, 0.05).rounding == ((0.1, 0.0), (0.0, 0.025))
