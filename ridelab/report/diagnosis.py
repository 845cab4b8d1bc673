"""The charts of the report, for a notebook: of one vehicle the evidence, or all there are."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from ridelab.errors import UsageError, nearest
from ridelab.report.digits import Printer
from ridelab.report.exhibits import exhibits
from ridelab.report.findings import read_findings
from ridelab.report.illustrations import illustrations

if TYPE_CHECKING:
    from ridelab.report.exhibit import Chart, Exhibit
    from ridelab.report.findings import Findings, Frames
    from ridelab.units import UnitSystem

#: As the command line names the store beside a campaign file.
STORE_NAME = "ridelab.duckdb"


def diagnose(
    where: str | Path | Frames, vehicle: str, units: UnitSystem = "metric"
) -> dict[str, Chart]:
    """Return the evidence for what was inferred of a vehicle, as altair charts by name.

    ``density`` (time at each development, below the gears), ``rays`` (speed against cadence),
    ``time_in_gear``, ``stretch`` (ten minutes of riding with the gear engaged), ``residuals`` (how
    samples lie about each gear), ``residuals_by_speed``, and ``lags`` (how the lag of each ride was
    chosen). One that the store has no figures for is left out: a stepless vehicle has no gears to
    lie about. Each chart is titled with what to see in it.

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
    return {one.key: one.picture() for one in exhibits(by_name[vehicle], printer)}


def illustrate(where: str | Path | Frames, units: UnitSystem = "metric") -> list[Exhibit]:
    """Return every chart of the report with its words and figures, in the order of the page.

    Each has ``vehicle`` (None where it shows all together), ``key``, ``title``, ``said``, ``data``
    (a frame in SI units), and ``picture()``, the altair chart below its title::

        found = {(one.vehicle, one.key): one for one in ridelab.illustrate("campaign.toml")}
        found["heron", "deviations"].picture()

    Args:
        where: a campaign file that was run, a store, or an open ``Store``.
        units: of the charts.

    Raises:
        StoreError: there is no store, or it cannot be read.
    """
    return list(illustrations(_findings(where), Printer(units)))


def _findings(where: str | Path | Frames) -> Findings:
    if not isinstance(where, str | Path):
        return read_findings(where)
    from ridelab.store import Store

    path = Path(where)
    with Store.open(
        path.with_name(STORE_NAME) if path.suffix == ".toml" else path, read_only=True
    ) as store:
        return read_findings(store)
