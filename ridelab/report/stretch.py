"""Ten minutes of riding, second by second, with the gears that were named: the busiest ones."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import polars as pl

from ridelab.report.chart_parts import (
    columnar,
    development_height,
    domain,
    finished,
    key,
    spaced,
    told,
    with_marks,
)
from ridelab.report.digits import NO_BREAK, UNKNOWN, Printer, count, percent
from ridelab.report.drawing import layered, placed
from ridelab.report.markup import Column, Markup, Row, chart_name, table, text
from ridelab.report.palette import light
from ridelab.report.stretch_profile import (
    below_px,
    has_profile,
    height,
    height_head,
    profile,
    profile_sentence,
)

if TYPE_CHECKING:
    import altair as alt


class _State(NamedTuple):
    """How a state of the query is told and drawn."""

    word: str
    sign: tuple[str, str]
    size: float
    dashes: list[float]
    width_px: float


_STATES = {
    "driving": _State("crank drives the wheel", ("measured", "disc"), 12, [1, 0], 1.6),
    "without drive": _State("without drive", ("idle", "stroke"), 28, [4, 3], 1.2),
    "in doubt": _State("gear below 80 % sure", ("doubt", "gem"), 34, [1.5, 2.5], 2.4),
    "no gear": _State("drives, gear unknown", ("quiet", "ring"), 20, [1, 0], 0),
}
_CHART_PX = 300
#: How far above the highest gear engaged, and below the lowest, the picture reaches.
_ABOVE, _BELOW = 1.3, 0.87
_MINUTE_S = 60
#: Across a longer silence the stair is broken.
_GAP_S = 10.0


def stretch_of_ride(
    stretch: pl.DataFrame, ladder: pl.DataFrame, printer: Printer
) -> alt.LayerChart:
    """Show the development of each second, the gears as levels, and the gear engaged as a stair.

    Below it, on the same axis of time, lies the height of the road, where altitudes were recorded.

    Args:
        stretch: the result of the query ``stretch``, of one vehicle; not empty.
        ladder: of that vehicle.
        printer: of developments.
    """
    import altair as alt

    ends = _ends(stretch, printer)
    first, last = (end / _MINUTE_S for end in _from_to(stretch))
    x = alt.X(
        "minute:Q",
        scale=alt.Scale(domain=[first, last], nice=False),
        axis=alt.Axis(grid=False, format="d", tickMinStep=1, labelOverlap=True),
        title="minutes since the start of the ride",
    )
    y = development_height("development", ends, printer)
    y["scale"]["range"] = [_CHART_PX, 0]
    shown = [state for state in _STATES if state in set(stretch["state"])]
    look = key("state", {_STATES[one].word: _STATES[one].sign for one in shown}, columns=2)
    treads, points = _treads(stretch, printer), _points(stretch, printer)
    layers = [
        *_levels(ladder, ends, y, printer),
        _risers(treads, x, y),
        *with_marks(*(_stair(treads, _STATES[one], x, y, look) for one in shown)),
        *(_cloud(points, _STATES[one], x, y, look) for one in shown),
    ]
    if has_profile(stretch):
        layers += profile(stretch, x, _CHART_PX, printer)
    height_px = _CHART_PX + below_px(stretch)
    return finished(layered(layers), sentence(stretch, printer), height_px)


def _cloud(
    points: pl.DataFrame, state: _State, x: alt.X, y: alt.Y, look: dict[str, Any]
) -> alt.Chart:
    own = columnar(points.filter(pl.col("state") == state.word), by=("state",))
    cloud: alt.Chart = own.mark_point(filled=True, opacity=1, size=state.size, aria=False).encode(
        x, y, **look
    )
    return cloud


def _from_to(stretch: pl.DataFrame) -> tuple[float, float]:
    """Return where the stretch begins and ends, in seconds: a ride may end before ten minutes."""
    recorded = float(stretch["t_s"][-1]) + float(stretch["seconds"][-1])
    return float(stretch["from_s"][0]), min(float(stretch["to_s"][0]), recorded)


def _ends(stretch: pl.DataFrame, printer: Printer) -> tuple[float, float]:
    scale = printer.scale("development")
    levels = stretch["level_m"].drop_nulls() * scale
    if levels.is_empty():
        seen = stretch["development_m"].drop_nulls() * scale
        return domain(seen.quantile(share) for share in (0.01, 0.99))
    low, high = (float(level) for level in levels.sort().gather([0, -1]))
    return domain([_BELOW * low, _ABOVE * high])


def _word(state: pl.Expr) -> pl.Expr:
    return state.replace_strict({state: said.word for state, said in _STATES.items()})


def _points(stretch: pl.DataFrame, printer: Printer) -> pl.DataFrame:
    """Return a row for each second that has a development."""
    seen = stretch.filter(pl.col("development_m").is_not_null())
    return seen.select(
        state=_word(pl.col("state")),
        minute=(pl.col("t_s") / _MINUTE_S).round(2),
        development=(pl.col("development_m") * printer.scale("development")).round(3),
    ).sort("state", "minute")


def _levels(
    ladder: pl.DataFrame, ends: tuple[float, float], y: alt.Y, printer: Printer
) -> list[alt.Chart]:
    """Return a line for each gear that the picture reaches, with its number at the right."""
    import altair as alt

    scale = printer.scale("development")
    rows = ladder.select(
        "gear",
        development=pl.coalesce("development_m", "published_development_m") * scale,
        dashed=pl.col("development_m").is_null(),
    ).filter(pl.col("development").is_between(*ends))
    rows = rows.sort("development")
    numbers = alt.Chart(rows[spaced(rows["development"].to_list())]).mark_text(
        align="left", dx=5, fontSize=12, color=light("ink"), aria=False
    )
    line: dict[str, Any] = {"color": light("line"), "strokeWidth": 1, "aria": False}
    return [
        alt.Chart(rows.filter(~pl.col("dashed"))).mark_rule(**line).encode(y),
        alt.Chart(rows.filter("dashed")).mark_rule(strokeDash=[3, 4], **line).encode(y),
        numbers.encode(y, alt.Text("gear:N"), x=placed("X", "width")),
    ]


def _risers(treads: pl.DataFrame, x: alt.X, y: alt.Y) -> alt.Chart:
    """Return the upright parts of the stair, where one gear follows another."""
    import altair as alt

    rows = treads.filter(pl.col("below").is_not_null())
    chart: alt.Chart = (
        columnar(rows.select("minute", "development", "below"))
        .mark_rule(color=light("quiet"), strokeWidth=0.7, aria=False)
        .encode(x, y, alt.Y2("below:Q"))
    )
    return chart


def _stair(
    treads: pl.DataFrame, state: _State, x: alt.X, y: alt.Y, look: dict[str, Any]
) -> alt.Chart:
    """Return the level parts of the stair in one state."""
    import altair as alt

    own = treads.filter((pl.col("state") == state.word) & pl.col("development").is_not_null())
    chart: alt.Chart = (
        columnar(own.drop("below"), by=("state",))
        .mark_rule(strokeDash=state.dashes, strokeWidth=state.width_px)
        .encode(x, alt.X2("until:Q"), y, look["color"], **told())
    )
    return chart


def _treads(stretch: pl.DataFrame, printer: Printer) -> pl.DataFrame:
    """Return a row for each unbroken time in one gear and state."""
    scale = printer.scale("development")
    runs = stretch.group_by(
        pl.struct("hold", "state").rle_id().alias("run"), maintain_order=True
    ).agg(
        pl.col("gear", "state", "level_m", "t_s").first(),
        until=(pl.col("t_s") + pl.col("seconds")).last(),
    )
    gear = pl.format("gear {}", pl.col("gear")).fill_null("no gear")
    word = _word(pl.col("state"))
    level = (pl.col("level_m") * scale).round(3)
    lasted = (pl.col("until") - pl.col("t_s")).round().cast(pl.Int64)
    changed = (pl.col("level_m") != pl.col("level_m").shift()) & (
        pl.col("t_s") - pl.col("until").shift() < _GAP_S
    )
    return runs.select(
        state=word,
        minute=(pl.col("t_s") / _MINUTE_S).round(2),
        until=(pl.col("until") / _MINUTE_S).round(2),
        development=level,
        below=pl.when(changed).then(level.shift()),
        words=pl.format("{}: {}, {} s", gear, word, lasted),
    )


def sentence(stretch: pl.DataFrame, printer: Printer) -> str:
    """Say where the stretch lies, how often it was shifted, how sure the gears are, and the road.

    The height of the road is told where altitudes were recorded, and else that none were.
    """
    return f"{_of_gears(stretch, printer)} {profile_sentence(stretch, printer)}"


def _of_gears(stretch: pl.DataFrame, printer: Printer) -> str:
    first = stretch.row(0, named=True)
    path = chart_name(str(first["path"]).rpartition("/")[2])
    start, end = (f"{one / _MINUTE_S:.0f}" for one in _from_to(stretch))
    said = f"Minutes {start} to {end} of {path}"
    gears = stretch["gear"].drop_nulls().sort()
    total = float(stretch["seconds"].sum())
    spent = {state: _spent(stretch, state) / total for state in _STATES}
    if gears.is_empty():
        return f"{said}: {_without_gears(stretch, printer)}."
    said += f", the busiest ten: {count(first['shifts'], 'shift')}, gears {gears[0]} to"
    said += f" {gears[-1]}. The crank drove the wheel for {percent(spent['driving'])} of the time,"
    said += f" and not for {percent(spent['without drive'])}; for {percent(spent['in doubt'])} the"
    said += f" gear is less than 80{NO_BREAK}% sure."
    if spent["no gear"]:
        said += f" For {percent(spent['no gear'])} none is named."
    return f"{said} Points off the stair are shifts under way or, above it, lack of drive."


def _without_gears(stretch: pl.DataFrame, printer: Printer) -> str:
    low, high = (stretch["development_m"].quantile(share) for share in (0.05, 0.95))
    ends = f"{printer.bare('development', low)} to {printer.value('development', high)}"
    return f"no gear is named; for nine tenths of the seconds developments range from {ends}"


def _spent(stretch: pl.DataFrame, state: str) -> float:
    return float(stretch.filter(pl.col("state") == state)["seconds"].sum())


def stretch_table(stretch: pl.DataFrame, printer: Printer, caption: Markup) -> Markup:
    """Return a row for each time in one gear; where no gear is named, one for each minute."""
    scale = printer.scale("development")
    driving = pl.col("state").is_in(["driving", "no gear"])
    named = stretch["gear"].count() > 0
    part = pl.col("hold") if named else pl.col("t_s") // _MINUTE_S
    holds = stretch.group_by(part.alias("part"), maintain_order=True).agg(
        pl.col("t_s", "gear").first(),
        altitude=pl.col("altitude_m").mean(),
        middle=(pl.col("development_m").filter(driving) * scale).median(),
        driving=pl.col("seconds").filter(driving).sum(),
        without=pl.col("seconds").filter(pl.col("state") == "without drive").sum(),
        doubtful=pl.col("seconds").filter(pl.col("state") == "in doubt").sum(),
    )
    columns = [
        Column("From, min:s", "number"),
        Column("Gear", "number"),
        Column(printer.headed("Middle development", "development"), "number"),
        Column("Driving, s", "number"),
        Column("Without drive, s", "number"),
        Column("Gear in doubt, s", "number"),
        Column(height_head(printer), "number"),
    ]
    rows = (Row(_cells(row, printer)) for row in holds.iter_rows(named=True))
    return table(caption, columns, rows)


def _cells(row: dict[str, Any], printer: Printer) -> list[Markup]:
    altitude = row["altitude"]
    minutes, seconds = divmod(int(row["t_s"]), _MINUTE_S)
    return [
        text(f"{minutes}:{seconds:02d}"),
        text(UNKNOWN if row["gear"] is None else row["gear"]),
        text(UNKNOWN if row["middle"] is None else f"{row['middle']:.2f}"),
        *(text(f"{row[spent]:.0f}") for spent in ("driving", "without", "doubtful")),
        text(UNKNOWN if altitude is None else height(altitude, printer)),
    ]
