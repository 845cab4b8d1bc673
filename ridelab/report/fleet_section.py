"""The first screen of a shop: what needs hands, all vehicles side by side, what is due when."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from ridelab.report.chart_parts import finished, key, told
from ridelab.report.digits import NO_BREAK, percent
from ridelab.report.drawing import layered
from ridelab.report.exhibit import Exhibit
from ridelab.report.figures import exhibited
from ridelab.report.fleet_words import (
    ALL_WELL,
    day,
    needs_hands,
    ridden_of,
    service_word,
    tested,
)
from ridelab.report.markup import (
    NOTHING,
    Column,
    Markup,
    Row,
    anchor,
    bullets,
    chart_name,
    heading,
    link,
    name,
    paragraph,
    sentence,
    table,
    tag,
    text,
)
from ridelab.report.palette import light

if TYPE_CHECKING:
    from collections.abc import Iterator

    import altair as alt

    from ridelab.report.digits import Printer
    from ridelab.report.findings import Findings, Record

_ROW_PX = 26
_APART_PX = 10  # so that a name does not touch a mark at 0
#: Words of the table that ask for somebody's hands: the eye finds them among twenty vehicles.
_STRESSED = frozenset({"look", "failing", "overdue", "soon"})
_WAY, _TIME = "by distance", "by time"
_LOOK = {_WAY: ("measured", "disc"), _TIME: ("published", "diamond")}
_LIMITS = (
    "Service only reminds: intervals are the maker's, way that was not recorded is not counted, "
    "and the maker's manual and a qualified mechanic decide."
)
SERVICE_SENTENCE = (
    "How much of each service interval is used up, by distance and by time; whichever reaches the "
    "line first makes the service due."
)


def fleet_section(findings: Findings, printer: Printer) -> Markup:
    """Return what a shop asks of its vehicles; nothing where nobody asked for it."""
    if not has_fleet(findings):
        return NOTHING
    fleet = findings.fleet
    rows = fleet.fleet.to_dicts()
    return tag(
        "section",
        heading("h2", text("The fleet"), "fleet", "the fleet"),
        _needs(needs_hands(fleet, printer)),
        exhibited(fleet_exhibits(findings)),
        table(
            text("All vehicles side by side"),
            _columns(printer),
            (_row(row, printer) for row in rows),
        ),
        paragraph(text(_LIMITS), class_="quiet"),
        id="fleet",
    )


def has_fleet(findings: Findings) -> bool:
    """Whether a pipeline filled what is told of a fleet."""
    return len(findings.fleet.service) > 0


def _needs(needs: list[str]) -> Markup:
    if not needs:
        return paragraph(text(f"{ALL_WELL[0].upper()}{ALL_WELL[1:]}."))
    said = tag("p", tag("strong", text("Needs hands:")))
    return tag("div", said, bullets(sentence(f"{one}.") for one in needs))


def _columns(printer: Printer) -> list[Column]:
    return [
        Column("Vehicle"),
        Column("Rides", "number"),
        Column(printer.headed("Way", "distance"), "number"),
        Column("Last ride", "whole"),
        Column("Gears", "number"),
        Column(printer.headed("Range", "range"), "number"),
        Column("Ladder"),
        Column("Service", "whole"),
        Column("Sensors"),
    ]


def _row(row: Record, printer: Printer) -> Row:
    vehicle = row["vehicle"]
    return Row(
        [
            link(anchor("vehicle", vehicle), name(vehicle)),
            text(row["rides"]),
            text(printer.bare("distance", row["distance_m"])),
            text(day(row["last_ride_at"])),
            text(ridden_of(row["gears_ridden"], row["gears_published"])),
            text(printer.bare("range", row["range"])),
            _stressed(tested(row["health"])),
            _stressed(service_word(row)),
            _stressed(tested(row["sensors"])),
        ]
    )


def _stressed(word: str) -> Markup:
    return tag("strong", text(word)) if word in _STRESSED else text(word)


def fleet_exhibits(findings: Findings) -> Iterator[Exhibit]:
    """Yield how much of each service interval is used up."""
    service = findings.fleet.service
    if len(rows := service_rows(service, findings.fleet.rides)):
        title = "Distance and days to service"
        yield Exhibit("service", None, title, SERVICE_SENTENCE, service_chart(rows), service)


def service_chart(rows: pl.DataFrame) -> alt.LayerChart:
    """Show what share of its service interval each vehicle has used; ``rows``: ``service_rows``."""
    import altair as alt

    order = rows["vehicle"].unique(maintain_order=True).to_list()
    most = max(float(str(rows["used"].max())), 100.0) * 1.05
    x = alt.X(
        "used:Q",
        scale=alt.Scale(domain=[0, most], nice=False),
        axis=alt.Axis(tickCount=6, grid=True),
        title="used of the service interval, %",
    )
    labels = alt.Axis(ticks=False, domain=False, labelLimit=140, labelPadding=_APART_PX, grid=False)
    y = alt.Y("vehicle:N", sort=order, title=None, axis=labels)
    due = (
        alt.Chart(pl.DataFrame({"used": [100.0]}))
        .mark_rule(color=light("departs"), strokeWidth=2, aria=False)
        .encode(x)
    )
    present = {word: sign for word, sign in _LOOK.items() if word in set(rows["kind"])}
    points = (
        alt.Chart(rows)
        .mark_point(filled=True, opacity=1, size=90)
        .encode(x, y, **key("kind", present), **told())
    )
    words = "Share of each vehicle's service interval used, by distance and by time."
    return finished(layered([due, points]), words, _ROW_PX * max(len(order), 2) + 10)


def service_rows(service: pl.DataFrame, rides: pl.DataFrame) -> pl.DataFrame:
    """Return the share of its interval that each vehicle has used, in percent, by way and time.

    Time counts from the last service that is stated, else from the first ride.
    """
    firsts = rides.group_by("vehicle").agg(first_on=pl.col("started_at").min().dt.date())
    counted = service.join(firsts, on="vehicle", how="left", maintain_order="left")
    counted = counted.with_columns(serviced_on=pl.coalesce("serviced_on", "first_on"))
    shares = counted.select(
        "vehicle",
        way=pl.col("since_service_m") / (pl.col("since_service_m") + pl.col("remaining_m")),
        time=(pl.col("told_on") - pl.col("serviced_on")).dt.total_days()
        / (pl.col("due_on") - pl.col("serviced_on")).dt.total_days(),
    )
    rows = [
        {
            "vehicle": chart_name(row["vehicle"]),
            "kind": kind,
            "used": 100 * row[column],
            "words": f"{chart_name(row['vehicle'])}, {kind}: "
            f"{percent(row[column]).replace(NO_BREAK, ' ')} used",
        }
        for row in shares.iter_rows(named=True)
        for column, kind in (("way", _WAY), ("time", _TIME))
        if row[column] is not None
    ]
    schema = {"vehicle": pl.String, "kind": pl.String, "used": pl.Float64, "words": pl.String}
    return pl.DataFrame(rows, schema=schema)
