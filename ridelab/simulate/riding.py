"""The ride itself: legs, brakes and the power balance, a fifth of a second at a time."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ridelab.simulate.course import SPACING_M
from ridelab.simulate.gearing import Gears
from ridelab.simulate.grip import Grip
from ridelab.simulate.hands import SPINNING_RPM, Moment
from ridelab.simulate.lever import Lever
from ridelab.simulate.motor import Drive
from ridelab.simulate.noise import correlated, strayed
from ridelab.simulate.physics import EFFICIENCY
from ridelab.simulate.weather import against, strengths_mps

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from ridelab.simulate.hands import Hand, Legs, Shift
    from ridelab.simulate.scenario import Scenario

STEP_S = 0.2
#: Memory and standard deviation of what makes ln(power) stray: mood, and one stroke or the next.
_POWER_STRAYS = ((40.0, 0.08), (3.0, 0.12))
_CLIMB_GAIN = 14.0  # share of power added for each unit of grade, up and down
_POWER_LIMITS = (0.55, 2.0)
_FULL_POWER_TO_RPM = 8.0  # above the preferred cadence; from there on it fades
_TORQUE_NM = 60.0
_CRANK_UP_RPM_S, _CRANK_DOWN_RPM_S = 130.0, 150.0
_BRAKING_MPS2 = 0.9
_HARDEST_BRAKING_MPS2 = 3.0
_SOFT = (0.5, 0.97)
_WANDER_S = 2.0
_NO_SPELL_ABOVE_GRADE = 0.025
_STANDSTILL_MPS = 0.25


@dataclass(frozen=True)
class Trace:
    """A ride as it was: every array has one value at the end of each step of ``STEP_S``.

    ``wheel_m`` and ``crank_turns`` run from the start; ``gear`` is the selected one as published
    (0 where stepless), ``ratio`` as built, ``coupled`` whether the crank drives the wheel;
    ``rollout_m``: of the driven wheel, as it rolled then; ``first_setting`` is the one that the
    ride begins in.
    """

    t_s: NDArray[np.float64]
    wheel_m: NDArray[np.float64]
    speed_mps: NDArray[np.float64]
    cadence_rpm: NDArray[np.float64]
    crank_turns: NDArray[np.float64]
    power_w: NDArray[np.float64]
    ratio: NDArray[np.float64]
    gear: NDArray[np.int32]
    coupled: NDArray[np.bool_]
    rollout_m: NDArray[np.float64]
    shifts: tuple[Shift, ...]
    first_setting: int = 0

    @property
    def wheel_turns(self) -> NDArray[np.float64]:
        """Turns of the driven wheel since the start."""
        return np.cumsum(np.diff(self.wheel_m, prepend=0.0) / self.rollout_m)


def ride(scenario: Scenario, rng: np.random.Generator) -> Trace:
    """Ride the course until the time is up; starts at rest."""
    steps = round(scenario.duration_s / STEP_S)
    legs = _Legs(scenario, rng, steps)
    first = legs.hand.at
    rows = np.array([legs.step(i) for i in range(steps)])
    t_s = np.arange(1, steps + 1, dtype=np.float64) * STEP_S
    speed, cadence = rows[:, 1], rows[:, 2]
    return Trace(
        t_s=t_s,
        wheel_m=rows[:, 0],
        speed_mps=speed,
        cadence_rpm=cadence,
        crank_turns=np.cumsum(cadence) * STEP_S / 60.0,
        power_w=rows[:, 3],
        ratio=rows[:, 4],
        gear=rows[:, 5].astype(np.int32),
        coupled=rows[:, 6] > 0,
        rollout_m=rows[:, 7],
        shifts=tuple(legs.hand.shifts),
        first_setting=first,
    )


class _Legs:
    """State of a ride, moved on step by step."""

    def __init__(self, scenario: Scenario, rng: np.random.Generator, steps: int) -> None:
        self.rider, self.course, self.rng = scenario.rider, scenario.course, rng
        self.tyre = scenario.vehicle.tyre
        self.day_rollout_m = scenario.vehicle.rollout_m * strayed(self.tyre.day, rng)
        self.rollout_m = self.day_rollout_m
        self.resistance = scenario.vehicle.resistance(scenario.rider)
        self.hand = _hand(scenario, rng)
        self.now = Moment()
        self.x_m = 0.0
        self.braking = False
        self.grades: list[float] = self.course.grade.tolist()
        self.stray: list[float] = _power_stray(rng, steps).tolist()
        self.junction = 0
        self.sweep_at = 0
        self.wait_until_s = -1.0
        self.spinning = False
        self.spell: Legs | None = None
        self.spell_ends_s = 0.0
        self.spell_next_s = float(rng.exponential(self.rider.spell_every_s))
        self.soft = _SOFT[0]
        self.wander: list[float] = _wander(self.rider.soft_wander, rng, steps).tolist()
        self.wind: list[float] = strengths_mps(scenario.wind, steps, STEP_S, rng).tolist()
        self.against = against(scenario.wind, scenario.course)
        self.drive = Drive(scenario.vehicle.motor, STEP_S)

    def step(self, i: int) -> tuple[float, ...]:
        """Move on by one step; the row that ``ride`` collects."""
        now = self.now
        now.t_s = (i + 1) * STEP_S
        grade = self._grade()
        self._roll(grade)
        limit = self._speed_limit()
        self._sweep_here()
        now.driven_rpm = self._driven_rpm()
        now.legs = self._intent(grade)
        self.hand.act(now)
        power_w = self._power_w(i, grade) if now.coupled and now.legs == "drive" else 0.0
        if self.hand.open:
            power_w = 0.0
        motor_n = self.drive.act(now, self.rollout_m, self.braking)
        self._move(self._push_n(power_w) + motor_n, grade, limit, self._headwind_mps(i))
        self._turn_crank(i)
        power_w = power_w if now.coupled else 0.0
        row = (self.x_m, now.speed_mps, now.cadence_rpm, power_w)
        drives = now.coupled and now.cadence_rpm > 0.0
        return (*row, self.hand.ratio, self.hand.gear, drives, self.rollout_m)

    def _grade(self) -> float:
        cell = int(self.x_m / SPACING_M)
        return self.grades[cell] if cell < len(self.grades) else 0.0

    def _headwind_mps(self, i: int) -> float:
        cell = min(int(self.x_m / SPACING_M), len(self.against) - 1)
        return self.wind[i] * self.against[cell]

    def _roll(self, grade: float) -> None:
        """Give the tyre the rollout that it has at this speed and under this load."""
        longer = self.tyre.growth * (self.now.speed_mps / 10.0) ** 2 - self.tyre.grade * grade
        self.rollout_m = self.day_rollout_m * (1.0 + longer)

    def _driven_rpm(self) -> float:
        return 60.0 * self.now.speed_mps / (self.hand.ratio * self.rollout_m)

    def _sweep_here(self) -> None:
        places = self.course.sweeps_m
        if self.sweep_at < len(places) and self.x_m >= places[self.sweep_at]:
            self.sweep_at += 1
            self.hand.sweep(self.now)

    def _speed_limit(self) -> float:
        """Highest speed here from which the next junction can be met; moves past junctions."""
        limit, now = self.rider.fastest_mps, self.now
        if self.hand.sweeping:
            development_m = self.hand.ratio * self.rollout_m
            limit = min(limit, (self.rider.cadence_rpm + SPINNING_RPM) / 60.0 * development_m)
        if self.wait_until_s >= 0.0:
            if now.t_s < self.wait_until_s:
                return 0.0
            self.wait_until_s = -1.0
            self.junction += 1
        if self.junction == len(self.course.junctions):
            return limit
        place = self.course.junctions[self.junction]
        left_m = place.at_m - self.x_m
        if place.speed_mps == 0.0 and left_m < 1.0 and now.speed_mps < _STANDSTILL_MPS:
            self.wait_until_s = now.t_s + place.wait_s
            return 0.0
        if place.speed_mps > 0.0 and left_m <= 0.0:
            self.junction += 1
            return limit
        return min(limit, math.sqrt(place.speed_mps**2 + 2 * _BRAKING_MPS2 * max(left_m, 0.0)))

    def _intent(self, grade: float) -> Legs:
        """What the legs are about to do."""
        if self.braking:
            return self._rest()
        cadence = self.now.driven_rpm - self.rider.cadence_rpm
        self.spinning = cadence > (SPINNING_RPM - 6.0 if self.spinning else SPINNING_RPM)
        if self.spinning:
            return self._rest()
        return self._spell(grade)

    def _rest(self) -> Legs:
        """Coast, but for the turns of the crank that a chain needs to be shifted."""
        return "soft" if self.hand.needs_crank(self.now) else "coast"

    def _spell(self, grade: float) -> Legs:
        """Now and then the legs rest, or turn along without driving."""
        now, rider = self.now, self.rider
        if self.spell is not None and now.t_s < self.spell_ends_s:
            return self.spell
        self.spell, self.drive.lever = None, False
        if now.t_s >= self.spell_next_s:
            self.spell_next_s = now.t_s + float(self.rng.exponential(rider.spell_every_s))
            if grade < _NO_SPELL_ABOVE_GRADE:
                self.spell = "soft" if self.rng.random() < rider.soft_share else "coast"
                self.spell_ends_s = now.t_s + float(self.rng.uniform(*rider.spell_s))
                self.soft = float(self.rng.uniform(*_SOFT))
                if self.drive.motor is not None and self.spell == "coast":
                    self.drive.lever = self.rng.random() < self.drive.motor.lever_share
        return self.spell or "drive"

    def _power_w(self, i: int, grade: float) -> float:
        """What the rider gives: more uphill, less downhill, fading when the cadence is too high."""
        low, high = _POWER_LIMITS
        terrain = min(high, max(low, 1.0 + _CLIMB_GAIN * grade))
        if self.hand.sweeping:
            terrain = max(terrain, 1.3)
        over = self.now.cadence_rpm - self.rider.cadence_rpm - _FULL_POWER_TO_RPM
        fade = min(1.0, max(0.0, 1.0 - over / (SPINNING_RPM - _FULL_POWER_TO_RPM)))
        return self.rider.power_w * terrain * self.stray[i] * fade

    def _push_n(self, power_w: float) -> float:
        """Force at the road from a power at the crank, as far as the torque of the legs goes."""
        if power_w <= 0.0:
            return 0.0
        most_n = _TORQUE_NM * 2.0 * math.pi / (self.hand.ratio * self.rollout_m)
        speed = self.now.speed_mps
        return EFFICIENCY * (min(most_n, power_w / speed) if speed > 0.0 else most_n)

    def _move(self, push_n: float, grade: float, limit_mps: float, headwind_mps: float) -> None:
        now, body = self.now, self.resistance
        before = now.speed_mps
        if before == 0.0 and limit_mps == 0.0:
            now.gaining_mps2 = 0.0
            return
        gaining = (push_n - body.force_n(before, grade, headwind_mps)) / body.inertia_kg
        speed = max(0.0, before + gaining * STEP_S)
        self.braking = speed > limit_mps
        if self.braking:
            hardest = before - _HARDEST_BRAKING_MPS2 * STEP_S
            speed = max(0.0, hardest, min(speed, limit_mps))
        now.gaining_mps2 = (speed - before) / STEP_S
        now.speed_mps = speed
        self.x_m += speed * STEP_S

    def _turn_crank(self, i: int) -> None:
        """The freewheel: the crank follows the legs, but never outruns the wheel."""
        now = self.now
        driven = now.driven_rpm = self._driven_rpm()
        up = now.cadence_rpm + _CRANK_UP_RPM_S * STEP_S
        down = now.cadence_rpm - _CRANK_DOWN_RPM_S * STEP_S
        shifting = self.hand.crank_rpm(now) if now.legs == "drive" else None
        now.coupled = False
        if shifting is not None:
            now.cadence_rpm = min(driven, max(0.0, shifting))
        elif now.legs == "drive" and not self.hand.open and up >= driven:
            now.cadence_rpm, now.coupled = driven, True
        else:
            aim = self._aim_rpm(driven, i)
            now.cadence_rpm = min(driven, up, max(aim, down))

    def _aim_rpm(self, driven_rpm: float, i: int) -> float:
        if self.now.legs == "coast":
            return 0.0
        if self.now.legs == "soft":
            return min(self.soft * self.wander[i] * driven_rpm, self.rider.cadence_rpm)
        return driven_rpm


def _hand(scenario: Scenario, rng: np.random.Generator) -> Hand:
    vehicle, rider = scenario.vehicle, scenario.rider
    if isinstance(vehicle.gearing, Gears):
        way = vehicle.gearing.path
        return Lever(
            vehicle.gearing,
            rider,
            rng,
            vehicle.shifts_standing,
            vehicle.rollout_m,
            at=way[len(way) // 4],
        )
    return Grip(vehicle.gearing, rider, rng, vehicle.rollout_m, STEP_S)


def _wander(spread: float, rng: np.random.Generator, steps: int) -> NDArray[np.float64]:
    """Factor on the cadence of legs that only turn along, one a step."""
    if spread <= 0.0:
        return np.ones(steps)
    return np.asarray(np.exp(correlated(steps, _WANDER_S / STEP_S, spread, rng)))


def _power_stray(rng: np.random.Generator, steps: int) -> NDArray[np.float64]:
    """Factor on the power, one a step: a rider pushes now more, now less."""
    strays = [correlated(steps, memory / STEP_S, sd, rng) for memory, sd in _POWER_STRAYS]
    return np.asarray(np.exp(np.sum(strays, axis=0)))
