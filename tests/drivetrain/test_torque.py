"""Torque at the input of each stage: levers, ratios, power, limits, and what is said of them."""

from __future__ import annotations

import math
from itertools import product

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridelab.drivetrain.stages import Drivetrain, Stage, from_ratios, from_teeth, stepless
from ridelab.drivetrain.torque import (
    BELOW,
    TORQUE_SCHEMA,
    Motor,
    Rider,
    assumptions,
    cautions,
    torque_table,
    worst_cases,
)

EIGHTY_KG = Rider(80.0, 0.170)
GEARBOX = from_ratios("gearbox", [0.5, 1.0, 2.0])
CHAIN = from_teeth("chain", [30], [36])
HUB = from_ratios("hub", [0.6, 1.0, 1.6])


def chain_of(*stages: Stage, **limits: tuple[tuple[str, float], ...]) -> Drivetrain:
    """Return a drivetrain of these stages."""
    return Drivetrain("d", stages, **limits)  # type: ignore[arg-type]


def torques(table: pl.DataFrame, stage: str) -> dict[str | None, float]:
    """Return the input torque of a stage by what is in front of it."""
    rows = table.filter(pl.col("stage") == stage)
    return dict(rows.select("in_front", "input_torque_nm").iter_rows())


def test_weight_on_a_level_crank() -> None:
    """Free body, by hand: 80 kg × 9.80665 m/s² = 784.5 N on an arm of 0.170 m are 133.4 N·m.

    80 kg and 170 mm: common practice, no source.
    """
    assert Rider() == EIGHTY_KG
    assert EIGHTY_KG.torque_nm == pytest.approx(133.37, abs=0.01)


def test_chain_pull_balances_both_wheels() -> None:
    """Free bodies of chainring and sprocket, by hand, links of 12.7 mm (ISO 9633, from memory).

    A chainring of 38 teeth has a pitch radius of about 38 × 12.7 / 2π = 76.81 mm, so 133.37 N·m
    pull 1736 N; on 16 teeth, 32.34 mm, that pull makes 56.16 N·m.
    """
    pull_n = 133.37 / (38 * 0.0127 / (2 * math.pi))
    assert pull_n == pytest.approx(1736, abs=1)
    table = torque_table(chain_of(from_teeth("chain", [38], [16]), HUB), EIGHTY_KG)
    assert pull_n * 16 * 0.0127 / (2 * math.pi) == pytest.approx(56.16, abs=0.01)
    assert torques(table, "hub") == {None: pytest.approx(56.16, abs=0.01)}


def test_a_reduction_in_front_multiplies_torque() -> None:
    """A ratio of 1/2 doubles the torque, one of 2 halves it; 30 on 36 teeth make it 1.2 times."""
    table = torque_table(chain_of(GEARBOX, CHAIN, HUB), EIGHTY_KG)
    crank = EIGHTY_KG.torque_nm
    assert table.schema == TORQUE_SCHEMA
    assert torques(table, "gearbox") == {None: pytest.approx(crank)}
    assert torques(table, "chain") == pytest.approx(
        {"gearbox 1": 2 * crank, "gearbox 2": crank, "gearbox 3": crank / 2}
    )
    assert torques(table, "hub") == pytest.approx(
        {"gearbox 1": 2.4 * crank, "gearbox 2": 1.2 * crank, "gearbox 3": 0.6 * crank}
    )
    assert table["combinations"].to_list() == [9, 3, 3, 3, 3, 3, 3]


RATIOS = st.lists(st.floats(0.2, 5.0), min_size=1, max_size=4)


@given(
    stages=st.lists(RATIOS, min_size=1, max_size=4),
    mass_kg=st.floats(30, 200),
    crank_m=st.floats(0.1, 0.2),
    motor_nm=st.floats(0, 200),
    place=st.integers(0, 3),
)
def test_power_is_the_same_through_every_stage(
    stages: list[list[float]], mass_kg: float, crank_m: float, motor_nm: float, place: int
) -> None:
    """Torque × speed at any stage is what rider and motor put in up to there.

    With the crank at 1 rad/s a stage's input turns at its primary ratio. Every product of the
    ratios in front is there once.
    """
    chain = chain_of(*(from_ratios(f"s{n}", ratios) for n, ratios in enumerate(stages)))
    place = min(place, len(stages) - 1)
    rider = Rider(mass_kg, crank_m)
    table = torque_table(chain, rider, Motor(motor_nm, f"s{place}"))
    for number in range(len(stages)):
        rows = table.filter(pl.col("stage") == f"s{number}")
        settings = [math.prod(one) for one in product(*stages[:number])]
        assert sorted(rows["primary_ratio"]) == pytest.approx(sorted(settings))
        put_in = sorted(
            rider.torque_nm + (motor_nm * math.prod(one[:place]) if number >= place else 0.0)
            for one in product(*stages[:number])
        )
        power_w = sorted(rows["input_torque_nm"] * rows["primary_ratio"])
        assert power_w == pytest.approx(put_in)


