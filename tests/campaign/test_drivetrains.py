"""Every kind of stage can be written down, and what cannot be is told by file and key."""

from collections.abc import Callable

import pytest

from ridelab.campaign import Campaign

from .conftest import Refused


def stages(*tables: str) -> str:
    """Return a campaign with one drivetrain d of these stage tables."""
    return f"[drivetrains.d]\nstages = [{', '.join(tables)}]\n"


@pytest.mark.parametrize(
    ("table", "ratios"),
    [
        ("{ ratios = [0.5, 1, 2.0] }", (0.5, 1, 2)),
        ("{ driver = [30, 60], driven = [20] }", (1.5, 3)),
        ("{ speeds = 3, range = 4 }", (0.5, 1, 2)),
        ("{ speeds = 3, range = '400 %', lowest = 0.3 }", (0.3, 0.6, 1.2)),
        # Willis' equation, machine-design textbooks
        ("{ epicyclic = { sun = 20, ring = 60 } }", (3 / 4, 1, 4 / 3)),
    ],
)
def test_stage_kinds(
    read: Callable[[str], Campaign], table: str, ratios: tuple[float, ...]
) -> None:
    """Each kind of stage makes the ladder its arithmetic says."""
    assert read(stages(table)).ladder("d").ratios == pytest.approx(ratios)


def test_a_stepless_stage(read: Callable[[str], Campaign]) -> None:
    """Behind a fixed chain the stepless range is scaled."""
    ladder = read(stages("{ continuous = [0.5, 1.9] }", "{ driver=[40], driven=[20] }")).ladder("d")
    assert ladder.continuous == pytest.approx((1, 3.8))


@pytest.mark.parametrize(
    ("table", "key", "said"),
    [
        ("{ driver = [-32], driven = [24] }", "stages#1.driver", "found -32 teeth"),
        ("{ driver = [0], driven = [24] }", "stages#1.driver", "found 0 teeth"),
        ("{ driver = [32.5], driven = [24] }", "stages#1.driver", "found 32.5 in the list"),
        ("{ driver = 32, driven = [24] }", "stages#1.driver", "such as [22, 36]"),
        ("{ driver = [], driven = [24] }", "stages#1.driver", "found an empty list"),
        ("{ driver = [32] }", "stages#1.driven", "missing"),
        ("{ driven = [32] }", "stages#1.driver", "missing"),
        ("{ ratios = [] }", "stages#1.ratios", "found an empty list"),
        ("{ ratios = [1, 'x'] }", "stages#1.ratios", "found 'x' in the list"),
        ("{ ratios = [1, true] }", "stages#1.ratios", "found true in the list"),
        ("{ ratios = [1, -2.5] }", "stages#1.ratios", "found -2.5"),
        ("{ ratios = [1, inf] }", "stages#1.ratios", "found inf"),
        ("{ speeds = 1, range = 2 }", "stages#1.speeds", "found 1"),
        ("{ speeds = 2.5, range = 2 }", "stages#1.speeds", "found 2.5"),
        ("{ speeds = 14 }", "stages#1.range", "missing"),
        ("{ range = 5.26 }", "stages#1.speeds", "missing"),
        ("{ speeds = 14, range = 1 }", "stages#1.range", "above 1"),
        ("{ speeds = 14, range = '80 %' }", "stages#1.range", "above 1"),
        ("{ speeds = 14, range = 5, lowest = -1 }", "stages#1.lowest", "from 0.01 to 100"),
        ("{ speeds = 14, range = 5, lowest = 30 }", "stages#1.lowest", "from 0.01 to 100"),
        ("{ speeds = 14, range = 526 }", "stages#1.range", 'did you mean "526 %"?'),
        ("{ speeds = 14, range = 60 }", "stages#1.range", "above 1 and up to 50"),
        ("{ ratios = [1, 120] }", "stages#1.ratios", "from 0.01 to 100"),
        ("{ continuous = [0.5, 190] }", "stages#1.continuous", "from 0.01 to 100"),
        ("{ driver = [3200], driven = [24] }", "stages#1.driver", "from 1 to 500"),
        ("{ epicyclic = { sun = 20, ring = 600 } }", "stages#1.epicyclic.ring", "at most 500"),
        ("{ ratios = [50] }, { ratios = [3] }", "stages", "found ratios from 150 to 150 over all"),
        ("{ epicyclic = { sun = 20 } }", "stages#1.epicyclic.ring", "missing"),
        ("{ epicyclic = { sun = 60, ring = 20 } }", "stages#1.epicyclic.ring", "the sun's 60"),
        ("{ epicyclic = { son = 20, ring = 60 } }", "stages#1.epicyclic.son", "mean 'sun'?"),
        ("{ epicyclic = 3 }", "stages#1.epicyclic", "found 3"),
        ("{ continuous = [1.9, 0.5] }", "stages#1.continuous", "[1.9, 0.5]"),
        ("{ continuous = [0.5] }", "stages#1.continuous", "found 1 numbers"),
        ("{ name = 'hub' }", "stages#1", "says nothing of its ratios"),
        ("{ ratios = [1], speeds = 3 }", "stages#1", "it has ratios and speeds"),
        ("{ ratos = [1] }", "stages#1.ratos", "did you mean 'ratios'?"),
        ("{ name = 3, ratios = [1] }", "stages#1.name", "found 3"),
        ("1", "stages", "found 1 in the list"),
        ("{ratios=[1], name='a'}, {ratios=[1], name='a'}", "stages#2.name", "found 'a' twice"),
        ("{ speeds = 1000, range = 5 }, { speeds = 1000, range = 5 }", "stages", "1000000 comb"),
    ],
)
def test_impossible_stages(refused: Refused, table: str, key: str, said: str) -> None:
    """The error names the stage by its place, and the key in it."""
    error = refused(stages(table))
    assert error.key == f"drivetrains.d.{key}"
    assert said in str(error)


