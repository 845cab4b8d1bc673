"""What is known of a vehicle's wheel, and what that leaves open of its ratios and metres.

A recording unit makes metres of wheel turns by the rollout that it is set to, so a ride shows
developments as long as that setting is right, and neither the setting nor the wheel's true rollout
is known exactly. Let D be a gear's recorded development, E the effective rollout (the middle of D
over published ratio), T the true rollout, anywhere within the accepted span of the stated one:

- the ratio is D / T where the unit is set to T. It is not D / E: E is fitted to the published
  ratios, so that a sprocket other than published would vanish in it.
- the true development is D * T / E, be the unit set as it may.

Where E itself lies outside that span, the tyre, the unit's setting or a ratio that all gears share
is other than stated. Rides do not tell which of them, so nothing follows.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log
from typing import TYPE_CHECKING

from ridelab.drivetrain.wheel import ROLLOUT_SPAN, accepted_rollout_m
from ridelab.gears.result import Interval

if TYPE_CHECKING:
    from collections.abc import Mapping
    from typing import Any


@dataclass(frozen=True)
class Wheel:
    """A driven wheel whose rollout is stated.

    Attributes:
        stated_m: its rollout, metres.
        is_measured: it was measured, and is not merely nominal for the tyre.
        effective_m: as the rides show it, metres; as stated where they show nothing.
    """

    stated_m: float
    is_measured: bool
    effective_m: Interval

    @property
    def open_share(self) -> tuple[float, float]:
        """How far the true rollout may lie from the stated one, relative, least and most."""
        return ROLLOUT_SPAN["measured" if self.is_measured else "nominal"]

    @property
    def open_log(self) -> float:
        """The width of that span in the logarithm."""
        low_m, high_m = self._true_m
        return log(high_m / low_m)

    @property
    def off(self) -> float | None:
        """The effective rollout over the stated one, minus 1, where no accepted rollout fits it."""
        low_m, high_m = self._true_m
        fits = self.effective_m.high >= low_m and self.effective_m.low <= high_m
        return None if fits else self.effective_m.value / self.stated_m - 1

    def ratio(self, recorded_m: Interval) -> Interval:
        """Return the ratio of a gear of this recorded development."""
        low_m, high_m = self._true_m
        middle_m = (low_m + high_m) / 2
        return Interval(
            recorded_m.value / middle_m, recorded_m.low / high_m, recorded_m.high / low_m
        )

    def development_m(self, recorded_m: Interval) -> Interval:
        """Return the true development of a gear of this recorded one."""
        low_m, high_m = self._true_m
        unit_m = self.effective_m.value
        return Interval(
            recorded_m.value * (low_m + high_m) / 2 / unit_m,
            recorded_m.low * low_m / unit_m,
            recorded_m.high * high_m / unit_m,
        )

    @property
    def _true_m(self) -> tuple[float, float]:
        return accepted_rollout_m(self.stated_m, self.is_measured)


def wheel_of(vehicle: Mapping[str, Any]) -> Wheel | None:
    """Return the wheel of a row of ``vehicles``; None where nobody stated its size."""
    stated_m, effective_m = vehicle["stated_rollout_m"], vehicle["effective_rollout_m"]
    if not stated_m:
        return None
    if not effective_m:
        effective = Interval(stated_m, stated_m, stated_m)
    else:
        ends = (vehicle[f"effective_rollout_{end}_m"] for end in ("low", "high"))
        effective = Interval(effective_m, *(effective_m if end is None else end for end in ends))
    return Wheel(stated_m, bool(vehicle["rollout_is_measured"]), effective)
