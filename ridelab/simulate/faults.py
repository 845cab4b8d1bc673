"""What goes wrong between a sensor and the record: lost radio, lost and double pulses."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_DROPOUT_S = (4.0, 20.0)
#: A contact that bounces closes again after so long.
_BOUNCE_S = 0.03


@dataclass(frozen=True)
class PulseFault:
    """A sensor whose magnet sits badly.

    Attributes:
        jitter_s: standard deviation of a pulse's time: a sensor that finds the turn from
            acceleration, or a wide magnet.
        spells_per_hour: how often pulses begin to be missed, or counted twice.
        spell_s: shortest and longest of these spells.
        missed: share of the pulses that are missed within one half of the spells.
        doubled: share of the pulses that count twice within the other half.
    """

    jitter_s: float = 0.015
    spells_per_hour: float = 20.0
    spell_s: tuple[float, float] = (3.0, 25.0)
    missed: float = 0.5
    doubled: float = 0.5


def faulty(pulses_s: Floats, fault: PulseFault, rng: np.random.Generator) -> Floats:
    """Return the times of the pulses that the sensor counts instead of these, sorted."""
    heard = pulses_s + rng.normal(0.0, fault.jitter_s, len(pulses_s))
    if not len(heard):
        return heard
    missing, twice = (
        spells(pulses_s, fault.spells_per_hour / 2, fault.spell_s, rng) for _ in range(2)
    )
    missing &= rng.random(len(heard)) < fault.missed
    twice &= rng.random(len(heard)) < fault.doubled
    return np.sort(np.concatenate([heard[~missing], heard[twice & ~missing] + _BOUNCE_S]))


def dropped(at_s: Floats, per_hour: float, rng: np.random.Generator) -> NDArray[np.bool_]:
    """Times at which a sensor's radio is lost."""
    return spells(at_s, per_hour, _DROPOUT_S, rng)


def spells(
    at_s: Floats, per_hour: float, length_s: tuple[float, float], rng: np.random.Generator
) -> NDArray[np.bool_]:
    """Return which of these times lie in spells that begin at random, so many in an hour."""
    inside = np.zeros(len(at_s), dtype=bool)
    span_s = float(at_s[-1] - at_s[0]) if len(at_s) else 0.0
    for _ in range(rng.poisson(per_hour * span_s / 3600.0)):
        start = rng.uniform(0.0, span_s)
        inside |= (at_s >= start) & (at_s < start + rng.uniform(*length_s))
    return inside


def without(values: Floats, lost: NDArray[np.bool_], shows_last: bool) -> Floats:
    """Return what a unit records while it hears nothing: the last value that it heard, or nan."""
    if not shows_last:
        return np.where(lost, np.nan, values)
    latest = np.maximum.accumulate(np.where(lost, -1, np.arange(len(values))))
    return np.where(latest >= 0, values[latest], np.nan)
