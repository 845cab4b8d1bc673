"""The evidence for what was inferred of a vehicle: exhibits of chart, sentence and table."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridelab.report import charts, density, lags, rays, residuals, stretch
from ridelab.report.exhibit import Exhibit
from ridelab.report.markup import join, name, text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridelab.report.digits import Printer
    from ridelab.report.findings import VehicleFindings
    from ridelab.report.markup import Markup


_USED = ("vehicle", "gear", "label", "seconds", "distance_m", "rides")
_TIME = "Time in each gear with the crank driving the wheel; the same figures stand in the ladder."


def exhibits(vehicle: VehicleFindings, printer: Printer) -> list[Exhibit]:
    """Return those that the store has figures for, in the order of the page."""
    return [
        *_density(vehicle, printer),
        *_rays(vehicle, printer),
        *_time_in_gear(vehicle, printer),
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
        yield Exhibit("density", vehicle.name, "How developments cluster", said, chart, found, rows)


def _rays(vehicle: VehicleFindings, printer: Printer) -> Iterator[Exhibit]:
    if len(found := vehicle.rays):
        said = rays.sentence(found, vehicle.ladder, vehicle.stepless)
        chart = rays.rays(found, vehicle.ladder, printer)
        rows = rays.rays_table(found, printer, _caption("Seconds by cadence, ", vehicle))
        yield Exhibit("rays", vehicle.name, "Speed against cadence", said, chart, found, rows)


def _time_in_gear(vehicle: VehicleFindings, printer: Printer) -> Iterator[Exhibit]:
    if len(found := vehicle.measured):
        chart, used = charts.time_in_gear(vehicle.ladder, printer.units), found.select(_USED)
        yield Exhibit("time_in_gear", vehicle.name, "Time in each gear", _TIME, chart, used)


def _stretch(vehicle: VehicleFindings, printer: Printer) -> Iterator[Exhibit]:
    found = vehicle.stretch
    if len(found):
        said = stretch.sentence(found, printer)
        chart = stretch.stretch_of_ride(found, vehicle.ladder, printer)
        rows = stretch.stretch_table(found, printer, _caption("Ten minutes of ", vehicle))
        yield Exhibit("stretch", vehicle.name, "The busiest ten minutes", said, chart, found, rows)


def _residuals(vehicle: VehicleFindings, printer: Printer) -> Iterator[Exhibit]:
    if len(found := vehicle.residuals):
        said = residuals.gear_sentence(found)
        chart = residuals.residuals_by_gear(found)
        rows = residuals.gear_table(found, _caption("Distance from its gear, ", vehicle))
        title = "How closely each gear is kept to"
        yield Exhibit("residuals", vehicle.name, title, said, chart, found, rows)
    if len(found := vehicle.residuals_by_speed):
        said = residuals.speed_sentence(found, printer)
        chart = residuals.residuals_by_speed(found, printer)
        caption = _caption("Distance from the gear by speed, ", vehicle)
        rows = residuals.speed_table(found, printer, caption)
        title = "How closely at each speed"
        yield Exhibit("residuals_by_speed", vehicle.name, title, said, chart, found, rows)


def _lags(vehicle: VehicleFindings) -> Iterator[Exhibit]:
    if len(found := vehicle.lags):
        said, chart = lags.sentence(found), lags.lag_curves(found)
        rows = lags.lag_table(found, _caption("Lags tried, rides of ", vehicle))
        yield Exhibit("lags", vehicle.name, "How the lag was chosen", said, chart, found, rows)


def _caption(said: str, vehicle: VehicleFindings) -> Markup:
    return join([text(said), name(vehicle.name)])
