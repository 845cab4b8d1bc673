"""What the samples of a ride hold, and what they lack, whatever file they come from."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import polars as pl

    from ridelab.telemetry.notes import Notes


def moves(samples: pl.DataFrame) -> bool:
    """Whether any sample (``SAMPLE_SCHEMA``) has a speed, or the distance grows."""
    return bool((samples["speed_mps"] > 0).any() or (samples["distance_m"].diff() > 0).any())


def tell_missing(samples: pl.DataFrame, notes: Notes) -> None:
    """Write down which channels are missing without which no gear can be named."""
    if not moves(samples):
        notes.warn("no speed and no distance: no gear can be named")
    if not (samples["cadence_rpm"] > 0).any():
        notes.warn("no cadence: no gear can be named")
