"""The power balance of a cycle: what resists it, and how fast a given power drives it.

Martin, Milliken, Cobb, McFadden and Coggan, "Validation of a mathematical model for road cycling
power", Journal of Applied Biomechanics 14 (1998) 276-291. Air drag, rolling resistance, wheel
bearings, grade and inertia (of the wheels too) over the efficiency of the drive. Its coefficients
stand here from memory.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

GRAVITY_MPS2 = 9.80665
AIR_KG_M3 = 1.2
#: Wheel bearings: newtons, and newtons for each m/s.
BEARINGS_N, BEARINGS_NS_M = 0.091, 0.0087
#: Moment of inertia of both wheels over the square of their radius.
WHEELS_KG = 0.14 / 0.311**2
#: Share of the power at the crank that a chain hands on.
EFFICIENCY = 0.976


@dataclass(frozen=True)
class Resistance:
    """What a loaded vehicle works against.

    ``mass_kg`` with rider; ``rolling``: coefficient of rolling resistance; ``drag_m2``: drag area.
    """

    mass_kg: float
    rolling: float
    drag_m2: float

    @property
    def inertia_kg(self) -> float:
        """Mass that speeds up, the turning of the wheels included."""
        return self.mass_kg + WHEELS_KG

    def force_n(self, speed_mps: float, grade: float, headwind_mps: float = 0.0) -> float:
        """Force against the direction of travel at a steady speed."""
        along = 1.0 / math.sqrt(1.0 + grade * grade)
        weight_n = self.mass_kg * GRAVITY_MPS2 * along
        through_mps = speed_mps + headwind_mps
        air_n = 0.5 * AIR_KG_M3 * self.drag_m2 * through_mps * abs(through_mps)
        return air_n + BEARINGS_N + BEARINGS_NS_M * speed_mps + weight_n * (self.rolling + grade)

    def power_w(self, speed_mps: float, grade: float) -> float:
        """Power at the crank that keeps a steady speed."""
        return self.force_n(speed_mps, grade) * speed_mps / EFFICIENCY