@pytest.mark.parametrize(
    ("text", "key", "said"),
    [
        ("[drivetrains.d]", "stages", "missing"),
        ("[drivetrains.d]\nstages = []", "stages", "found an empty list"),
        (stages("{ ratios = [1] }") + "service = { every_day = 1 }", "service.every_day", "known"),
        (stages("{ ratios = [1] }") + "service = {}", "service", "found no interval"),
        (stages("{ ratios = [1] }") + "service = { every_km = 0 }", "service.every_km", "found 0"),
        (
            stages("{ name = 'hub', ratios = [1] }") + "max_input_torque_nm = { hubb = 100 }",
            "max_input_torque_nm.hubb",
            "did you mean 'hub'?",
        ),
        (
            stages("{ ratios = [1] }") + "service = { every_km = 1e7 }",
            "service.every_km",
            "below a million",
        ),
        (
            stages("{ name = 'hub', ratios = [1] }") + "max_input_torque_nm = { hub = 1e5 }",
            "max_input_torque_nm.hub",
            "below 10000",
        ),
        (
            stages("{ name = 'hub', ratios = [1] }") + "max_input_torque_nm = { hub = -100 }",
            "max_input_torque_nm.hub",
            "found -100",
        ),
    ],
)
def test_impossible_drivetrains(refused: Refused, text: str, key: str, said: str) -> None:
    """What belongs to the whole drivetrain is checked as well."""
    error = refused(text)
    assert error.key == f"drivetrains.d.{key}"
    assert said in str(error)


def test_service_distance_with_a_unit(read: Callable[[str], Campaign]) -> None:
    """A distance with its unit becomes kilometres (1 mile = 1609.344 m, NIST SP 811)."""
    campaign = read(stages("{ ratios = [1] }") + "service = { every_km = '6000 mi' }")
    service = campaign.drivetrains["d"].service
    assert service is not None
    assert service.every_km == pytest.approx(9656.064)
    assert service.every_months is None


def test_digits_of_a_ladder_are_kept(read: Callable[[str], Campaign]) -> None:
    """Ratios are as fine as the finest of them is printed; whole ones and teeth are exact."""
    campaign = read(
        "[drivetrains.x]\n"
        "stages = [{ ratios = [0.5, 1, 1.25] }, { ratios = [1, 2] },"
        " { driver = [20], driven = [10] }, { speeds = 3, range = '500 %' }]"
    )
    printed, whole, teeth, hub = (one.rounding for one in campaign.drivetrains["x"].stages)
    assert [weights[place] for place, weights in enumerate(printed)] == [0.01, 0.005, 0.004]
    assert (whole, teeth) == ((), ())
    assert list(hub) == [pytest.approx((-0.0005, 0.0, 0.0005))]
