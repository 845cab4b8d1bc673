"""What the heart hands on: the engaged gear of each sample, and the ladder of a vehicle."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

import polars as pl

if TYPE_CHECKING:
    from ridelab.gears.kept import Kept
    from ridelab.problems import Problem

Channel = Literal["speed field", "distance field", "none"]
#: "both": recorded by the vehicle and inferred as well; "none": no gear can be named.
GearSource = Literal["inferred", "recorded", "both", "none"]

#: One row a sample of one ride, in the ride's order.
ENGAGED_SCHEMA = pl.Schema(
    {
        "development_m": pl.Float64(),  # chosen channel, lag taken out; null where undefined
        "gear": pl.Int32(),  # selected gear, also while decoupled; null where none can be named
        "coupled": pl.Boolean(),  # null where nothing can be said
        "gear_probability": pl.Float64(),  # posterior of `gear`
        "recorded_gear": pl.Int32(),  # as the vehicle's own electronic shifting recorded it
    }
)

#: How sharply developments cluster, for each channel and lag that was tried: the columns of the
#: relation ``lag_curves`` but the ride.
LAG_CURVE_SCHEMA = pl.Schema(
    {
        "channel": pl.String(),
        "lag_s": pl.Float64(),
        "sharpness": pl.Float64(),  # mean log density of ln(development)
    }
)

#: One row a measured gear: the columns of the relation ``measured_gears`` but the vehicle.
MEASURED_SCHEMA = pl.Schema(
    {
        "gear": pl.Int32(),
        "label": pl.String(),
        "ratio": pl.Float64(),
        "ratio_low": pl.Float64(),
        "ratio_high": pl.Float64(),
        "development_m": pl.Float64(),
        "development_low_m": pl.Float64(),
        "development_high_m": pl.Float64(),
        "published_ratio": pl.Float64(),
        "deviation": pl.Float64(),  # ratio over published ratio, minus 1
        "seconds": pl.Float64(),  # engaged and coupled
        "distance_m": pl.Float64(),
        "rides": pl.Int32(),
    }
)

#: One row a step between neighbours of the ladder that were both measured: the columns of the
#: relation ``measured_steps`` but the vehicle.
STEPS_SCHEMA = pl.Schema(
    {
        "gear": pl.Int32(),  # the upper one of the two
        "below": pl.Int32(),
        "step": pl.Float64(),  # ratio over the ratio below, minus 1
        "step_low": pl.Float64(),
        "step_high": pl.Float64(),
        "joint_low": pl.Float64(),  # in 95 % of cases every step of the vehicle lies in these
        "joint_high": pl.Float64(),
        "published_step": pl.Float64(),
    }
)

#: One row every two measured gears, and each with itself: the columns of the relation
#: ``measured_covariance`` but the vehicle.
COVARIANCE_SCHEMA = pl.Schema(
    {
        "gear": pl.Int32(),
        "other": pl.Int32(),
        "covariance": pl.Float64(),  # of ln(development)
    }
)

#: One row a measured gear of a ladder that whole teeth explain: the columns of the relation
#: ``suggested_teeth`` but the vehicle.
TEETH_SCHEMA = pl.Schema(
    {
        "gear": pl.Int32(),
        "ring": pl.Int32(),  # 1 = the smaller or only chainring; null where the gear fits no teeth
        "chainring": pl.Int32(),  # teeth, if the stated rollout is right; null without one
        "sprocket": pl.Int32(),  # teeth, up to a factor that all share; null like `ring`
        "residual": pl.Float64(),  # measured over fitted development, minus 1; null like `ring`
        "ring_ratio": pl.Float64(),  # larger chainring over the smaller, 1 where there is one
        "by_chance": pl.Float64(),  # at most this share of random ladders fits as well
    }
)


@dataclass(frozen=True)
class Interval:
    """A value with its 95 % interval, all in the same unit; ends nan where it was not measured."""

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class Precision:
    """What is left uncertain by seconds, spells and rides, as standard deviations.

    Those without a unit are of ln(development). A spell of n seconds at a speed v has the variance
    spell_sd^2 + (second_sd^2 + (second_mps / v)^2) / n.

    Attributes:
        freedom: degrees of freedom of Student's t.
        spell_sd: what spells in one gear differ by, however long they are.
        ride_sd: what rides differ by in all gears alike.
        second_sd: of one second of steady pedalling, errors that last counted in.
        second_mps: of the speed over one second, metres per second.
        bias_mps: what the speed may be off by in all spells of a gear alike, metres per second.
        cadence_low_rpm, cadence_high_rpm: the middle half of the cadences ridden.
    """

    freedom: int
    spell_sd: float
    ride_sd: float
    second_sd: float
    second_mps: float
    bias_mps: float
    cadence_low_rpm: float
    cadence_high_rpm: float


@dataclass(frozen=True)
class MeasuredRange:
    """Highest over lowest measured ratio; the two gears are None on a stepless drivetrain.

    ``complete``: the two are the published ends; None without a published drivetrain.
    """

    low_gear: int | None
    high_gear: int | None
    range: Interval
    published_range: float | None
    complete: bool | None


@dataclass(frozen=True)
class RideGears:
    """One ride as inferred: the speed channel and lag that were used, and the engaged gear.

    ``lag_s``: seconds that speed trails cadence; ``spread``: robust standard deviation of
    ln(development) within a gear; ``engaged``: ``ENGAGED_SCHEMA``, one row a sample;
    ``lag_curve``: ``LAG_CURVE_SCHEMA``, empty where no speed channel was compared;
    ``other_share``: weight of the other channel in a mean of both, 0 where one alone was used;
    ``recorded_agreement``: share of the coupled samples away from shifts in which the recorded gear
    is the inferred one, and ``recorded_lag_s`` by how much inferred changes come after recorded
    ones; None where no gear was recorded, or too few changes.
    """

    ride: str
    channel: Channel
    lag_s: float | None
    spread: float | None
    gear_source: GearSource
    engaged: pl.DataFrame
    lag_curve: pl.DataFrame = field(default_factory=LAG_CURVE_SCHEMA.to_frame)
    other_share: float = 0.0
    recorded_agreement: float | None = None
    recorded_lag_s: float | None = None


@dataclass(frozen=True)
class VehicleGears:
    """A vehicle as measured over all its rides.

    Attributes:
        rollout: effective rollout, metres, with its interval; None where nothing was measured.
        gears: ``MEASURED_SCHEMA``.
        range: None where fewer than two gears were measured.
        stepless: the ratio was found, or is published, to vary continuously.
        rides: one entry a ride given, in the order given.
        problems: what could not be inferred, and why.
        placement_probability: of the published ladder sitting where it was placed; None without
            one, or where it is stepless.
        unexplained_share: share of the steady pedalling, 0 to 1, that fits no published gear.
        count_probability: of as many gears having been ridden as ``gears`` has rows; None with a
            published ladder, or where no gear can be named.
        steps: ``STEPS_SCHEMA``.
        teeth: ``TEETH_SCHEMA``; empty where whole teeth explain the ladder no better than chance,
            or where a drivetrain is published.
        covariance: ``COVARIANCE_SCHEMA``.
        precision: None where no gear was measured.
        kept: what measuring further rides beside these takes; None where no gear was measured.
        earlier: rides measured before that stay as they are, beside ``rides``.
    """

    vehicle: str
    rollout: Interval | None
    gears: pl.DataFrame
    range: MeasuredRange | None
    stepless: bool
    rides: tuple[RideGears, ...]
    problems: tuple[Problem, ...] = ()
    placement_probability: float | None = None
    unexplained_share: float | None = None
    count_probability: float | None = None
    steps: pl.DataFrame = field(default_factory=STEPS_SCHEMA.to_frame)
    teeth: pl.DataFrame = field(default_factory=TEETH_SCHEMA.to_frame)
    covariance: pl.DataFrame = field(default_factory=COVARIANCE_SCHEMA.to_frame)
    precision: Precision | None = None
    kept: Kept | None = None
    earlier: tuple[str, ...] = ()
