"""What was decoded -> a ride's outcome as others read it, and the notes that go with it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from ridelab.drivetrain.wheel import accepted_rollout_m
from ridelab.gears.noise import MEDIAN_TO_SD
from ridelab.gears.recorded import recorded_gears
from ridelab.gears.result import ENGAGED_SCHEMA, GearSource, RideGears
from ridelab.problems import Problem

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.drivetrain.ladder import Ladder
    from ridelab.gears.decode import Decoded
    from ridelab.gears.ladder import Rungs, Stated
    from ridelab.gears.observations import Floats, Observations
    from ridelab.gears.result import Interval
    from ridelab.telemetry.ride import Ride

#: Rides of one vehicle this far apart are told of, those that stand out: no tyre differs so much
#: from one day to another.
OTHER_WHEEL, STANDS_OUT = 0.018, 0.008


def gears_named(
    ride: Ride, seen: Observations, made: Decoded, rungs: Rungs, ladder: Ladder | None
) -> RideGears:
    """Return a ride in which gears are named, by their numbers, beside those that were recorded."""
    recorded = recorded_gears(ride, ladder, made, rungs)
    engaged = _engaged(
        development_m=_development(seen),
        gear=pl.Series(rungs.numbers[made.gear]),
        coupled=_coupled(seen, made),
        gear_probability=pl.Series(made.gear_probability),
        recorded_gear=recorded,
    )
    inside = made.coupled & np.isfinite(made.residual)
    spread = (
        MEDIAN_TO_SD * float(np.median(np.abs(made.residual[inside]))) if inside.any() else None
    )
    source: GearSource = "both" if recorded.is_not_null().any() else "inferred"
    return RideGears(
        ride=ride.sha256,
        channel=seen.channel,
        lag_s=seen.lag_s,
        spread=spread,
        gear_source=source,
        engaged=engaged,
        lag_curve=seen.lag_curve,
        other_share=seen.other_share,
    )


def of_each(
    rides: Sequence[Ride],
    observed: Sequence[Observations | str],
    decoded: Sequence[Decoded],
    rungs: Rungs,
    ladder: Ladder | None,
) -> list[RideGears]:
    """Return each ride with its gears named; ``decoded``: those that have observations."""
    made = iter(decoded)
    return [
        nothing_named(ride)
        if isinstance(one, str)
        else gears_named(ride, one, next(made), rungs, ladder)
        for ride, one in zip(rides, observed, strict=True)
    ]


def nothing_named(
    ride: Ride, seen: Observations | None = None, made: Decoded | None = None
) -> RideGears:
    """Return a ride in which no gear can be named; ``made`` at least tells what was coupled."""
    recorded = recorded_gears(ride)
    source: GearSource = "recorded" if recorded.is_not_null().any() else "none"
    if seen is None:
        empty = pl.Series([None] * len(ride.samples), dtype=pl.Float64)
        engaged = _engaged(development_m=empty, recorded_gear=recorded)
        return RideGears(ride.sha256, "none", None, None, source, engaged)
    known = {"development_m": _development(seen), "recorded_gear": recorded}
    if made is not None:
        known["coupled"] = _coupled(seen, made)
    engaged = _engaged(**known)
    return RideGears(
        ride=ride.sha256,
        channel=seen.channel,
        lag_s=seen.lag_s,
        spread=None,
        gear_source=source,
        engaged=engaged,
        lag_curve=seen.lag_curve,
        other_share=seen.other_share,
    )


def _development(seen: Observations) -> pl.Series:
    return pl.Series(np.exp(seen.ln_development)).fill_nan(None)


def _coupled(seen: Observations, made: Decoded) -> pl.Series:
    """Return whether the crank drove the wheel, null where no development tells that it did."""
    coupled = pl.Series(made.coupled)
    told = pl.Series(np.isfinite(seen.ln_development) | ~made.coupled)
    return pl.select(pl.when(told).then(coupled)).to_series()


def _engaged(**known: pl.Series) -> pl.DataFrame:
    """Return ``ENGAGED_SCHEMA`` with the known columns, null in the others."""
    return pl.DataFrame({name: values.alias(name) for name, values in known.items()}).select(
        (pl.col(name) if name in known else pl.lit(None)).cast(kind).alias(name)
        for name, kind in ENGAGED_SCHEMA.items()
    )


def without_observations(
    rides: Sequence[Ride], observed: Sequence[Observations | str]
) -> list[Problem]:
    """Return a warning for each ride that names no gear, with the reason."""
    return [
        Problem(str(ride.path), "measure", "warning", one)
        for ride, one in zip(rides, observed, strict=True)
        if isinstance(one, str)
    ]


def other_wheels(
    rides: Sequence[Ride], observed: Sequence[Observations | str], shifts: Floats
) -> list[Problem]:
    """Return a warning for each ride that stands out where rides differ by ``OTHER_WHEEL``."""
    if np.ptp(shifts) < OTHER_WHEEL:
        return []
    named = [r for r, o in zip(rides, observed, strict=True) if not isinstance(o, str)]
    return [
        Problem(
            str(ride.path),
            "measure",
            "warning",
            f"its speeds are {np.expm1(shift):+.1%} off those of this vehicle's other rides, as if "
            "from another wheel: check the wheel setting of the recording device; the gears are "
            "compared with this taken out",
        )
        for ride, shift in zip(named, shifts, strict=True)
        if abs(shift) >= STANDS_OUT
    ]


def strangers(vehicle: str, gears: pl.DataFrame, stated: Stated) -> list[Problem]:
    """Return a warning for each measured gear that nobody published."""
    if stated.ladder is None:
        return []
    found = gears.filter(pl.col("published_ratio").is_null())
    return [
        Problem(
            vehicle,
            "measure",
            "warning",
            f"{seconds:.0f} s of pedalling at a development of {development_m:.2f} m fit no gear "
            "of the published ladder",
        )
        for development_m, seconds in found.select("development_m", "seconds").iter_rows()
    ]


def wrong_wheel(vehicle: str, rollout: Interval | None, stated: Stated) -> list[Problem]:
    """Return a warning where the wheel rolls further from the stated figure than it may."""
    if rollout is None or stated.rollout_m is None or stated.ladder is None:
        return []
    least, most = accepted_rollout_m(stated.rollout_m, stated.rollout_is_measured)
    if rollout.high >= least and rollout.low <= most:
        return []
    off = rollout.value / stated.rollout_m - 1.0
    text = (
        f"the wheel rolls {rollout.value:.3f} m a turn, {off:+.1%} from the stated "
        f"{stated.rollout_m:.3f} m: check the tyre, and the recording device's wheel setting"
    )
    return [Problem(vehicle, "measure", "warning", text)]
