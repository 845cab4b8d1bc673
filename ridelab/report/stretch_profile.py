"""The road below the stair of gears: its height, second by second, on the same axis of time."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import polars as pl

from ridelab.report.chart_parts import columnar
from ridelab.report.digits import NO_BREAK, Printer, number, percent
from ridelab.report.drawing import placed
from ridelab.report.palette import light

if TYPE_CHECKING:
    import altair as alt

PROFILE_PX = 96
_APART_PX = 22
#: A road that rises by less than this is drawn as flat as it is, not as high as its noise.
_LEAST_M = 20.0
#: Of a number, so that two do not touch.
_NUMBER_PX = 14
#: One point for so many seconds: a picture has no more room.
_EVERY_S = 4.0
#: Across a longer silence, or time without an altitude, the road is broken.
_GAP_S = 10.0
_MINUTE_S = 60.0
_SOURCES = {
    "barometric": "by barometer",
    "satellite": "by satellite, so roughly",
    "unknown": "as recorded, by what the file does not say",
}


def has_profile(stretch: pl.DataFrame) -> bool:
    """Whether any altitude was recorded; ``stretch``: the result of the query of that name."""
    return stretch["altitude_m"].count() > 1


def profile(stretch: pl.DataFrame, x: alt.X, top_px: float, printer: Printer) -> list[alt.Chart]:
    """Return the layers of the road's height, below ``top_px``, with its ends in numbers.

    Heights are drawn in pixels, since the scale of the other layers is that of developments.
    """
    import altair as alt

    low, high = _ends(stretch)
    foot = top_px + _APART_PX + PROFILE_PX
    per_m = PROFILE_PX / max(high - low, _LEAST_M)
    road = _road(stretch).select(
        "part",
        "minute",
        height=(foot - (pl.col("altitude_m") - low) * per_m).round(1),
        foot=pl.lit(foot),
    )
    y = alt.Y("height:Q", scale=None, axis=None, stack=None)
    ground = columnar(road, by=("part", "foot"))
    marks: list[alt.Chart] = [
        ground.mark_area(color=light("line"), opacity=0.6, aria=False).encode(
            x, y, alt.Y2("foot:Q"), alt.Detail("part:N")
        ),
        ground.mark_line(color=light("idle"), strokeWidth=1.5, aria=False).encode(
            x, y, alt.Detail("part:N")
        ),
    ]
    top = min(foot - (high - low) * per_m, foot - _NUMBER_PX)
    said = pl.DataFrame({"at": [top, foot], "said": [_height(one, printer) for one in (high, low)]})
    numbers = alt.Chart(said).mark_text(
        align="left", dx=5, fontSize=12, color=light("quiet"), aria=False
    )
    return [*marks, numbers.encode(alt.Y("at:Q", scale=None, axis=None), alt.Text("said:N"),
                                   placed("X", "width"))]  # fmt: skip


def below_px(stretch: pl.DataFrame) -> int:
    """Return how much room the road takes below the stair; none without altitudes."""
    return PROFILE_PX + _APART_PX if has_profile(stretch) else 0


def profile_sentence(stretch: pl.DataFrame, printer: Printer) -> str:
    """Say how high the road is, by what it was measured, and where no altitude was recorded."""
    if not has_profile(stretch):
        return "No altitude was recorded, so the road has no profile here."
    low, high = (_height(one, printer) for one in _ends(stretch))
    source = _SOURCES.get(stretch["altitude_source"][0] or "unknown", _SOURCES["unknown"])
    said = f"Below the stair lies the height of the road, {low} to {high}, {source}."
    unknown = stretch.filter(pl.col("altitude_m").is_null())["seconds"].sum()
    if unknown:
        share = percent(float(unknown) / float(stretch["seconds"].sum()))
        said += f" For {share} of the time no altitude was recorded."
    return said


def height_head(printer: Printer) -> str:
    """Return the head of a column of heights."""
    return f"Height, {printer.unit('development')}"


def height(metres: float, printer: Printer) -> str:
    """Print a height in whole metres or feet, without its unit: no altimeter tells more."""
    return number(metres * printer.scale("development"), 0)


def _height(metres: float, printer: Printer) -> str:
    return f"{height(metres, printer)}{NO_BREAK}{printer.unit('development')}"


def _ends(stretch: pl.DataFrame) -> tuple[float, float]:
    known: Any = stretch["altitude_m"].drop_nulls()
    return float(known.min()), float(known.max())


def _road(stretch: pl.DataFrame) -> pl.DataFrame:
    """Return a row every few seconds that has an altitude; ``part`` counts unbroken ones."""
    known = stretch.filter(pl.col("altitude_m").is_not_null())
    thin = known.unique(pl.col("t_s") // _EVERY_S, keep="first", maintain_order=True)
    broken = pl.col("t_s").diff().fill_null(0.0) > _GAP_S
    return thin.select(
        "altitude_m",
        part=broken.cum_sum().cast(pl.String),
        minute=(pl.col("t_s") / _MINUTE_S).round(2),
    )
