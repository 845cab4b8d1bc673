"""The evidence for a vehicle's results as charts, for a notebook."""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import TYPE_CHECKING

from ridelab.errors import UsageError, nearest
from ridelab.report.digits import Printer
from ridelab.report.exhibits import exhibits
from ridelab.report.findings import read_findings

if TYPE_CHECKING:
    import altair as alt

    from ridelab.report.exhibits import Exhibit
    from ridelab.report.findings import Findings, Frames
    from ridelab.units import UnitSystem

#: As the command line names the store beside a campaign file.
STORE_NAME = "ridelab.duckdb"
_LINE = 100
#: A chart that fills its page has no width of its own where there is none, as in a saved picture.
WIDTH_PX = 680


def diagnose(
    where: str | Path | Frames, vehicle: str, units: UnitSystem = "metric"
) -> dict[str, alt.LayerChart]:
    """Return the evidence for what was inferred of a vehicle, as altair charts by name.

    ``density`` (time at each development, below the gears), ``rays`` (speed against cadence),
    ``stretch`` (ten minutes of riding with the gear engaged), ``residuals`` (how samples lie about
    each gear), ``residuals_by_speed``, and ``lags`` (how the lag of each ride was chosen). One that
    the store has no figures for is left out: a stepless vehicle has no gears to lie about. Each
    chart is titled with what to see in it.

    Args:
        where: a campaign file that was run, a store, or an open ``Store``.
        vehicle: its name in the campaign.
        units: of the charts.

    Raises:
        UsageError: the campaign has no such vehicle.
        StoreError: there is no store, or it cannot be read.
    """
    printer = Printer(units)
    findings = _findings(where)
    by_name = {one.name: one for one in findings.vehicles}
    if vehicle not in by_name:
        raise UsageError(f"no vehicle {vehicle!r}; {nearest(vehicle, by_name)}")
    return {one.key: _titled(one) for one in exhibits(by_name[vehicle], printer)}


def _findings(where: str | Path | Frames) -> Findings:
    if not isinstance(where, str | Path):
        return read_findings(where)
    from ridelab.store import Store

    path = Path(where)
    with Store.open(
        path.with_name(STORE_NAME) if path.suffix == ".toml" else path, read_only=True
    ) as store:
        return read_findings(store)


def _titled(exhibit: Exhibit) -> alt.LayerChart:
    import altair as alt

    title = alt.TitleParams(
        text=exhibit.title,
        subtitle=textwrap.wrap(exhibit.said, _LINE),
        anchor="start",
        fontWeight="normal",
    )
    return exhibit.chart.properties(title=title, width=WIDTH_PX)
