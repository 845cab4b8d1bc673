"""A ladder that nobody published -> the chainrings and sprockets that it may be made of.

On a chain drive a gear's development is rollout * chainring / sprocket, and teeth are whole
numbers. A fit of whole teeth says something only if chance does not bring it about, and two free
chainrings fit almost anything. So the same search is made on random ladders, and teeth are
suggested only where none of them fits as well.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from ridelab.gears.measured import ratio_sd
from ridelab.gears.result import TEETH_SCHEMA
from ridelab.gears.tooth_fit import LEAST_SD, ToothFit, fit_teeth

if TYPE_CHECKING:
    from ridelab.gears.ladder import Stated
    from ridelab.gears.measured import Table
    from ridelab.gears.observations import Floats

#: Random ladders that are searched for comparison; one that fits as well is one too many.
LADDERS = 199
#: Random gears are at least this far apart: closer ones would be measured as one. Every other
#: random ladder is one of even steps, as hubs and gearboxes have them, to within so much.
APART, EVEN_WITHIN = 0.015, 0.01
#: What is sold: common practice, no source.
CHAINRINGS = range(22, 61)
#: How well a stated rollout is usually known, in its logarithm (common practice, no source).
ROLLOUT_SD = 0.015


def teeth_of(table: Table, stated: Stated) -> pl.DataFrame:
    """Return ``TEETH_SCHEMA`` for a measured ladder; empty where one is published."""
    listed = table.listed
    if stated.ladder is not None or listed is None:
        return TEETH_SCHEMA.to_frame()
    found = suggest_teeth(listed.ln_developments, ratio_sd(listed))
    if found is None:
        return TEETH_SCHEMA.to_frame()
    fit, by_chance = found
    rows = pl.DataFrame(
        {
            "gear": table.gears["gear"],
            "ring": fit.ring + 1,
            "chainring": _chainrings(fit, stated.rollout_m),
            "sprocket": fit.sprocket,
            "residual": np.expm1(fit.residuals),
            "ring_ratio": np.exp(fit.ln_ring_ratio),
            "by_chance": by_chance,
        }
    )
    told = pl.when(pl.Series(fit.fits))
    return rows.with_columns(
        told.then(pl.col(name)).alias(name)
        for name in ("ring", "chainring", "sprocket", "residual")
    ).select(pl.col(name).cast(kind) for name, kind in TEETH_SCHEMA.items())


def _chainrings(fit: ToothFit, rollout_m: float | None) -> list[int] | None:
    """Return the teeth of each gear's chainring if the wheel rolls as stated; None if not stated.

    Of two chainrings the pair that makes both their ratio, which is known well, and the teeth of
    the smaller, which are as uncertain as the rollout.
    """
    if rollout_m is None:
        return None
    smaller = np.exp(fit.ln_scale) / rollout_m
    if fit.rings == 1:
        return [round(float(smaller))] * len(fit.ring)
    pairs = [(a, b) for a in CHAINRINGS for b in CHAINRINGS if a < b]
    off = [
        np.hypot(np.log(a / smaller) / ROLLOUT_SD, (np.log(b / a) - fit.ln_ring_ratio) / LEAST_SD)
        for a, b in pairs
    ]
    pair = pairs[int(np.argmin(off))]
    return [pair[ring] for ring in fit.ring.tolist()]


def suggest_teeth(ln_developments: Floats, sd: Floats) -> tuple[ToothFit, float] | None:
    """Return the teeth that a ladder is made of, or None where nothing clearly says so.

    ``ln_developments``: lowest first; ``sd``: their standard errors, what all gears share left out.
    One chainring is tried first, then two. With the teeth comes ``share_by_chance``.
    """
    for rings in (1, 2):
        fit = fit_teeth(ln_developments, sd, rings)
        if fit is not None and fit.within_errors:
            share = share_by_chance(fit, ln_developments, sd)
            if share <= 1.0 / (1 + LADDERS):
                return fit, share
    return None


def share_by_chance(fit: ToothFit, ln_developments: Floats, sd: Floats, most: int = 1) -> float:
    """Return the share of random ladders that the same search rates as well, the ladder included.

    Stops at ``most`` of them: what chance explains so often is not worth a closer figure.
    """
    draw = np.random.default_rng(1)
    hits = tried = 0
    while tried < LADDERS and hits < most:
        random = random_ladder(ln_developments, draw, even=tried % 2 == 1)
        other = fit_teeth(random, sd, fit.rings, worst=fit.rating)
        hits += other is not None and other.rating <= fit.rating
        tried += 1
    return (1 + hits) / (1 + tried)


def random_ladder(
    ln_developments: Floats, draw: np.random.Generator, *, even: bool = False
) -> Floats:
    """Return as many gears between the same ends, at random but ``APART``; or nearly ``even``."""
    count, low = len(ln_developments), ln_developments[0]
    if even:
        steps = np.linspace(low, ln_developments[-1], count)
        steps[1:-1] += draw.normal(0.0, EVEN_WITHIN, count - 2)
        return np.sort(steps)
    apart = min(APART, float(ln_developments[-1] - low) / (count - 1))
    free = float(ln_developments[-1] - low) - (count - 1) * apart
    inner = np.sort(draw.uniform(0.0, free, count - 2))
    return np.asarray(low + np.concatenate([[0.0], inner, [free]]) + apart * np.arange(count))
