"""What sensors left out or told wrongly, on rides given second by second."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from ridelab.resources import data_dir
from tests.analysis.used import a_store, add_ride

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

#: A gear of 3.75 m at 80 rpm; the lowest of the ladder is 2.1 m.
STEADY: dict[str, Any] = {"gear": 3, "cadence_rpm": 80.0, "speed_mps": 5.0, "development_m": 3.75}


def health(seconds: Sequence[Mapping[str, Any]], *, measures: Sequence[int] = (1, 3)) -> Any:  # noqa: ANN401 - a row
    """The row of one ride."""
    store = a_store(measures=measures)
    add_ride(store, "ride", [STEADY | dict(one) for one in seconds])
    store.lay()
    query = data_dir("sql").joinpath("analysis", "sensor_health.sql").read_text("utf-8")
    return store.frame(query).row(0, named=True)


def riding(
    seconds: int = 600, *, every: Mapping[int, Mapping[str, Any]] | None = None
) -> list[dict[str, Any]]:
    """Seconds of changing cadence and speed; ``every``: seconds that are otherwise."""
    usual = [{"cadence_rpm": 70.0 + n % 20, "speed_mps": 4.0 + n % 3} for n in range(seconds)]
    return [one | dict((every or {}).get(n, {})) for n, one in enumerate(usual)]


def spell(start: int, length: int, **told: object) -> dict[int, dict[str, object]]:
    """The same for some seconds."""
    return dict.fromkeys(range(start, start + length), told)


def test_sound_ride_says_nothing() -> None:
    """Ten minutes, all told."""
    row = health(riding())
    assert (row["state"], row["finding"]) == ("sound", None)
    assert row["moving_s"] == 600
    assert row["no_cadence_share"] == row["stray_share"] == row["held_cadence_s"] == 0


@pytest.mark.parametrize(
    ("seconds", "state"), [(20, "sound"), (48, "look"), (120, "failing"), (600, "failing")]
)
def test_cadence_that_is_missing_is_told_by_its_share(seconds: int, state: str) -> None:
    """3, 8, 20 and 100 % of ten minutes."""
    row = health(riding(every=spell(30, seconds, cadence_rpm=None)))
    assert row["state"] == state
    assert row["no_cadence_share"] == pytest.approx(min(seconds, 570) / 600)
    assert row["cadence_dropouts"] == 1


def test_coasting_is_no_missing_cadence() -> None:
    """Zero was told."""
    row = health(riding(every=spell(30, 300, cadence_rpm=0.0, development_m=None)))
    assert (row["state"], row["no_cadence_share"]) == ("sound", 0)


def test_developments_below_the_lowest_gear_are_a_sensors_fault() -> None:
    """A cadence counted twice halves 2.1 m to 1.05; a freewheel only ever adds."""
    row = health(riding(every=spell(30, 60, development_m=1.05)))
    assert row["stray_share"] == pytest.approx(0.1)
    assert row["state"] == "look"
    assert "cadence counted twice" in row["finding"]
    assert health(riding(every=spell(30, 60, development_m=9.0)))["state"] == "sound"


def test_without_a_ladder_nobody_knows_what_strays() -> None:
    """Null, not zero."""
    assert health(riding(), measures=())["stray_share"] is None


def test_repeated_cadence_is_told_where_the_speed_changes() -> None:
    """Two minutes of 80 rpm at 4 to 6 m/s; with an even speed it may be true."""
    row = health(riding(every=spell(100, 120, cadence_rpm=80.0)))
    assert (row["held_cadence_s"], row["state"]) == (120, "failing")
    even = spell(100, 120, cadence_rpm=80.0, speed_mps=5.0)
    assert health(riding(every=even))["held_cadence_s"] == 0


def test_few_minutes_tell_nothing() -> None:
    """Four of them."""
    row = health(riding(240, every=spell(0, 200, cadence_rpm=None)))
    assert (row["state"], row["finding"]) == ("too short", None)


def test_pedalling_without_a_speed_fails_however_little_it_rolled() -> None:
    """On a stand, or with a sensor that is dead."""
    row = health(riding(every=spell(0, 600, speed_mps=None)))
    assert (row["moving_s"], row["no_speed_share"], row["state"]) == (0, 1, "failing")
    assert row["finding"] == "no speed for 100 % of the pedalling"
