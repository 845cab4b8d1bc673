"""Frames as stored -> frames as drawn: one row a mark, in the shown units, with its words.

``words`` is what a mark tells in its tooltip and to a screen reader; its digits are those of the
tables.
"""

from __future__ import annotations

from typing import Any

import polars as pl

from ridelab.report.chart_parts import spaced
from ridelab.report.digits import Printer, duration, half_width
from ridelab.report.markup import chart_name

_STEPLESS_PX, _SPAN_PX = 9.0, 1.0
_RUNG = pl.Schema(
    {
        "vehicle": pl.String(),
        "lane": pl.String(),
        "x": pl.Float64(),
        "low": pl.Float64(),
        "high": pl.Float64(),
        "words": pl.String(),
    }
)
_SPAN = pl.Schema(
    {
        "vehicle": pl.String(),
        "lane": pl.String(),
        "low": pl.Float64(),
        "high": pl.Float64(),
        "thickness": pl.Float64(),
    }
)
_DEVIATION = pl.Schema(
    {
        "gear": pl.Int32(),
        "fit": pl.String(),
        "deviation": pl.Float64(),
        "low": pl.Float64(),
        "high": pl.Float64(),
        "words": pl.String(),
    }
)
_MARK = pl.Schema(
    {
        "gear": pl.Int32(),
        "kind": pl.String(),
        "x": pl.Float64(),
        "words": pl.String(),
        "labelled": pl.Boolean(),
    }
)
_USE = pl.Schema({"gear": pl.Int32(), "minutes": pl.Float64(), "words": pl.String()})

#: Published ratios are rounded when printed; what is nearer than this departs from none of them.
PRINTED = 0.003
#: Of a published gear without a measurement, wherever it is told.
NOT_RIDDEN = "not ridden long enough"


def ladder_rows(ladder: pl.DataFrame, printer: Printer) -> pl.DataFrame:
    """Return a row for each published and each measured gear, measured ones with their interval."""
    scale = printer.scale("development")
    rows = []
    for gear in ladder.iter_rows(named=True):
        for lane, metres in (
            ("published", gear["published_development_m"]),
            ("measured", gear["development_m"]),
        ):
            if metres is not None:
                rows.append(
                    {
                        "vehicle": chart_name(gear["vehicle"]),
                        "lane": lane,
                        "x": metres * scale,
                        **_ends(gear, lane, scale),
                        "words": f"gear {gear['gear']}, {lane}: "
                        + printer.value("development", metres, _half(gear, lane)),
                    }
                )
    return pl.DataFrame(rows, schema=_RUNG)


def _ends(gear: dict[str, Any], lane: str, scale: float) -> dict[str, float | None]:
    low, high = gear["development_low_m"], gear["development_high_m"]
    if lane == "published" or low is None or high is None:
        return {"low": None, "high": None}
    return {"low": low * scale, "high": high * scale}


def _half(gear: dict[str, Any], lane: str) -> float | None:
    if lane == "published":
        return None
    return half_width(gear["development_low_m"], gear["development_high_m"])


def ladder_spans(
    rows: pl.DataFrame, stepless: pl.DataFrame | None, printer: Printer
) -> pl.DataFrame:
    """Return the lowest and highest of each lane, and a thick row for what has no gears."""
    ends = rows.group_by("vehicle", "lane", maintain_order=True).agg(
        low=pl.col("x").min(), high=pl.col("x").max(), thickness=pl.lit(_SPAN_PX)
    )
    if stepless is None:
        return ends
    scale = printer.scale("development")
    bars = [
        {
            "vehicle": chart_name(row["vehicle"]),
            "lane": "measured",
            "low": row["low_m"] * scale,
            "high": row["high_m"] * scale,
            "thickness": _STEPLESS_PX,
        }
        for row in stepless.iter_rows(named=True)
    ]
    return pl.concat([ends, pl.DataFrame(bars, schema=_SPAN)])


def deviation_rows(ladder: pl.DataFrame, printer: Printer) -> pl.DataFrame:
    """Return a row for each published gear, in percent of the published ratio."""
    rows = []
    for gear in ladder.filter(pl.col("published_ratio").is_not_null()).iter_rows(named=True):
        fit = fit_of(gear)
        value, low, high = gear["deviation"], gear["deviation_low"], gear["deviation_high"]
        told = printer.plus_minus("step", value, half_width(low, high), sign=True)
        words = f"gear {gear['gear']}: {fit}" + ("" if value is None else f", {told} %")
        percents = {"deviation": value, "low": low, "high": high}
        rows.append(
            {"gear": gear["gear"], "fit": fit, "words": words}
            | {name: None if one is None else 100 * one for name, one in percents.items()}
        )
    return pl.DataFrame(rows, schema=_DEVIATION)


def fit_of(gear: dict[str, Any]) -> str:
    """Return "as published", "departs" or ``NOT_RIDDEN``.

    A gear departs if its 95 % interval stays clear of every published setting that shares it, by
    more than ``PRINTED``.
    """
    low, high = gear["deviation_low"], gear["deviation_high"]
    if low is None or high is None:
        return NOT_RIDDEN
    reached = low <= gear["allowed_high"] + PRINTED and high >= gear["allowed_low"] - PRINTED
    return "as published" if reached else "departs"


def gear_marks(ladder: pl.DataFrame, printer: Printer) -> pl.DataFrame:
    """Return a row for each gear at its measured development, else at its published one."""
    scale = printer.scale("development")
    rows = []
    for gear in ladder.iter_rows(named=True):
        measured = gear["development_m"] is not None
        metres = gear["development_m"] if measured else gear["published_development_m"]
        if metres is None:
            continue
        kind = "measured" if measured else NOT_RIDDEN
        half = _half(gear, "measured" if measured else "published")
        words = f"gear {gear['gear']}, {kind}: {printer.value('development', metres, half)}"
        rows.append({"gear": gear["gear"], "kind": kind, "x": metres * scale, "words": words})
    rows.sort(key=lambda row: row["x"])
    free = set(spaced([row["x"] for row in rows]))
    return pl.DataFrame(
        [row | {"labelled": place in free} for place, row in enumerate(rows)], schema=_MARK
    )


def use_rows(ladder: pl.DataFrame, printer: Printer) -> pl.DataFrame:
    """Return a row for each measured gear: minutes engaged."""
    rows = [
        {
            "gear": gear["gear"],
            "minutes": gear["seconds"] / 60,
            "words": f"gear {gear['gear']}: {duration(gear['seconds'])}, "
            + printer.value("distance", gear["distance_m"]),
        }
        for gear in ladder.iter_rows(named=True)
        if gear["seconds"] is not None
    ]
    return pl.DataFrame(rows, schema=_USE)
