"""What casts doubt on a vehicle, and why nothing can be named of it, in the words of ``problems``.

The page and the terminal say the same.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from ridelab.problems import NO_GEAR

if TYPE_CHECKING:
    from collections.abc import Iterable


def concerning(problems: pl.DataFrame, vehicle: str, paths: Iterable[str]) -> pl.DataFrame:
    """Return the rows of ``problems`` on a vehicle and its rides; stages name either as the path.

    ``paths``: of its rides.
    """
    named = pl.col("path").is_in([vehicle, *paths])
    return problems.filter(named | (pl.col("vehicle") == vehicle).fill_null(value=False))


def doubts(problems: pl.DataFrame, vehicle: str) -> list[str]:
    """Return what casts doubt on the figures of a vehicle: a wrong wheel, a ladder that may slide.

    ``problems``: those concerning it. That a ride names no gear says nothing against the others.
    """
    told = _warnings(problems).filter(
        pl.col("stage").is_in(["wheel", "measure"]) & ~pl.col("message").str.ends_with(NO_GEAR)
    )
    return [
        message if path == vehicle else f"{path}: {message}"
        for path, message in told.select("path", "message").iter_rows()
    ]


def cautions(problems: pl.DataFrame) -> list[str]:
    """Return where a stage is loaded beyond its limit; ``problems``: those concerning a vehicle."""
    return problems.filter(pl.col("stage") == "torque")["message"].to_list()


def why_not(problems: pl.DataFrame, vehicle: str) -> list[str]:
    """Return why nothing can be named of a vehicle, each reason once.

    ``problems``: those concerning it. Reasons that lie in its rides come first, else what measuring
    said of the vehicle, else whatever was said.
    """
    told = _warnings(problems)
    measuring = told.filter(pl.col("stage") == "measure")
    of_rides = told.filter(
        (pl.col("path") != vehicle)
        & ((pl.col("stage") == "measure") | pl.col("message").str.ends_with(NO_GEAR))
    )
    said = next((one for one in (of_rides, measuring, told) if len(one)), told)["message"]
    return list(dict.fromkeys(message.rstrip(".").removesuffix(NO_GEAR) for message in said))


def _warnings(problems: pl.DataFrame) -> pl.DataFrame:
    return problems.filter(pl.col("severity") != "note")
