"""Metres between positions on the WGS 84 ellipsoid."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

#: Defining parameters of WGS 84 (NGA.STND.0036): semi-major axis and flattening.
SEMI_MAJOR_M = 6_378_137.0
FLATTENING = 1 / 298.257223563
SEMI_MINOR_M = SEMI_MAJOR_M * (1 - FLATTENING)

#: The longitude on the auxiliary sphere has settled when it moves less: 0.006 mm on the ground.
SETTLED_RAD = 1e-12
MOST_ROUNDS = 100


class _Arc(NamedTuple):
    """The arc on the auxiliary sphere for one guess of its longitude difference."""

    sin_sigma: Floats
    cos_sigma: Floats
    sigma: Floats
    cos_sq_alpha: Floats
    cos_2sigma_m: Floats
    longitude: Floats  # the next guess


def distance_m(
    lat1_deg: ArrayLike, lon1_deg: ArrayLike, lat2_deg: ArrayLike, lon2_deg: ArrayLike
) -> Floats:
    """Length of the geodesic between pairs of positions; arrays of one shape, degrees to metres.

    Vincenty's inverse formula (Survey Review 23, 176, 1975), within 0.1 mm. nan where a position is
    nan, and for nearly antipodal pairs, for which the iteration finds no end.
    """
    lat1, lon1, lat2, lon2 = (
        np.radians(np.asarray(angle, dtype=np.float64))
        for angle in (lat1_deg, lon1_deg, lat2_deg, lon2_deg)
    )
    reduced1, reduced2 = (np.arctan((1 - FLATTENING) * np.tan(lat)) for lat in (lat1, lat2))
    difference = (lon2 - lon1 + np.pi) % (2 * np.pi) - np.pi
    guess = difference
    settled = np.zeros(guess.shape, dtype=bool)
    for _ in range(MOST_ROUNDS):
        arc = _arc(reduced1, reduced2, difference, guess)
        settled = np.abs(arc.longitude - guess) < SETTLED_RAD
        guess = arc.longitude
        if (settled | np.isnan(guess)).all():
            break
    return np.where(settled, _length_m(arc), np.nan)


def running_m(lat_deg: Floats, lon_deg: Floats, run: NDArray[np.integer] | None = None) -> Floats:
    """Metres along the positions so far, from the first known one; nan where none is known.

    ``run`` numbers the runs of positions that belong together: nothing is added between two.
    """
    known = np.flatnonzero(np.isfinite(lat_deg) & np.isfinite(lon_deg))
    lat, lon = lat_deg[known], lon_deg[known]
    hops = np.nan_to_num(distance_m(lat[:-1], lon[:-1], lat[1:], lon[1:]))
    if run is not None:
        hops[np.diff(run[known]) != 0] = 0.0
    along = np.full(len(lat_deg), np.nan)
    along[known[:1]] = 0.0
    along[known[1:]] = np.cumsum(hops)
    return along


def _arc(reduced1: Floats, reduced2: Floats, difference: Floats, guess: Floats) -> _Arc:
    """One round of the iteration: equations 14 to 18, 10 and 11 of the paper."""
    sin1, cos1, sin2, cos2 = (
        np.sin(reduced1), np.cos(reduced1), np.sin(reduced2), np.cos(reduced2),
    )  # fmt: skip
    sin_sigma = np.hypot(cos2 * np.sin(guess), cos1 * sin2 - sin1 * cos2 * np.cos(guess))
    cos_sigma = sin1 * sin2 + cos1 * cos2 * np.cos(guess)
    sigma = np.arctan2(sin_sigma, cos_sigma)
    sin_alpha = _quotient(cos1 * cos2 * np.sin(guess), sin_sigma)
    cos_sq_alpha = 1 - sin_alpha**2
    cos_2sigma_m = cos_sigma - _quotient(2 * sin1 * sin2, cos_sq_alpha)
    c = FLATTENING / 16 * cos_sq_alpha * (4 + FLATTENING * (4 - 3 * cos_sq_alpha))
    inner = cos_2sigma_m + c * cos_sigma * (2 * cos_2sigma_m**2 - 1)
    longitude = difference + (1 - c) * FLATTENING * sin_alpha * (sigma + c * sin_sigma * inner)
    return _Arc(sin_sigma, cos_sigma, sigma, cos_sq_alpha, cos_2sigma_m, longitude)


def _length_m(arc: _Arc) -> Floats:
    """Equations 3, 4, 6 and 19 of the paper."""
    u_sq = arc.cos_sq_alpha * (SEMI_MAJOR_M**2 - SEMI_MINOR_M**2) / SEMI_MINOR_M**2
    a = 1 + u_sq / 16384 * (4096 + u_sq * (-768 + u_sq * (320 - 175 * u_sq)))
    b = u_sq / 1024 * (256 + u_sq * (-128 + u_sq * (74 - 47 * u_sq)))
    m, m_sq = arc.cos_2sigma_m, arc.cos_2sigma_m**2
    third = b / 6 * m * (4 * arc.sin_sigma**2 - 3) * (4 * m_sq - 3)
    correction = b * arc.sin_sigma * (m + b / 4 * (arc.cos_sigma * (2 * m_sq - 1) - third))
    length: Floats = SEMI_MINOR_M * a * (arc.sigma - correction)
    return length


def _quotient(over: Floats, under: Floats) -> Floats:
    """Quotient, 0 where ``under`` is 0: one point, or a line along the equator."""
    return np.divide(over, under, out=np.zeros_like(over), where=under != 0)
