"""The hand at levers: when a rider shifts from one setting to another, to which, and how well."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from ridelab.simulate.hands import SPINNING_RPM, START_MPS, Moment, Shift

if TYPE_CHECKING:
    import numpy as np

    from ridelab.simulate.gearing import Gears
    from ridelab.simulate.scenario import Rider

_NO_SHIFT_WHILE_GAINING_MPS2 = 0.15
_SHIFT_S = (0.3, 0.6)
_FRONT_SHIFT_S = (0.6, 1.0)
_REACTION_S = (0.2, 1.4)
_DWELL_S = 1.5
_COASTING_PAUSE_S = (0.6, 1.3)
#: How long a rider stays with a shift before taking it back.
_REGRET_S = (1.5, 5.0)
#: In lengths of the way from the preferred cadence to its limit.
_FAR_OUT = 2.4
_NOT_WORTH_RPM = 4.0
#: Limits closer than half a step would send a rider to and fro between two gears.
_BEYOND_HALF_A_STEP = 0.65


@dataclass
class Lever:
    """A hand at levers with settings to choose from."""

    gears: Gears
    rider: Rider
    rng: np.random.Generator
    shifts_standing: bool
    rollout_m: float
    at: int = 0
    open: bool = False
    shifts: list[Shift] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._choose(self.at)
        self._target = self.at
        self._began_s = self._ends_s = self._began_rpm = 0.0
        self._next_s = 0.0
        self._urge_s: float | None = None
        self._plan: list[tuple[int, float]] = []
        self._back_s: float | None = None
        self._way = 0
        self._left_s = self._seen_s = 0.0
        self._draw_limits()

    @property
    def sweeping(self) -> bool:
        """A sweep is going on."""
        return bool(self._plan)

    @property
    def at_top(self) -> bool:
        """There is no higher gear."""
        return self.gears.up[self.at] == self.at

    def sweep(self, now: Moment) -> None:
        """Begin at the lowest gear; the gears are ridden on the way up. Or ride what is planned."""
        self._plan = [(setting, self.rider.sweep_s) for setting in self.gears.path]
        if self.rider.sweep_plan:
            self._plan = [(self._setting(gear), s) for gear, s in self.rider.sweep_plan]
        self._left_s, self._seen_s = self._plan[0][1], now.t_s

    def act(self, now: Moment) -> None:
        """Finish a shift under way, or decide on the next one."""
        if self.open:
            if now.t_s >= self._ends_s:
                self.open = False
                self._engage(now.t_s)
            return
        steps = self._sweep_steps(now) if self._plan else self._steps(now)
        target = self._after(steps)
        if steps and self._plan and self.rider.sweep_plan:
            target = self._plan[0][0]
        if target != self.at:
            self._begin(now, target)

    def crank_rpm(self, now: Moment) -> float | None:
        """Linear from where the shift began to what the target will ask for."""
        if not self.open:
            return None
        done = (now.t_s - self._began_s) / (self._ends_s - self._began_s)
        ratio = self.gears.settings[self._target].ratio
        aim_rpm = min(now.driven_rpm * self.ratio / ratio, self.rider.cadence_rpm + SPINNING_RPM)
        return self._began_rpm + min(1.0, max(0.0, done)) * (aim_rpm - self._began_rpm)

    def needs_crank(self, now: Moment) -> bool:
        """A chain is to be shifted, for which the crank has to turn."""
        if self.shifts_standing:
            return False
        return self.open or self.sweeping or self._foreseen(now) != 0

    def _begin(self, now: Moment, target: int) -> None:
        """Open the clutch. A lower gear engages at once and the crank has to catch up with it.

        A higher one can engage only when the crank has slowed down to it.
        """
        settings = self.gears.settings
        front = settings[target].front != settings[self.at].front
        duration = float(self.rng.uniform(*(_FRONT_SHIFT_S if front else _SHIFT_S)))
        self._target, self._began_s, self._ends_s = target, now.t_s, now.t_s + duration
        self._began_rpm = now.cadence_rpm
        self.open = True
        if settings[target].ratio < self.ratio or now.legs == "coast":
            self._engage(now.t_s)
        resting = now.legs == "coast"
        pause_s = (
            self.rng.uniform(*_COASTING_PAUSE_S) if resting else self.rng.exponential(_DWELL_S)
        )
        self._next_s = self._ends_s + float(pause_s)
        self._urge_s = None

    def _engage(self, t_s: float) -> None:
        if self._target == self.at:
            return
        settings = self.gears.settings
        before, after = settings[self.at].gear, settings[self._target].gear
        self.shifts.append(Shift(t_s, before, after, self._target))
        self._way = 1 if settings[self._target].ratio > self.ratio else -1
        self._choose(self._target)
        self._draw_limits()
        self._doubt(t_s)

    def _doubt(self, t_s: float) -> None:
        """Now and then a rider does not like the new gear, and goes back after some seconds."""
        if self._back_s is not None or not self.rider.hunting:
            self._back_s = None
        elif self.rng.random() < self.rider.hunting:
            self._back_s = t_s + float(self.rng.uniform(*_REGRET_S))

    def _choose(self, at: int) -> None:
        self.at = at
        self.ratio, self.gear = self.gears.settings[at].ratio, self.gears.settings[at].gear

    def _after(self, steps: int) -> int:
        target = self.at
        for _ in range(abs(steps)):
            target = (self.gears.up if steps > 0 else self.gears.down)[target]
        return target

    def _draw_limits(self) -> None:
        """Sometimes a rider shifts early, sometimes late."""
        early, late = (float(stray) for stray in self.rng.normal(0.0, self.rider.timing, 2))
        band, middle = self.rider.band_rpm, self.rider.cadence_rpm
        step_up = self.gears.settings[self.gears.up[self.at]].ratio / self.ratio
        step_down = self.gears.settings[self.gears.down[self.at]].ratio / self.ratio
        low: float = min(middle - band, middle * step_down**_BEYOND_HALF_A_STEP)
        high: float = max(middle + band, middle * step_up**_BEYOND_HALF_A_STEP)
        self._low_rpm = middle - (middle - low) * max(0.6, 1.0 + early)
        self._high_rpm = middle + (high - middle) * max(0.6, 1.0 + late)

    def _steps(self, now: Moment) -> int:
        """How many settings to go up (or, negative, down) right now."""
        if now.t_s < self._next_s:
            return 0
        if now.legs == "drive":
            return self._felt(now) if now.coupled else 0
        if now.cadence_rpm <= 0 and not self.shifts_standing:
            return 0
        return self._foreseen(now)

    def _felt(self, now: Moment) -> int:
        """Shift because the cadence left its band, after a moment of reaction."""
        if self._back_s is not None and now.t_s >= self._back_s:
            return -self._way
        coming = now.coming_rpm()
        losing = now.gaining_mps2 < _NO_SHIFT_WHILE_GAINING_MPS2
        way = int(coming > self._high_rpm) - int(coming < self._low_rpm and losing)
        if way == 0 or (way > 0 and self.at_top):
            self._urge_s = None
            return 0
        if self._urge_s is None:
            self._urge_s = now.t_s + float(self.rng.uniform(*_REACTION_S))
        if now.t_s < self._urge_s:
            return 0
        return way * (
            2 if self._is_far_out(coming) or self.rng.random() < self.rider.two_at_once else 1
        )

    def _foreseen(self, now: Moment) -> int:
        """While nothing is driven, move towards the gear that will be needed at this speed."""
        speed_mps = max(now.speed_mps, START_MPS)
        coming = 60.0 * speed_mps / (self.ratio * self.rollout_m)
        if self._low_rpm - _NOT_WORTH_RPM < coming < self._high_rpm + _NOT_WORTH_RPM:
            return 0
        many = 2 if self._is_far_out(coming) else 1
        return many if coming > self.rider.cadence_rpm else -many

    def _is_far_out(self, coming_rpm: float) -> bool:
        """Whether one step would not bring the cadence back."""
        middle = self.rider.cadence_rpm
        limit = self._high_rpm if coming_rpm > middle else self._low_rpm
        return abs(coming_rpm - middle) > _FAR_OUT * abs(limit - middle)

    def _sweep_steps(self, now: Moment) -> int:
        """Go to the gear whose turn it is, setting by setting, and stay in it for a while."""
        passed_s, self._seen_s = now.t_s - self._seen_s, now.t_s
        if now.t_s < self._next_s or (now.cadence_rpm <= 0 and not self.shifts_standing):
            return 0
        setting, seconds = self._plan[0]
        if self.at != setting:
            self._left_s = seconds
            return 1 if self._target_is_above(setting) else -1
        if now.coupled:
            self._left_s -= passed_s
        if self._left_s <= 0:
            self._plan.pop(0)
            self._left_s = self._plan[0][1] if self._plan else 0.0
        return 0

    def _setting(self, gear: int) -> int:
        """Return the setting that a gear is ridden in: one on the way up, if there is one."""
        having = [at for at, setting in enumerate(self.gears.settings) if setting.gear == gear]
        return next((at for at in having if at in self.gears.path), having[0])

    def _target_is_above(self, target: int) -> bool:
        return self.gears.settings[target].ratio > self.ratio
