"""Charts: each stands alone, draws what it was given, and never more than it needs."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, Any

import polars as pl
import pytest
import vl_convert

from ridelab.report import charts
from ridelab.report.chart_parts import columnar, domain, spaced
from ridelab.report.chart_rows import deviation_rows, fit_of
from ridelab.report.digits import Printer
from ridelab.report.exhibits import exhibits
from ridelab.report.figures import inert, shared_look
from ridelab.report.findings import VehicleFindings, read_findings
from ridelab.report.palette import PALETTE

if TYPE_CHECKING:
    import altair as alt

    from tests.report.fabricated import FabricatedStore

FOOT_M = 0.3048  # exact: NIST SP 811, appendix B.8


@pytest.fixture(scope="module")
def heron(store: FabricatedStore) -> VehicleFindings:
    """Return the vehicle whose fourth gear departs and whose ninth was not ridden."""
    return read_findings(store).vehicles[0]


@pytest.fixture(scope="module")
def all_charts(store: FabricatedStore) -> dict[str, alt.Chart | alt.LayerChart]:
    """Return every kind of chart of every vehicle that has it."""
    drawn: dict[str, alt.Chart | alt.LayerChart] = {}
    for one in read_findings(store).vehicles:
        if not one.measured.is_empty():
            drawn[f"strips of {one.name}"] = charts.ladder_strips(one.ladder)
            drawn[f"time of {one.name}"] = charts.time_in_gear(one.ladder)
        if not one.published.is_empty():
            drawn[f"deviations of {one.name}"] = charts.deviations(one.ladder)
        for exhibit in exhibits(one, Printer("metric")):
            drawn[f"{exhibit.key} of {one.name}"] = exhibit.picture()
    return drawn


def rows_of(chart: alt.Chart | alt.LayerChart) -> list[list[dict[str, Any]]]:
    """Return the rows of every data set in a chart."""
    return list(chart.to_dict()["datasets"].values())


def drawing(chart: alt.Chart | alt.LayerChart) -> str:
    """Return the chart as drawn by another program than a browser."""
    spec = chart.to_dict() | {"width": 600}
    return str(vl_convert.vegalite_to_svg(spec, vl_version="6.4"))


def test_charts_are_drawn_without_a_page(
    all_charts: dict[str, alt.Chart | alt.LayerChart],
) -> None:
    """As in a notebook: each says what it shows and paints only colours of the palette."""
    assert len(all_charts) > 20
    ours = {light for light, _ in PALETTE.values()}
    for title, chart in all_charts.items():
        svg = drawing(chart)
        assert set(re.findall(r'(?:fill|stroke)="(#[^"]+)"', svg)) <= ours, title
        assert len(chart.to_dict()["description"]) > 10, title


def test_data_by_column_are_the_same_data() -> None:
    """Written once for each group, and flattened again by the chart itself."""
    rows = pl.DataFrame({"kind": ["a", "b", "a"], "x": [1, 2, 3], "y": [0.5, None, 1.5]})
    chart = columnar(rows, by=("kind",)).mark_point().encode(x="x:Q", y="y:Q", color="kind:N")
    spec = chart.to_dict()
    (packed,) = spec["datasets"].values()
    assert packed == [
        {"kind": "a", "x": [1, 3], "y": [0.5, 1.5]},
        {"kind": "b", "x": [2], "y": [None]},
    ]
    assert spec["transform"] == [{"flatten": ["x", "y"]}]
    (whole,) = columnar(rows).mark_point().to_dict()["datasets"].values()
    assert whole == [{"kind": ["a", "b", "a"], "x": [1, 2, 3], "y": [0.5, None, 1.5]}]


def test_a_strip_has_a_mark_for_each_published_and_each_measured_gear(
    heron: VehicleFindings,
) -> None:
    """Nine above, eight below."""
    (marks,) = (
        rows
        for rows in rows_of(charts.ladder_strips(heron.ladder))
        if "x" in rows[0] and "lane" in rows[0]
    )
    lanes = [row["lane"] for row in marks]
    assert (lanes.count("published"), lanes.count("measured")) == (9, 8)


def test_strips_are_drawn_in_feet_where_asked(heron: VehicleFindings) -> None:
    """The same ladder, in the unit of the axis."""
    metres, feet = (
        sorted(
            row["x"]
            for rows in rows_of(charts.ladder_strips(heron.ladder, units=units))
            for row in rows
            if "lane" in row and "x" in row
        )
        for units in ("metric", "imperial")
    )
    assert [foot * FOOT_M for foot in feet] == pytest.approx(metres)
    assert "ft a crank turn" in drawing(charts.ladder_strips(heron.ladder, units="imperial"))


def test_strips_stand_in_the_order_asked_for(store: FabricatedStore) -> None:
    """Stepless vehicles among the others, where the campaign has them."""
    vehicles = read_findings(store).vehicles
    ladder = pl.concat([one.ladder for one in vehicles if not one.stepless])
    wren = vehicles[2].developments.select("vehicle", "low_m", "high_m").head(1)
    chart = charts.ladder_strips(ladder, wren, order=["wren", "tern", "heron"])
    assert chart.to_dict()["layer"][0]["encoding"]["y"]["sort"] == [
        "wren",
        "tern",
        "heron",
        "otter",
    ]


def test_a_gear_departs_if_its_interval_does_not_reach_zero(heron: VehicleFindings) -> None:
    """Only the fourth does; the ninth says that it was not ridden."""
    rows = deviation_rows(heron.ladder, Printer("metric"))
    fits = dict(zip(rows["gear"], rows["fit"], strict=True))
    assert fits == dict.fromkeys(range(1, 9), "as published") | {
        4: "departs",
        9: "not ridden long enough",
    }
    assert rows.row(3, named=True)["deviation"] == pytest.approx(2.3)


@pytest.mark.parametrize(
    ("low", "high", "fit"),
    [
        (-0.01, 0.01, "as published"),
        (0.0, 0.02, "as published"),
        (0.0029, 0.02, "as published"),
        (0.0031, 0.02, "departs"),
        (-0.02, -0.0031, "departs"),
        (None, None, "not ridden long enough"),
    ],
)
def test_fit(low: float | None, high: float | None, fit: str) -> None:
    """A published ratio is reached if it is within the rounding of its print, 0.3 %."""
    published = {"allowed_low": 0.0, "allowed_high": 0.0}
    assert fit_of({"deviation_low": low, "deviation_high": high} | published) == fit


def test_a_shared_gear_departs_from_neither_of_its_settings() -> None:
    """Settings 0.6 % either side of their mean: riding one of them alone is no departure."""
    shared = {"allowed_low": -0.006, "allowed_high": 0.006}
    assert fit_of({"deviation_low": -0.007, "deviation_high": -0.005} | shared) == "as published"
    assert fit_of({"deviation_low": -0.012, "deviation_high": -0.010} | shared) == "departs"


def test_small_departures_look_small(heron: VehicleFindings) -> None:
    """The scale of departures never shrinks below one percent either way."""
    small = heron.ladder.with_columns(
        deviation=pl.lit(0.0001), deviation_low=pl.lit(-0.0001), deviation_high=pl.lit(0.0003)
    )
    low, high = charts.deviations(small).to_dict()["layer"][0]["encoding"]["y"]["scale"]["domain"]
    assert low <= -1
    assert high >= 1


def test_crowded_gear_numbers_give_way() -> None:
    """Of gears a percent apart only some are numbered, the lowest always."""
    kept = spaced([1.01**place for place in range(100)])
    assert kept[0] == 0
    assert 10 < len(kept) < 25
    assert spaced([1.0, 2.0, 4.0]) == [0, 1, 2]
    assert spaced([]) == []


def test_a_scale_shows_all_there_is() -> None:
    """Nulls and what no logarithm has are passed over; a scale of nothing is still a scale."""
    low, high = domain([2.0, None, 8.0, 0.0])
    assert low < 2.0 < 8.0 < high
    assert domain([]) == (1.0, 10.0)


def test_inert_data_cannot_end_its_element() -> None:
    """Read back it is the same but for the look of all; it holds no "<" and no line separator."""
    frame = pl.DataFrame(
        {"vehicle": ["</script><!--\u2028"], "gear": [1], "seconds": [60.0], "distance_m": [9.0]}
    )
    chart = charts.time_in_gear(frame).properties(description="</script>\u2028<b>")
    written = inert(chart)
    assert "<" not in written
    assert "\u2028" not in written
    in_the_page = json.loads(written) | {"config": json.loads(shared_look())}
    assert in_the_page == json.loads(json.dumps(chart.to_dict()))
