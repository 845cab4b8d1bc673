"""How the lag was chosen: for each ride, how densely developments cluster under each lag tried."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from ridelab.report.chart_parts import columnar, finished, key, legend_only, told
from ridelab.report.digits import NO_BREAK, count, number
from ridelab.report.drawing import layered, placed
from ridelab.report.markup import Column, Markup, Row, chart_name, name, table, text
from ridelab.report.palette import light

if TYPE_CHECKING:
    from collections.abc import Callable
    from typing import Any

    import altair as alt

_USED, _OTHER = "speed channel used", "another one"
_LOOKS = {_USED: ("measured", "block"), _OTHER: ("published", "dash")}
_ROW_PX = 64
#: Of the height of a row: where its hill stands, how high it is, and how far its mark rises above.
_FOOT, _HILL, _MARK = 0.98, 0.6, 0.65
_HALF_A_SECOND = 0.5
#: A loss of less than this, half a second off, hardly tells one lag from another.
_FLAT = 0.05


def lag_curves(lags: pl.DataFrame) -> alt.LayerChart:
    """Show a hill for each ride: how densely developments cluster, beside the best lag.

    Args:
        lags: the result of the query ``lags``, of one vehicle; not empty.
    """
    import altair as alt

    hills, choices = _hills(lags), _choices(lags)
    y = alt.Y("y:Q", scale=alt.Scale(domain=[0, len(choices)], reverse=True), axis=None)
    x = alt.X(
        "lag:Q",
        scale=alt.Scale(nice=False),
        axis=alt.Axis(tickMinStep=1, grid=False),
        title="seconds that the speed trails the crank",
    )
    look = key("kind", {word: _LOOKS[word] for word in _LOOKS if word in set(hills["kind"])})
    curves = columnar(hills, by=("ride", "channel", "kind", "foot"))
    each = alt.Detail(["ride:N", "channel:N"])
    used = curves.transform_filter(alt.datum.kind == _USED).mark_area(
        fillOpacity=0.3, line={"strokeWidth": 1.8}, aria=False
    )
    other = curves.transform_filter(alt.datum.kind == _OTHER).mark_line(
        strokeDash=[5, 3], strokeWidth=1.8, aria=False
    )
    layers = [
        used.encode(x, y, alt.Y2("foot:Q"), each, look["color"]),
        other.encode(x, y, each, look["color"]),
        *_said_of_rides(choices, y),
        legend_only(look),
    ]
    return finished(layered(layers), sentence(lags), _ROW_PX * len(choices))


def _said_of_rides(choices: pl.DataFrame, y: alt.Y) -> list[alt.Chart]:
    """Return of each ride its ground, the mark of its lag, its name, and the choice in words."""
    import altair as alt

    def at(field: str) -> alt.Y:
        return alt.Y(f"{field}:Q", scale=y["scale"], axis=None)

    base = alt.Chart(choices)
    ground = base.mark_rule(color=light("quiet"), strokeWidth=1, aria=False)
    mark = base.mark_rule(color=light("ink"), strokeWidth=2)
    words = base.mark_text(
        align="left", baseline="top", limit=150, fontSize=12, color=light("ink"), aria=False
    )
    choice = base.mark_text(
        align="right", baseline="top", fontSize=12, color=light("ink"), aria=False
    )
    return [
        ground.encode(at("foot")),
        mark.encode(alt.X("lag:Q"), at("above"), alt.Y2("foot:Q"), **told()),
        words.encode(at("top"), alt.Text("file:N"), x=placed("X", 0)),
        choice.encode(at("top"), alt.Text("choice:N"), x=placed("X", "width")),
    ]


def _hills(lags: pl.DataFrame) -> pl.DataFrame:
    """Return a row for each lag tried; ``y`` counts rides from the top downwards."""
    place = pl.col("ride").rle_id()
    is_used = pl.col("channel") == pl.col("used_channel")
    return lags.select(
        "channel",
        ride=place,
        foot=place + _FOOT,
        kind=pl.when(is_used).then(pl.lit(_USED)).otherwise(pl.lit(_OTHER)),
        lag="lag_s",
        y=(place + _FOOT - _HILL * pl.col("relative")).round(3),
    )


def _choices(lags: pl.DataFrame) -> pl.DataFrame:
    """Return a row a ride: what was chosen, and where that is drawn."""
    rows = []
    for place, (path, channel, lag, other) in enumerate(_used(lags)):
        file = chart_name(path.rpartition("/")[2])
        choice = f"{channel}, {_seconds(lag)}" + (f", other {_whole(other)}" if other else "")
        rows.append(
            {
                "lag": lag,
                "top": place + 0.06,
                "above": place + _FOOT - _MARK,
                "foot": place + _FOOT,
                "file": file,
                "choice": choice,
                "words": f"{file}: {choice}",
            }
        )
    return pl.DataFrame(rows)


def _used(lags: pl.DataFrame) -> list[tuple[str, str, float, float]]:
    """Return of each ride, in order: path, channel, lag, and weight of the other channel."""
    each = lags.unique("ride", keep="first", maintain_order=True)
    return list(each.select("path", "used_channel", "used_lag_s", "other_share").iter_rows())


def sentence(lags: pl.DataFrame) -> str:
    """Say which channels and lags were chosen, and how much hangs on them."""
    used = _used(lags)
    channels, times = [channel for _, channel, *_ in used], [lag for *_, lag, _ in used]
    said = "The higher the hill, the more densely developments cluster: most with"
    said += f" {_listed(channels)}, at a lag of {_span(times, _seconds)}. "
    if mixed := [other for *_, other in used if other]:
        said += f"The other channel joins by {_span(mixed, _whole)}"
        said += f"{' in ' + count(len(mixed), 'ride') if len(used) > 1 else ''}, under its own lag,"
        said += " since the two err apart. "
    rides = lags.partition_by("ride", maintain_order=True)
    if lost := [loss for ride in rides if (loss := _lost(ride)) is not None]:
        said += f"Half a second off they would cluster less densely, by {_span(lost, _whole)}"
        flat = f"; less than {_whole(_FLAT)} hardly tells one lag from the next."
        said += flat if min(lost) < _FLAT else "."
    left = int(lags["rides_of_vehicle"][0]) - len(used)
    return said + (f" Not drawn: {count(left, 'ride')} with less pedalling." if left else "")


def _lost(ride: pl.DataFrame) -> float | None:
    """Return the share lost half a second off, either side; None where no such lag was tried."""
    used = ride.filter(pl.col("channel") == pl.col("used_channel"))
    away = (pl.col("lag_s") - pl.col("used_lag_s")).abs()
    beside = used.filter((away - _HALF_A_SECOND).abs() < _HALF_A_SECOND / 4)
    if beside.is_empty():
        return None
    return float(
        1 - beside["relative"].sum() / (len(beside) * used.select("relative").max().item())
    )


def _listed(channels: list[str]) -> str:
    kinds = sorted(set(channels), key=lambda one: (-channels.count(one), one))
    if len(kinds) == 1:
        return f"the {kinds[0]}"
    return ", ".join(f"the {kind} ({count(channels.count(kind), 'ride')})" for kind in kinds)


def _span(values: list[float], printed: Callable[[float], str]) -> str:
    low, high = printed(min(values)), printed(max(values))
    return low if low == high else f"{low} to {high}"


def _seconds(lag: float) -> str:
    return f"{_lag(lag)}{NO_BREAK}s"


def _lag(lag: float) -> str:
    return number(lag, 2).rstrip("0").rstrip(".") if lag else "0"


def _whole(share: float) -> str:
    return f"{100 * share:.0f}{NO_BREAK}%"


def lag_table(lags: pl.DataFrame, caption: Markup) -> Markup:
    """Return the sharpest lag of every ride and channel, and which was used."""
    columns = [
        Column("File"),
        Column("Channel"),
        Column("Sharpest at, s", "number"),
        Column("Beside the best, %", "number"),
        Column("Weight, %", "number"),
    ]
    tried = lags.partition_by("ride", "channel", maintain_order=True)
    best = (one.sort("relative", descending=True).row(0, named=True) for one in tried)
    return table(caption, columns, (Row(_cells(row)) for row in best))


def _cells(row: dict[str, Any]) -> list[Markup]:
    is_used = row["channel"] == row["used_channel"]
    weight = 1 - row["other_share"] if is_used else row["other_share"]
    return [
        name(row["path"]),
        text(row["channel"]),
        text(_lag(row["lag_s"])),
        text(f"{100 * row['relative']:.0f}"),
        text(f"{100 * weight:.0f}" if weight else "not used"),
    ]
