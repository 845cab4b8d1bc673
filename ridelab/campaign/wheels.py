"""What is odd about the wheels of a campaign: rims and rollouts that none has, units set wrongly.

A recording unit multiplies the turns of the wheel that its sensor sits on by the rollout that it is
set to. Set to another wheel's, every speed and development it records is wrong by one factor.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridelab.drivetrain.wheel import accepted_rollout_m
from ridelab.problems import Problem
from ridelab.units import format_number, format_quantity

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridelab.campaign.model import Campaign, Vehicle
    from ridelab.drivetrain.wheel import Tyre
    from ridelab.units import UnitSystem

_STAGE = "wheel"
#: Wheels whose rollouts differ by less cannot be told apart by what is known of them.
_ALIKE = 0.01
#: How much further off its nominal rollout than usual a tyre may roll, being made wider or narrower
#: than its designation; common practice, no source.
_MADE_WIDER = 0.02


def wheel_problems(campaign: Campaign) -> tuple[Problem, ...]:
    """Return what is odd about the wheels of each vehicle, and by what factor it would tell.

    ``path`` is the vehicle. That wheels may have been mixed up is a note: nothing says they were.
    """
    found = []
    for vehicle in campaign.vehicles.values():
        wrong = (
            *_rims(vehicle),
            *_measured(vehicle, campaign.units),
            *_setting(vehicle, campaign.units),
        )
        found += [Problem(vehicle.name, _STAGE, "warning", message) for message in wrong]
        found += [Problem(vehicle.name, _STAGE, "note", message) for message in _others(vehicle)]
    return tuple(found)


def _rims(vehicle: Vehicle) -> Iterator[str]:
    tyres = dict.fromkeys((*([vehicle.tyre] if vehicle.tyre else []), *vehicle.other_tyres))
    for tyre in tyres:
        if (nearest := tyre.nearest_listed_mm) is not None:
            yield (
                f"no rim in use has the bead seat of {tyre.designation}; the nearest is "
                f"{nearest} mm"
            )


def _measured(vehicle: Vehicle, units: UnitSystem) -> Iterator[str]:
    """Tell of a measured rollout that the tyre named beside it cannot have."""
    if vehicle.tyre is None or vehicle.rollout_m is None:
        return
    nominal_m = vehicle.tyre.nominal_rollout_m
    low_m, high_m = accepted_rollout_m(nominal_m, is_measured=False)
    beyond_m = _MADE_WIDER * nominal_m
    if not low_m - beyond_m <= vehicle.rollout_m <= high_m + beyond_m:
        stated, nominal = (
            format_quantity(one, "rollout", units) for one in (vehicle.rollout_m, nominal_m)
        )
        off = format_number(100 * abs(vehicle.rollout_m / nominal_m - 1), 1)
        more = "more" if vehicle.rollout_m > nominal_m else "less"
        yield (
            f"rollout_m is {stated}, {off} % {more} than the nominal {nominal} of a "
            f"{vehicle.tyre.designation}: is one of the two another wheel's?"
        )


def _setting(vehicle: Vehicle, units: UnitSystem) -> Iterator[str]:
    """Tell of a unit that is set to something else than its sensor's wheel rolls."""
    set_m, counted_m, factor = vehicle.set_rollout_m, vehicle.counted_rollout_m, vehicle.unit_factor
    if set_m is None or counted_m is None or factor is None:
        return
    low_m, high_m = accepted_rollout_m(counted_m, is_measured=vehicle.counted_is_measured)
    if not low_m <= set_m <= high_m:
        shown, rolls = (format_quantity(one, "rollout", units) for one in (set_m, counted_m))
        yield (
            f"its recording unit is set to {shown}, but the wheel under its sensor rolls {rolls}: "
            f"developments recorded by that sensor are {_times(factor)}"
        )


def _others(vehicle: Vehicle) -> Iterator[str]:
    """Tell what a mix-up of wheels would do, where nothing says that there is none."""
    driven_m = vehicle.stated_rollout_m
    if driven_m is None or vehicle.set_rollout_m is not None:
        return
    for tyre in dict.fromkeys(vehicle.other_tyres):
        factor = tyre.nominal_rollout_m / driven_m
        if abs(factor - 1) > _ALIKE and (cases := _mixed_up(vehicle, tyre, factor)):
            missing = "set_rollout_m" if vehicle.sensor_wheel else "sensor_wheel and set_rollout_m"
            yield f"{'; '.join(cases)}; {missing} in its table would settle it"


def _mixed_up(vehicle: Vehicle, tyre: Tyre, factor: float) -> list[str]:
    """Return the mix-ups of the driven wheel and another that what is stated leaves open."""
    sits, name = vehicle.sensor_wheel, tyre.designation
    cases = []
    if sits in (None, tyre):
        cases.append(
            f"a unit set to the driven wheel while its sensor sits on {name} records developments "
            f"{_times(1 / factor)}"
        )
    if sits in (None, vehicle.tyre):
        cases.append(
            f"a unit set to {name} while its sensor sits on the driven wheel records developments "
            f"{_times(factor)}"
        )
    return cases


def _times(factor: float) -> str:
    """Return "17.9 % too long (× 1.179)"."""
    off = format_number(100 * abs(factor - 1), 1)
    return f"{off} % too {'long' if factor > 1 else 'short'} (× {format_number(factor, 3)})"
