"""Samples under two power meters, with a known loss in each gear."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

if TYPE_CHECKING:
    from collections.abc import Sequence

#: What is lost in gears 1 to 5: invented.
LOSSES = (0.08, 0.06, 0.04, 0.05, 0.07)
GEAR_S = 75


@dataclass(frozen=True)
class Pair:
    """Two power meters.

    ``bias``: what the wheel's reads too much, as a share; ``noise``: of a sample of either;
    ``drift``: by which the bias differs from ride to ride; ``lag_s``: how far the wheel's trails.
    """

    bias: float = 0.0
    noise: float = 0.04
    drift: float = 0.005
    lag_s: int = 0


USUAL = Pair()


def samples(
    pair: Pair = USUAL,
    losses: Sequence[float] = LOSSES,
    seed: int = 1,
    rounds: int = 2,
) -> pl.DataFrame:
    """One ride, a sample a second: each gear in turn, the crank standing before every shift."""
    rng = np.random.default_rng(seed)
    gear = np.repeat(np.tile(np.arange(len(losses)), rounds), GEAR_S)
    t_s = np.arange(len(gear), dtype=np.float64)
    coupled = t_s % GEAR_S < GEAR_S - 6
    effort_w = np.repeat(rng.uniform(110, 260, len(gear) // 15 + 1), 15)[: len(gear)]
    crank_w = np.where(coupled, effort_w + 15 * rng.standard_normal(len(gear)), 0.0)
    off = pair.bias + pair.drift * rng.standard_normal()
    wheel_w = crank_w * (1 - np.array(losses)[gear]) * (1 + off)
    wheel_w = np.concatenate([np.full(pair.lag_s, wheel_w[0]), wheel_w])[: len(wheel_w)]
    return pl.DataFrame(
        {
            "t_s": t_s,
            "power_w": np.round(crank_w * (1 + pair.noise * rng.standard_normal(len(t_s)))),
            "wheel_power_w": np.round(wheel_w * (1 + pair.noise * rng.standard_normal(len(t_s)))),
            "gear": (gear + 1).astype(np.int32),
            "coupled": coupled,
            "gear_probability": np.full(len(t_s), 0.99),
            "timer_running": np.full(len(t_s), fill_value=True),
        }
    )
