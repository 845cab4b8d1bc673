"""Wind: it blows from one side all day, in gusts, and the road turns in it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ridelab.simulate.noise import correlated

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from ridelab.simulate.course import Course

#: How long a gust lasts, seconds, for one who rides through it (common practice, no source).
_GUST_S = 8.0


@dataclass(frozen=True)
class Wind:
    """Wind at the height of a rider.

    ``mean_mps``: 0 for a calm day; ``from_rad``: where it comes from, as the course counts its
    headings; ``gusts``: standard deviation over mean. Near the ground that turbulence intensity is
    about 1 / ln(height / roughness length), 0.26 at 1.5 m over short grass (from memory); hedges
    and houses take some of it.
    """

    mean_mps: float = 0.0
    from_rad: float = 0.0
    gusts: float = 0.25


CALM = Wind()


def strengths_mps(
    wind: Wind, steps: int, step_s: float, rng: np.random.Generator
) -> NDArray[np.float64]:
    """How hard the wind blows at each step of time; a calm day draws nothing."""
    if wind.mean_mps <= 0.0:
        return np.zeros(steps)
    swell = correlated(steps, _GUST_S / step_s, wind.gusts, rng)
    return np.asarray(wind.mean_mps * np.maximum(0.0, 1.0 + swell))


def against(wind: Wind, course: Course) -> list[float]:
    """Share of the wind that blows against the rider, -1 to 1, on each piece of the course."""
    return [math.cos(wind.from_rad - heading) for heading in course.heading_rad.tolist()]