def test_where_a_motor_drives() -> None:
    """At the crank it goes through all stages, at a stage from there on, at the wheel through none.

    By hand, with the gearbox at 1/2 and 60 N·m: 2 × (133.37 + 60), 2 × 133.37 + 60, 2 × 133.37.
    """
    chain = chain_of(from_ratios("gearbox", [0.5]), HUB)
    found = [
        torques(torque_table(chain, EIGHTY_KG, Motor(60.0, drives)), "hub")[None]
        for drives in ("crank", "hub", "wheel")
    ]
    assert found == pytest.approx([386.74, 326.74, 266.74], abs=0.02)


def test_a_stepless_stage_is_told_at_its_ends() -> None:
    """What is behind it sees its lowest and its highest ratio; combinations cannot be counted."""
    table = torque_table(chain_of(stepless("drum", 0.5, 2.0), HUB), EIGHTY_KG)
    crank = EIGHTY_KG.torque_nm
    assert torques(table, "hub") == pytest.approx(
        {"drum lowest": 2 * crank, "drum highest": crank / 2}
    )
    assert table.filter(pl.col("stage") == "drum")["combinations"].to_list() == [None]


def test_chainrings_are_named_by_their_teeth() -> None:
    """Settings in front carry teeth where there are any, else the stage and its setting."""
    table = torque_table(chain_of(from_teeth("chain", [24, 36], [24]), GEARBOX, HUB), EIGHTY_KG)
    assert set(torques(table, "gearbox")) == {"24/24", "36/24"}
    assert "36/24 · gearbox 3" in torques(table, "hub")


def test_a_limit_that_is_reached_is_cautioned() -> None:
    """The worst setting, its torque, the limit, and how many there are; metric or not.

    By hand: 133.37 N·m × 36/30 / 0.5 = 320.1 N·m; at gearbox 1 and 2 more than 150 N·m. In feet and
    pounds 1 lbf·ft = 1.355818 N·m (NIST SP 811).
    """
    chain = chain_of(GEARBOX, CHAIN, HUB, max_input_torque_nm=(("hub", 150.0), ("gearbox", 250.0)))
    table = torque_table(chain, EIGHTY_KG)
    (said,) = cautions(table)
    assert said == (
        "hub: 320 N·m at its input with gearbox 1 in front, stated limit 150 N·m; beyond in 2 of 3 "
        "settings in front: gearbox 1, gearbox 2 (6 of 9 combinations)"
    )
    assert "236 lbf·ft" in cautions(table, "imperial")[0]
    worst = {row["stage"]: row for row in worst_cases(table).to_dicts()}
    assert [worst[stage]["settings_beyond"] for stage in ("gearbox", "chain", "hub")] == [
        0,
        None,
        2,
    ]


def test_a_torque_at_its_limit_is_not_below_it() -> None:
    """Below means below: exactly the limit is cautioned, a hair more is not."""
    crank = EIGHTY_KG.torque_nm
    for limit, reached in ((crank, True), (crank * 1.001, False)):
        table = torque_table(chain_of(HUB, max_input_torque_nm=(("hub", limit),)), EIGHTY_KG)
        assert table["beyond"].to_list() == [reached]
        assert bool(cautions(table)) is reached


def test_a_least_ratio_in_front_is_a_limit_too() -> None:
    """38 on 20 teeth is exactly the least ratio of 1.9 and allowed; 36 on 20 is not."""
    chain = chain_of(from_teeth("chain", [36, 38], [20]), HUB, min_primary_ratio=(("hub", 1.9),))
    table = torque_table(chain, EIGHTY_KG).filter(pl.col("stage") == "hub")
    assert dict(table.select("in_front", "beyond").iter_rows()) == {"36/20": True, "38/20": False}
    (said,) = cautions(table)
    assert "ratio in front 1.8, stated least 1.9; beyond in 1 of 2 settings in front: 36/20" in said


def test_nothing_is_called_safe() -> None:
    """Below a limit, only that is said, with who decides; without a limit nothing is."""
    assert "by this estimate" in BELOW
    assert "qualified mechanic" in BELOW
    table = torque_table(chain_of(GEARBOX, HUB), EIGHTY_KG)
    assert table["beyond"].null_count() == len(table)
    assert cautions(table) == []


NO_STAGE = (
    "80 kg on one level crank of 170 mm, a motor's 40 N·m at the wheel, which passes through no "
    "stage"
)


@pytest.mark.parametrize(
    ("rider", "motor", "said"),
    [
        (Rider(), None, "80 kg on one level crank of 170 mm (rider and crank assumed)"),
        (Rider(72.5, 0.165, ()), None, "72.5 kg on one level crank of 165 mm"),
        (
            Rider(80, 0.17, ("crank",)),
            Motor(85, "crank"),
            "80 kg on one level crank of 170 mm (crank assumed), a motor's 85 N·m at the crank",
        ),
        (
            Rider(80, 0.17, ()),
            Motor(40, "wheel"),
            NO_STAGE,
        ),
        (
            Rider(80, 0.17, ()),
            Motor(40, "hub"),
            "80 kg on one level crank of 170 mm, a motor's 40 N·m into hub",
        ),
    ],
)
def test_what_a_torque_stands_on_is_said(rider: Rider, motor: Motor | None, said: str) -> None:
    """Mass, crank and motor, and which of them nobody stated."""
    assert assumptions(rider, motor) == said
