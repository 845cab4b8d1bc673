"""One ride -> observations of ln(development), each with its uncertainty.

Development is speed over crank turns per second. Which of a file's speeds that is, and how late it
is, ``channels`` finds out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ridelab.gears.channels import (
    MIN_CADENCE_RPM,
    MIN_SAMPLES,
    MIN_SPEED_MPS,
    channels,
    choose,
    column,
    divisible,
)
from ridelab.gears.effort import gained
from ridelab.gears.noise import Noise, fitted
from ridelab.telemetry import clock

if TYPE_CHECKING:
    import polars as pl
    from numpy.typing import NDArray

    from ridelab.gears.result import Channel
    from ridelab.telemetry.ride import Ride

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

#: The silences that reading tells of are gaps: nothing is computed across one.
GAP_S = clock.GAP_S
#: Slower than this the wheel stands, for all that a sensor can tell.
STANDING_MPS = 0.3
#: A sensor repeats its last cadence for up to this long after the crank stops: seen in real files.
HOLD_S = 3.0
#: How probably a repeated value before a stop is held: of whole rpm, and of fractions.
HELD_WHOLE, HELD_FRACTION = 0.7, 0.98
#: From here on a power meter shows that the crank is driven, at zero that it is not.
DRIVING_W = 25.0
#: Timing left over after the lag is taken out, seconds: half a sample; twice that where the
#: recording device smooths satellite speed.
TIMING_S = {"wheel sensor": 0.3, "satellite": 0.6, "unknown": 0.5, "none": 0.5}
#: Speed from satellites is smoothed, and off by a centimetre or two a second for minutes on end
#: (common practice, no source); that of pulses at the wheel is not.
BIAS_MPS = {"wheel sensor": 0.0, "satellite": 0.02, "unknown": 0.01, "none": 0.01}
#: How long an error lasts, until the ride itself tells: the correlation of neighbouring seconds.
MEMORY = {"wheel sensor": 0.0, "satellite": 0.7, "unknown": 0.4, "none": 0.4}
#: Noise of a ride too short to tell.
DEFAULT_NOISE = 0.01
#: Samples over which a development is taken to hold still, and by how much the distance from their
#: median falls short of the distance from the truth (white noise, by simulation).
WINDOW = 7
WINDOW_WIDENING = 1.217


@dataclass(frozen=True)
class Observations:
    """What one ride says of the development at each sample; arrays have one entry a sample.

    Attributes:
        channel, lag_s: the speed that was used, and how many seconds it trails the cadence.
        other_share: weight of the other channel in a mean of both, 0 where it is not used.
        lag_curve: ``LAG_CURVE_SCHEMA``: how sharply each channel clusters under each lag tried.
        t_s: seconds since the start.
        seconds: time a sample stands for, up to the next one, at most ``GAP_S``.
        gap_before: the silence before this sample is longer than ``GAP_S``.
        speed_mps: chosen channel or mean, lag taken out; nan where unknown.
        standing: the crank does not turn, or the wheel does not.
        held: probability that the cadence is the sensor's repeated last value, the crank standing
            already; 0 where it does not repeat before a stop.
        drive: the power meter's word on whether the crank was driven: 1 yes, 0 no, nan unknown.
        ln_development: natural logarithm of metres per crank turn; nan where undefined.
        sigma: standard deviation of ``ln_development`` from the resolution of the cadence.
        slope_hz: by how much ``ln_development`` is off for each second that the timing is.
        gaining_hz: slope of ln(speed), per second.
        gain_mps2: acceleration and climbing together, see ``effort``; nan where unknown.
        noise: what remains, estimated from the ride itself.
        bias_mps: by how much the speed may be off in the same direction for minutes on end.
    """

    ride: str
    channel: Channel
    lag_s: float
    other_share: float
    lag_curve: pl.DataFrame
    t_s: Floats
    seconds: Floats
    gap_before: Flags
    speed_mps: Floats
    standing: Flags
    held: Floats
    drive: Floats
    ln_development: Floats
    sigma: Floats
    slope_hz: Floats
    gaining_hz: Floats
    gain_mps2: Floats
    noise: Noise
    bias_mps: float

    def total_sigma(self, noise: Noise | None = None) -> Floats:
        """Standard deviation of each observation, all causes together."""
        rest = (noise or self.noise).sd(self.speed_mps, self.slope_hz)
        return np.asarray(np.hypot(self.sigma, rest))


def observe(ride: Ride) -> Observations | str:
    """Return the observations of a ride, or in plain words why it has none."""
    t = column(ride, "t_s")
    cadence = column(ride, "cadence_rpm")
    if not np.isfinite(cadence).any():
        return "no cadence: no gear can be named"
    if not (cadence > 0).any():
        return "cadence is zero throughout: no gear can be named"
    found = channels(ride, t)
    if not found:
        return "no speed: no gear can be named"
    chosen = choose(found, t, cadence)
    if chosen is None:
        return f"pedalled for fewer than {MIN_SAMPLES} samples: no gear can be named"
    speed = chosen.speed_mps
    held = _held(t, cadence, ride.cadence_resolution_rpm)
    usable = divisible(speed, cadence) & (held == 0)
    ln_development = np.full(len(t), np.nan)
    ln_development[usable] = np.log(60.0 * speed[usable] / cadence[usable])
    # A reading rounded to a step q is off by q / sqrt(12): uniform error.
    sigma = ride.cadence_resolution_rpm / np.sqrt(12.0) / np.where(usable, cadence, np.nan)
    gaining = _slope(_log_filled(speed, MIN_SPEED_MPS), t)
    # Where cadence changes more than speed, its own sampling shows.
    slope = np.hypot(gaining, 0.5 * _slope(_log_filled(cadence, MIN_CADENCE_RPM), t))
    noise = _remaining_noise(ln_development, sigma, speed, slope, TIMING_S[ride.speed_source])
    steps = np.diff(t, append=t[-1] + 1.0)
    return Observations(
        ride=ride.sha256,
        channel=chosen.channel,
        lag_s=chosen.lag_s,
        other_share=chosen.other_share,
        lag_curve=chosen.lag_curve,
        t_s=t,
        seconds=np.where(steps > GAP_S, 1.0, steps),
        gap_before=np.diff(t, prepend=t[0]) > GAP_S,
        speed_mps=speed,
        standing=(cadence == 0) | (speed < STANDING_MPS),
        held=held,
        drive=_drive(column(ride, "power_w")),
        ln_development=ln_development,
        sigma=sigma,
        slope_hz=slope,
        gaining_hz=gaining,
        gain_mps2=gained(t, speed, column(ride, "altitude_m")),
        noise=noise.remembering(MEMORY[ride.speed_source]),
        bias_mps=BIAS_MPS[ride.speed_source],
    )


def _held(t: Floats, cadence: Floats, resolution_rpm: float) -> Floats:
    """Return how probably a cadence that repeats itself before a stop is only held.

    A steady rider repeats whole rpm too, but hardly ever the same fraction of one.
    """
    with np.errstate(invalid="ignore"):
        stops = np.flatnonzero((cadence[1:] == 0) & (cadence[:-1] > 0)) + 1
    held = np.zeros(len(t))
    for stop in stops:
        last = stop - 1
        while last > 0 and cadence[last - 1] == cadence[stop - 1] and t[stop] - t[last] <= HOLD_S:
            held[last] = HELD_WHOLE if resolution_rpm >= 1.0 else HELD_FRACTION
            last -= 1
    return held


def _drive(power: Floats) -> Floats:
    """Return 1 where power was measured, 0 where the meter says none, nan where it says nothing."""
    if not (power > 0).any():
        return np.full(len(power), np.nan)
    return np.where(
        np.isnan(power), np.nan, np.where(power >= DRIVING_W, 1.0, (power > 0) * np.nan)
    )


def _log_filled(values: Floats, least: float) -> Floats:
    """Return the logarithm of at least ``least``, missing values filled from their neighbours."""
    known = np.flatnonzero(np.isfinite(values))
    filled = np.interp(np.arange(len(values)), known, values[known])
    return np.asarray(np.log(np.maximum(filled, least)))


def _slope(values: Floats, t: Floats) -> Floats:
    """Return the slope of ``values`` between the second neighbours on either side.

    Over four seconds the noise of the readings themselves hardly counts as acceleration.
    """
    padded = np.pad(values, 2, mode="edge")
    span = np.pad(t, 2, mode="edge")
    return np.asarray((padded[4:] - padded[:-4]) / np.maximum(span[4:] - span[:-4], 1.0))


def _remaining_noise(
    ln_development: Floats, sigma: Floats, speed: Floats, slope: Floats, timing_s: float
) -> Noise:
    """Return the noise that the known causes leave unexplained, from the scatter within seconds.

    That is the distance of each value from the median of the ``WINDOW`` around it. Second
    differences would say too little: a lag of half a second averages two readings. What the timing
    adds hardly shows within seconds: it is taken as usual.
    """
    usual = Noise(DEFAULT_NOISE, timing_s=timing_s)
    if len(ln_development) < MIN_SAMPLES:
        return usual
    windows = np.lib.stride_tricks.sliding_window_view(ln_development, WINDOW)
    whole = np.isfinite(windows).all(axis=1)
    middle = slice(WINDOW // 2, len(ln_development) - WINDOW // 2)
    off = WINDOW_WIDENING * (ln_development[middle][whole] - np.median(windows[whole], axis=1))
    known, speeds, slopes = (values[middle][whole] for values in (sigma, speed, slope))
    return fitted(off, known, speeds, slopes, timing_s) or usual
