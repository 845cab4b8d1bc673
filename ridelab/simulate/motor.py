"""A motor in the hub: it drives the wheel past the drivetrain, whatever the crank does."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ridelab.simulate.hands import Moment

#: EN 15194: rated power at most 250 W, no help above 25 km/h.
RATED_W, CUT_OFF_MPS = 250.0, 25.0 / 3.6
#: Below the cut-off by this much the help begins to fade, so that it does not end with a jerk.
_FADE_MPS = 0.4
_WAKES_S = 0.4  # time constant with which the push follows what is asked of it


@dataclass(frozen=True)
class HubMotor:
    """A motor that helps while the crank turns, however lightly, or by a lever at the handlebar.

    Attributes:
        power_w: at the wheel, at the level of help that the rider has chosen.
        torque_nm: most that it gives at the wheel.
        cut_off_mps: no help above this speed.
        runs_on_s: for so long the motor pushes after the crank stops: its sensor counts pulses.
        lever_share: of the spells in which the legs rest, those with the lever pressed, so that
            the motor drives the wheel while the crank stands.
    """

    power_w: float = 0.6 * RATED_W
    torque_nm: float = 35.0
    cut_off_mps: float = CUT_OFF_MPS
    runs_on_s: float = 1.0
    lever_share: float = 0.3


@dataclass
class Drive:
    """A motor at work; without one it never pushes."""

    motor: HubMotor | None
    step_s: float
    push_n: float = 0.0
    lever: bool = False
    _turned_s: float = field(default=-math.inf)

    def act(self, now: Moment, rollout_m: float, braking: bool) -> float:
        """Return the push at the road, newtons; a brake lever opens the circuit at once."""
        if self.motor is None:
            return 0.0
        if now.cadence_rpm > 0.0 and now.legs != "coast":
            self._turned_s = now.t_s
        asked = self.lever or now.t_s - self._turned_s <= self.motor.runs_on_s
        if braking or not asked:
            self.push_n = 0.0
            return 0.0
        left = (self.motor.cut_off_mps - now.speed_mps) / _FADE_MPS
        most_n = self.motor.torque_nm * 2.0 * math.pi / rollout_m
        full_n = min(most_n, self.motor.power_w / max(now.speed_mps, 0.5))
        aim_n = full_n * min(1.0, max(0.0, left))
        self.push_n += (aim_n - self.push_n) * min(1.0, self.step_s / _WAKES_S)
        return self.push_n
