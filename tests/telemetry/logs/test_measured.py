"""What a bench turned is what is measured from its log, at any rate and by any sensor."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from ridelab.gears import measure_vehicle
from tests.telemetry.logs.logged import logger, read, table

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from ridelab.campaign.loggers import Logger

RATIOS = np.array([1.0, 1.3, 1.7, 2.2])
ROLLOUT_M = 2.1


def turned(rate_hz: int) -> tuple[NDArray[np.float64], ...]:
    """Times, turns a minute of wheel and crank: a gear a minute and a half, then coasting."""
    t = np.arange(0, 1200, 1 / rate_hz)
    stage = (t // 75).astype(int)
    crank = 75 + 10 * np.sin(t / 23) + 5 * np.sin(t / 7)
    wheel = RATIOS[stage * 3 % 4] * crank
    return t, wheel, np.where(t % 75 > 67, 0.0, crank)


def counts(per_min: NDArray[np.float64], rate_hz: int, per_turn: int = 1) -> NDArray[np.int64]:
    """A running count of the pulses of a wheel."""
    return np.floor(np.cumsum(per_min) / 60 / rate_hz * per_turn).astype(np.int64)


def written(rate_hz: int, form: str) -> tuple[Logger, Iterable[Sequence[object]]]:
    """A log of what was turned, and its logger."""
    t, wheel, crank = turned(rate_hz)
    times = [f"{second:.2f}" for second in t]
    if form == "rates":
        made = logger(wheel_rpm=1.0, cadence=1.0)
        return made, zip(times, wheel, crank.round().astype(int), strict=True)
    if form == "pulses":
        made = logger(wheel_pulses=1 / 6, crank_pulses=1.0)
        return made, zip(times, counts(wheel, rate_hz, 6), counts(crank, rate_hz), strict=True)
    made = logger(wheel_pulses=1 / 6, cadence=1.0)
    seldom = [
        None if row % rate_hz else round(cadence) for row, cadence in enumerate(crank.tolist())
    ]
    return made, zip(times, counts(wheel, rate_hz, 6), seldom, strict=True)


@pytest.mark.parametrize(
    ("rate_hz", "form", "within"),
    [
        (1, "rates", 0.002),
        (10, "rates", 0.002),
        (100, "rates", 0.002),
        (100, "pulses", 0.002),
        (100, "pulses beside a cadence once a second", 0.002),
        (20, "pulses", 0.005),
    ],
)
def test_ratios_of_a_bench_are_found(rate_hz: int, form: str, within: float) -> None:
    """Four gears, none more and none less, and the truth within a few thousandths."""
    made, rows = written(rate_hz, form)
    names = ",".join(["t", *(channel.column for channel in made.channels)])
    made = replace(made, speed_from="wheel sensor")
    ride = read(table(names, rows), made, rollout_m=ROLLOUT_M)
    found = measure_vehicle("bench", [ride], None, ROLLOUT_M).gears["ratio"]
    assert found.to_list() == pytest.approx(RATIOS, rel=within)
