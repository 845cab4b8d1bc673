"""Charts made for a page: less is looked at on the way, and the same comes out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import altair as alt
import polars as pl
import pytest
import vl_convert
from altair.utils import schemapi

from ridelab.report.digits import Printer
from ridelab.report.drawing import layered, placed, specified, unchecked, with_properties
from ridelab.report.findings import read_findings
from ridelab.report.illustrations import illustrations

if TYPE_CHECKING:
    from tests.report.fabricated import FabricatedStore


def test_what_is_made_unchecked_holds_against_the_schema(store: FabricatedStore) -> None:
    """Every chart of the report, part by part as it is made and as a whole when it is written."""
    findings, printer = read_findings(store), Printer("metric")
    with unchecked():
        swiftly = [one.chart.to_dict(validate=False) for one in illustrations(findings, printer)]
    checked = [one.chart.to_dict(validate=True) for one in illustrations(findings, printer)]
    assert len(checked) > 20
    assert swiftly == checked


def test_rows_are_written_as_altair_writes_them(store: FabricatedStore) -> None:
    """Each chart's specification with its data, and altair's own way of taking data goes on."""
    findings = read_findings(store)
    charts = [one.chart for one in illustrations(findings, Printer("imperial"))]
    assert [specified(one) for one in charts] == [one.to_dict(validate=False) for one in charts]
    assert alt.data_transformers.active == "default"


def test_checking_goes_on_after_a_page() -> None:
    """Also where making it failed: a notebook that made a report is told of mistakes as before."""
    wrong: Any = {"grid": "perhaps"}
    with unchecked():
        alt.Axis(**wrong)
    with pytest.raises(schemapi.SchemaValidationError):
        alt.Axis(**wrong)
    with pytest.raises(KeyError), unchecked():
        raise KeyError
    with pytest.raises(schemapi.SchemaValidationError):
        alt.Axis(**wrong)


def test_layers_are_drawn_as_altairs_own() -> None:
    """A line below points of the same data, in one picture."""
    base = alt.Chart(pl.DataFrame({"x": [1, 2, 4], "y": [3, 1, 2]})).encode(x="x:Q", y="y:Q")
    parts = [base.mark_line(), base.mark_point()]
    ours, theirs = layered(parts), alt.LayerChart(layer=parts)
    assert _drawn(ours.to_dict()) == _drawn(theirs.to_dict())


def test_a_place_is_the_value_of_a_channel() -> None:
    """The same specification as by altair's way."""
    points = alt.Chart(pl.DataFrame({"x": [1]})).mark_point()
    ours, theirs = points.encode(y=placed("Y", 7)), points.encode(y=alt.value(7))
    assert ours.to_dict() == theirs.to_dict()


def test_properties_leave_the_chart_as_it_was() -> None:
    """The one asked has them, the one it was made from has not."""
    plain = alt.Chart(pl.DataFrame({"x": [1]})).mark_point()
    titled = with_properties(plain, title="Points")
    assert titled.to_dict() == plain.properties(title="Points").to_dict()
    assert "title" not in plain.to_dict()


def _drawn(spec: dict[str, Any]) -> str:
    return str(vl_convert.vegalite_to_svg(spec, vl_version="6.4"))
