"""What a drivetrain loses in each gear, where power was recorded at the crank and at the wheel.

Loss is 1 - energy at the wheel / energy at the crank over spells of steady pedalling in one gear.
What meters are off by, all gears share: it is in every loss, and in no difference between gears.
"""

from ridelab.analysis.losses.measured import (
    GEAR_LOSS_SCHEMA,
    GearLosses,
    measure_losses,
    motor_in_between,
)
from ridelab.analysis.losses.spells import PowerSpells, lag_between, spells_of

__all__ = [
    "GEAR_LOSS_SCHEMA",
    "GearLosses",
    "PowerSpells",
    "lag_between",
    "measure_losses",
    "motor_in_between",
    "spells_of",
]
