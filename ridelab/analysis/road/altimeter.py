"""Where altitudes come from: air pressure or satellites, told by the file or by standing still."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

AltitudeSource = Literal["barometric", "satellite", "unknown", "none"]

#: Slower than this over this long is standing still.
STILL_MPS, STILL_S = 0.5, 60.0
#: So many pairs of samples a minute apart, both of one halt, are needed to tell.
LEAST_PAIRS = 60
#: Three quarters of the changes within a minute of standing are smaller than the first: pressure;
#: a quarter is larger than the second: satellites; m.
STEADY_M, WANDERS_M = 0.6, 2.0


def altitude_source(
    t_s: Floats, speed_mps: Floats, altitude_m: Floats, *, barometer: bool = False
) -> AltitudeSource:
    """Return what a ride's altitudes were made from; one value a sample, nan where unknown.

    ``barometer``: the file lists one among the unit's parts, which settles it. Else what a vehicle
    that stands still is said to climb within a minute: the weather changes air pressure by 1 hPa an
    hour or so, 8.3 m of altitude at sea level (ICAO standard atmosphere), which is 0.14 m a minute,
    beside a resolution of 0.1 or 0.2 m; altitudes by satellite are off by metres, anew within a
    minute or so (common practice, no source). Altitudes that do not change at all tell nothing,
    since some units hold them while they stand, and so do rides without a long halt: "unknown".
    "none" without altitudes.
    """
    known = np.isfinite(altitude_m)
    if not known.any():
        return "none"
    if barometer:
        return "barometric"
    still = known & (np.nan_to_num(speed_mps, nan=np.inf) < STILL_MPS)
    changes = np.abs(_within_halts(t_s, altitude_m, still))
    if len(changes) < LEAST_PAIRS or not changes.any():
        return "unknown"
    usual = float(np.quantile(changes, 0.75))
    if usual <= STEADY_M:
        return "barometric"
    return "satellite" if usual >= WANDERS_M else "unknown"


def _within_halts(t_s: Floats, altitude_m: Floats, still: NDArray[np.bool_]) -> Floats:
    """Return how altitude changes from samples to those a minute later in the same halt."""
    later = np.searchsorted(t_s, t_s + STILL_S)
    inside = later < len(t_s)
    moved = np.concatenate([[0], np.cumsum(~still)])
    first, last = np.flatnonzero(inside), later[inside]
    halted = moved[last + 1] == moved[first]
    return np.asarray(altitude_m[last[halted]] - altitude_m[first[halted]])
