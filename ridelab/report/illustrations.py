"""Every chart of the report, as one list."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridelab.report.exhibits import exhibits
from ridelab.report.first_screen import answer_exhibits, claims_exhibits
from ridelab.report.fleet_section import fleet_exhibits
from ridelab.report.use_section import use_exhibits
from ridelab.report.vehicles import ladder_exhibits

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridelab.report.digits import Printer
    from ridelab.report.exhibit import Exhibit
    from ridelab.report.findings import Findings


def illustrations(findings: Findings, printer: Printer) -> Iterator[Exhibit]:
    """Yield each chart that the page has, in its usual order."""
    yield from fleet_exhibits(findings)
    yield from answer_exhibits(findings, printer)
    yield from claims_exhibits(findings, printer)
    for of_a_vehicle in (ladder_exhibits, use_exhibits, exhibits):
        for vehicle in findings.vehicles:
            yield from of_a_vehicle(vehicle, printer)
