"""The hand at the grip of a stepless hub."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from ridelab.simulate.hands import START_MPS, Moment, Shift

if TYPE_CHECKING:
    from ridelab.simulate.gearing import Stepless
    from ridelab.simulate.scenario import Rider

#: How fast a hand turns it, in ln(ratio) a second.
_GRIP_PER_S = 0.09
_GRIP_CLOSE = 0.002
_SWEEP_RATIOS = 6


@dataclass
class Grip:
    """A hand at the grip of a stepless hub, which is turned a little at a time, under load."""

    hub: Stepless
    rider: Rider
    rng: np.random.Generator
    rollout_m: float
    step_s: float
    gear: int = 0
    at: int = 0
    open: bool = False
    shifts: list[Shift] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.ratio = float(np.sqrt(self.hub.lowest * self.hub.highest))
        self._turning = False
        self._plan: list[float] = []
        self._until_s = 0.0

    @property
    def sweeping(self) -> bool:
        """A sweep is going on."""
        return bool(self._plan)

    @property
    def at_top(self) -> bool:
        """The grip cannot be turned further."""
        return self.ratio >= self.hub.highest

    def sweep(self, now: Moment) -> None:
        """Ride six ratios from one end to the other."""
        self._plan = np.geomspace(self.hub.lowest, self.hub.highest, _SWEEP_RATIOS).tolist()
        self._until_s = now.t_s

    def crank_rpm(self, now: Moment) -> float | None:  # noqa: ARG002 - never under way
        """None: the drive stays closed while the ratio changes."""
        return None

    def needs_crank(self, now: Moment) -> bool:  # noqa: ARG002 - never
        """False: the grip turns while the crank stands."""
        return False

    def act(self, now: Moment) -> None:
        """Turn the grip by as much as a hand does in one step of time."""
        wanted = self._planned(now) if self._plan else self._wanted(now)
        if wanted is None:
            return
        most = _GRIP_PER_S * self.step_s
        change = min(most, max(-most, float(np.log(wanted / self.ratio))))
        self.ratio = min(self.hub.highest, max(self.hub.lowest, self.ratio * float(np.exp(change))))

    def _planned(self, now: Moment) -> float:
        if abs(self._plan[0] / self.ratio - 1.0) > _GRIP_CLOSE:
            self._until_s = now.t_s + self.rider.sweep_s
        elif now.t_s >= self._until_s and len(self._plan) > 1:
            self._plan.pop(0)
        elif now.t_s >= self._until_s:
            return self._plan.pop(0)
        return self._plan[0]

    def _wanted(self, now: Moment) -> float | None:
        """The ratio for the preferred cadence, once the cadence is off by enough to reach out."""
        speed_mps = max(now.speed_mps, START_MPS)
        off = 60.0 * speed_mps / (self.ratio * self.rollout_m) - self.rider.cadence_rpm
        self._turning = abs(off) > (1.5 if self._turning else 0.7 * self.rider.band_rpm)
        if not self._turning:
            return None
        return 60.0 * speed_mps / (self.rider.cadence_rpm * self.rollout_m)
