"""The evidence for what was inferred of a vehicle: exhibits of chart, sentence and table."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ridelab.report import density, lags, rays, residuals, stretch
from ridelab.report.markup import chart_name, join, name, text

if TYPE_CHECKING:
    from collections.abc import Iterator

    import altair as alt

    from ridelab.report.digits import Printer
    from ridelab.report.findings import VehicleFindings
    from ridelab.report.markup import Markup


@dataclass(frozen=True)
class Exhibit:
    """One piece of evidence.

    ``key`` is its name for programs, ``said`` the sentence that says what to see, ``chart`` has
    that sentence as its text alternative, and ``table`` holds the figures behind it.
    """

    key: str
    title: str
    said: str
    chart: alt.LayerChart
    table: Markup


def exhibits(vehicle: VehicleFindings, printer: Printer) -> list[Exhibit]:
    """Return those that the store has figures for: density, rays, stretch, residuals, lags."""
    return [
        *_density(vehicle, printer),
        *_rays(vehicle, printer),
        *_stretch(vehicle, printer),
        *_residuals(vehicle, printer),
        *_lags(vehicle),
    ]


def _density(vehicle: VehicleFindings, printer: Printer) -> Iterator[Exhibit]:
    found = vehicle.developments
    if len(found):
        said = density.sentence(found, vehicle.ladder, vehicle.stepless)
        chart = density.development_density(found, vehicle.ladder, printer.units)
        rows = density.density_table(
            found, printer, _caption("Seconds at each development of ", vehicle)
        )
        yield _exhibit("density", "How developments cluster", said, chart, rows, vehicle)


def _rays(vehicle: VehicleFindings, printer: Printer) -> Iterator[Exhibit]:
    if len(found := vehicle.rays):
        said = rays.sentence(found, vehicle.ladder, vehicle.stepless)
        chart = rays.rays(found, vehicle.ladder, printer)
        rows = rays.rays_table(found, printer, _caption("Seconds by cadence, ", vehicle))
        yield _exhibit("rays", "Speed against cadence", said, chart, rows, vehicle)


def _stretch(vehicle: VehicleFindings, printer: Printer) -> Iterator[Exhibit]:
    found = vehicle.stretch
    if len(found):
        said = stretch.sentence(found, printer)
        chart = stretch.stretch_of_ride(found, vehicle.ladder, printer)
        rows = stretch.stretch_table(found, printer, _caption("Ten minutes of ", vehicle))
        yield _exhibit("stretch", "The busiest ten minutes", said, chart, rows, vehicle)


def _residuals(vehicle: VehicleFindings, printer: Printer) -> Iterator[Exhibit]:
    if len(found := vehicle.residuals):
        said = residuals.gear_sentence(found)
        chart = residuals.residuals_by_gear(found)
        rows = residuals.gear_table(found, _caption("Distance from its gear, ", vehicle))
        title = "How closely each gear is kept to"
        yield _exhibit("residuals", title, said, chart, rows, vehicle)
    if len(found := vehicle.residuals_by_speed):
        said = residuals.speed_sentence(found, printer)
        chart = residuals.residuals_by_speed(found, printer)
        caption = _caption("Distance from the gear by speed, ", vehicle)
        rows = residuals.speed_table(found, printer, caption)
        title = "How closely at each speed"
        yield _exhibit("residuals_by_speed", title, said, chart, rows, vehicle)


def _lags(vehicle: VehicleFindings) -> Iterator[Exhibit]:
    if len(found := vehicle.lags):
        said, chart = lags.sentence(found), lags.lag_curves(found)
        rows = lags.lag_table(found, _caption("Lags tried, rides of ", vehicle))
        yield _exhibit("lags", "How the lag was chosen", said, chart, rows, vehicle)


def _exhibit(
    key: str,
    title: str,
    said: str,
    chart: alt.LayerChart,
    rows: Markup,
    vehicle: VehicleFindings,
) -> Exhibit:
    alternative = f"{chart_name(vehicle.name)}. {title}. {said}"
    return Exhibit(key, title, said, chart.properties(description=alternative), rows)


def _caption(said: str, vehicle: VehicleFindings) -> Markup:
    return join([text(said), name(vehicle.name)])
