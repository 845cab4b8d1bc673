"""Recorded gears beside inferred ones: how far they agree, and what it means where they do not."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from ridelab.gears.by_record import away_from_changes
from ridelab.gears.recorded import has_teeth, recorded_ratios, strange_teeth
from ridelab.problems import Problem

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from ridelab.drivetrain.ladder import Ladder
    from ridelab.gears.observations import Floats
    from ridelab.gears.result import RideGears
    from ridelab.telemetry.ride import Ride

    Whole = NDArray[np.int64]

#: Recorded and inferred changes into one gear that are further apart than this, seconds, are two.
SAME_CHANGE_S = 5.0
#: So many of them tell how far the one comes behind the other.
LEAST_CHANGES = 3
#: Fewer samples in agreement than this share speak against record or drivetrain, if there are
#: enough; one difference throughout says which.
LEAST_AGREEMENT, LEAST_SAMPLES, THROUGHOUT = 0.8, 120, 0.8
#: Combinations ridden for so many seconds are compared with their developments.
LEAST_S = 10.0


@dataclass(frozen=True)
class Agreement:
    """How recorded and inferred gears agree in the coupled samples of a ride, away from shifts.

    ``share``: of those in which it is the same; ``samples``: how many there are; ``lag_s``: median
    time from a recorded change to the inferred one, None where too few can be paired;
    ``difference``: the commonest one, inferred minus recorded, and the share that has it.
    """

    share: float
    samples: int
    lag_s: float | None
    difference: tuple[int, float]


def compared(
    rides: Sequence[Ride], results: Sequence[RideGears], ladder: Ladder | None
) -> tuple[list[RideGears], list[Problem]]:
    """Return the rides with their agreement in numbers, and what there is to say of it.

    ``ladder``: as published; without it recorded teeth are compared with developments themselves.
    """
    numbered, said = [], []
    for ride, result in zip(rides, results, strict=True):
        found = agree(ride, result, ladder)
        if found is None:
            numbered.append(result)
        else:
            numbered.append(
                replace(result, recorded_agreement=found.share, recorded_lag_s=found.lag_s)
            )
        said += _told_of(ride, result, found, ladder)
    return numbered, said


def agree(ride: Ride, result: RideGears, ladder: Ladder | None) -> Agreement | None:
    """Compare the gears of one ride; None where there is nothing to compare.

    Positions count by the ladder only if one is published; else a recorded gear stands for the
    inferred one that it mostly goes with.
    """
    t_s = ride.samples["t_s"].to_numpy()
    coupled = result.engaged["coupled"].fill_null(value=False).to_numpy()
    gear, told = (
        result.engaged[name].fill_null(0).to_numpy().astype(np.int64)
        for name in ("gear", "recorded_gear")
    )
    if ladder is None and not has_teeth(ride):
        told = _as_inferred(told, gear, coupled)
    both = coupled & (gear > 0) & (told > 0) & away_from_changes(t_s, told, gear)
    if not both.any():
        return None
    difference = gear[both] - told[both]
    values, counts = np.unique(difference, return_counts=True)
    most = int(counts.argmax())
    return Agreement(
        share=float(np.mean(difference == 0)),
        samples=int(both.sum()),
        lag_s=_lag(t_s, told, gear),
        difference=(int(values[most]), float(counts[most] / counts.sum())),
    )


def _as_inferred(told: Whole, gear: Whole, coupled: NDArray[np.bool_]) -> Whole:
    found = np.zeros_like(told)
    for one in np.unique(told[coupled & (told > 0)]):
        values, counts = np.unique(gear[coupled & (told == one)], return_counts=True)
        found[told == one] = values[counts.argmax()]
    return found


def _lag(t_s: Floats, told: Whole, gear: Whole) -> float | None:
    """Return the median time from a recorded change to the nearest inferred one into its gear."""
    lags = []
    inferred = 1 + np.flatnonzero(gear[1:] != gear[:-1])
    for at in 1 + np.flatnonzero((told[1:] != told[:-1]) & (told[:-1] > 0) & (told[1:] > 0)):
        apart = t_s[inferred[gear[inferred] == told[at]]] - t_s[at]
        if len(apart) and np.abs(apart).min() <= SAME_CHANGE_S:
            lags.append(float(apart[np.abs(apart).argmin()]))
    return float(np.median(lags)) if len(lags) >= LEAST_CHANGES else None


def _told_of(
    ride: Ride, result: RideGears, found: Agreement | None, ladder: Ladder | None
) -> list[Problem]:
    """Return what to say of a ride: notes, and warnings where something speaks against it."""
    notes: list[str | None] = []
    warnings: list[str | None] = []
    if found is not None:
        notes.append(_in_words(found))
        warnings.append(_against(found))
    if ladder is None:
        notes.append(_by_teeth(ride, result))
    elif strange_teeth(ride, ladder):
        warnings.append(
            "the recorded teeth make ratios that the published ladder does not have: is the "
            "drivetrain file right?"
        )
    path = str(ride.path)
    return [
        *(Problem(path, "measure", "note", text) for text in notes if text),
        *(Problem(path, "measure", "warning", text) for text in warnings if text),
    ]


def _in_words(agreement: Agreement) -> str:
    text = (
        f"recorded and inferred gear agree on {agreement.share:.1%} of {agreement.samples} coupled "
        "samples away from shifts"
    )
    if agreement.lag_s is None:
        return text
    late = "after" if agreement.lag_s >= 0 else "before"
    return f"{text}; inferred changes come {abs(agreement.lag_s):.1f} s {late} the recorded ones"


def _against(agreement: Agreement) -> str | None:
    """Return what speaks against the record or the published drivetrain, if anything."""
    if agreement.samples < LEAST_SAMPLES or agreement.share >= LEAST_AGREEMENT:
        return None
    by, share = agreement.difference
    if by and share >= THROUGHOUT:
        gears = "gear" if abs(by) == 1 else "gears"
        return (
            f"developments say {abs(by)} {gears} {'higher' if by > 0 else 'lower'} than was "
            f"recorded, throughout ({share:.0%} of the time): is the drivetrain file right, and "
            "does the shifting count its gears as the ladder does?"
        )
    return (
        f"recorded and inferred gears differ on {1 - agreement.share:.0%} of the samples: is the "
        "drivetrain file right, and does the shifting count its gears as the ladder does?"
    )


def _by_teeth(ride: Ride, result: RideGears) -> str | None:
    """Say how well developments follow the recorded teeth, where there are any."""
    if not has_teeth(ride):
        return None
    ratios = recorded_ratios(ride)
    t_s = ride.samples["t_s"].to_numpy()
    development = result.engaged["development_m"].cast(pl.Float64).fill_null(np.nan).to_numpy()
    coupled = result.engaged["coupled"].fill_null(value=False).to_numpy()
    known = coupled & np.isfinite(development) & np.isfinite(ratios)
    known &= away_from_changes(t_s, np.nan_to_num(ratios))
    distinct, of, count = np.unique(ratios[known], return_inverse=True, return_counts=True)
    off = np.log(development[known]) - ratios[known]
    middles = np.array([np.median(off[of == k]) for k in range(len(distinct))])[count >= LEAST_S]
    if len(middles) < 2:
        return None
    rms = float(np.sqrt(np.mean((middles - np.median(middles)) ** 2)))
    text = f"developments follow the recorded teeth to {rms:.2%} in {len(middles)} combinations"
    if ride.gear_changes["front_teeth"].is_null().all():
        return text
    return f"{text}, with a rollout of {np.exp(np.median(middles)):.3f} m"
