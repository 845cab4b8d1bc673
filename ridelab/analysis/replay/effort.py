"""The same effort on another drivetrain: how much power, and so speed, another cadence would give.

Legs give less outside the cadences that they are comfortable with. Torque falls about linearly with
pedal speed, so power over cadence is a parabola (A. Sargeant, E. Hoinville and A. Young, Journal of
Applied Physiology 51 (1981) 1175-1182, of short efforts; from memory). Here it is taken to begin at
the edges of the rider's band: within it nothing is gained or lost.

Power moves the vehicle by the balance of J. Martin et al., Journal of Applied Biomechanics 14
(1998) 276-291. Wind, brakes, grade and rolling resistance are those of the same place, so they
cancel: with v the ridden speed, w the new one, e = (w² - v²) / 2 and efficiency η of the drive,

    de/dx = η/m · (P_new/w - P/v) - ρ·CdA/m · e

Where the vehicle stood, it stands again: a stop takes all that was gained.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from ridelab.analysis.replay.comfort import Band
    from ridelab.analysis.replay.road import Road

    Floats = NDArray[np.float64]

#: Standard acceleration of gravity (ISO 80000-3).
GRAVITY_MPS2 = 9.80665
#: Dry air at 15 °C and 1013 hPa (ISO 2533).
AIR_KG_M3 = 1.225
#: What a drivetrain hands on, and what the turning of both wheels adds to the mass: from Martin et
#: al., from memory. No drivetrain is taken to be better than another.
EFFICIENCY, WHEELS_KG = 0.976, 1.4
#: Below this speed power over speed says nothing of the push; slower than this is standing.
_SLOWEST_PUSH_MPS, _STANDING_MPS = 1.0, 0.3
#: Another cadence gives at least and at most so many times the power.
_LEAST_GAIN, _MOST_GAIN = 0.5, 2.0
_LEAST_CAPABILITY = 0.1
#: Nobody gets slower than half the ridden speed: 3/8 of its square is then lost.
_MOST_LOST = 0.375


@dataclass(frozen=True)
class Body:
    """Vehicle and rider against road and air.

    ``mass_kg`` of both; ``rolling``: coefficient of rolling resistance; ``drag_m2``: drag area.
    """

    mass_kg: float
    rolling: float
    drag_m2: float

    @property
    def moved_kg(self) -> float:
        """Mass that gets faster, wheels counted for their turning as well."""
        return self.mass_kg + WHEELS_KG

    def power_w(self, speed_mps: Floats, grade: Floats, gaining_mps2: Floats) -> Floats:
        """Return the power at the crank that such riding takes in still air."""
        slope = np.cos(np.arctan(grade)) * (self.rolling + grade)
        air_n = 0.5 * AIR_KG_M3 * self.drag_m2 * speed_mps**2
        push_n = self.mass_kg * GRAVITY_MPS2 * slope + air_n + self.moved_kg * gaining_mps2
        return np.asarray(push_n * speed_mps / EFFICIENCY)


#: Usual bodies by kind of vehicle, without the rider: mass, rolling resistance, drag area. Common
#: practice, no source.
USUAL = {
    "bicycle": Body(15.0, 0.006, 0.50),
    "trike": Body(18.0, 0.007, 0.40),
    "tandem": Body(25.0, 0.006, 0.60),
    "cargo": Body(40.0, 0.008, 0.70),
    "velomobile": Body(35.0, 0.006, 0.15),
}


def capability(log_cadence: Floats, band: Band) -> Floats:
    """Return the share of their power that legs give at a cadence: 1 within the band.

    1 - (1 - c/low)² below it, 1 - (c/high - 1)² above it, at least a tenth.
    """
    short = np.maximum(1.0 - np.exp(log_cadence - band.log_low), 0.0)
    over = np.maximum(np.exp(np.minimum(log_cadence - band.log_high, 1.0)) - 1.0, 0.0)
    return np.asarray(np.maximum(1.0 - short**2 - over**2, _LEAST_CAPABILITY))


def ridden_power_w(road: Road, body: Body) -> Floats:
    """Return the power of each moment: as recorded, else estimated; 0 where nobody drove."""
    gaining = road.trend * road.speed_mps
    estimated = body.power_w(road.speed_mps, np.nan_to_num(road.grade), gaining)
    power = np.where(np.isfinite(road.power_w), road.power_w, estimated)
    return np.where(road.driven, np.maximum(power, 0.0), 0.0)


def new_speeds(
    speed_mps: Floats, metres: Floats, power_w: Floats, gain: Callable[[int, Floats], Floats],
    body: Body,
) -> Floats:  # fmt: skip
    """Return the speeds that another gear gives for the same effort; moments × rides throughout.

    ``gain``: called with the number of a moment and the new speeds so far, returns how many times
    the ridden power the legs give then.
    """
    out = np.empty_like(speed_mps)
    pull = EFFICIENCY / body.moved_kg
    drag = AIR_KG_M3 * body.drag_m2 / body.moved_kg
    energy = np.zeros(speed_mps.shape[1])
    floor = np.maximum(speed_mps, _SLOWEST_PUSH_MPS)
    for t, ridden in enumerate(speed_mps):
        faster = np.sqrt(np.maximum(ridden**2 + 2.0 * energy, _STANDING_MPS**2))
        times = np.clip(gain(t, faster), _LEAST_GAIN, _MOST_GAIN)
        push = times / np.maximum(faster, _SLOWEST_PUSH_MPS) - 1.0 / floor[t]
        energy = (energy + metres[t] * pull * power_w[t] * push) / (1.0 + metres[t] * drag)
        energy = np.maximum(energy, -_MOST_LOST * ridden**2)
        energy = np.where(ridden < _STANDING_MPS, 0.0, energy)
        out[t] = np.sqrt(np.maximum(ridden**2 + 2.0 * energy, 0.0))
    return np.where(speed_mps < _STANDING_MPS, speed_mps, np.maximum(out, _STANDING_MPS))
