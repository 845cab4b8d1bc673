"""The plan of a test ride on the page: what to ride, and the cautions with it."""

from __future__ import annotations

import polars as pl

from ridelab.analysis.plan import PLAN_SCHEMA
from ridelab.report.digits import Printer
from ridelab.report.findings import read_findings
from ridelab.report.markup import NOTHING
from ridelab.report.page import render
from ridelab.report.planned import plan_section
from tests.report import fabricated
from tests.report.parsed import parse

_RIDE = {
    "vehicle": "heron & <co>",
    "gear": 9,
    "seconds": 90.0,
    "spells": 3,
    "speed_low_mps": 5.0,
    "speed_high_mps": 10.0,
    "cadence_low_rpm": 50.0,
    "cadence_high_rpm": 100.0,
    "claims": "nine-range, nine-top",
    "instruction": "gear 9: 90 s",
}


def test_a_plan_tells_spells_minutes_and_speeds() -> None:
    """90 s in three spells are 1.5 min; 5 to 10 m/s are 18 to 36 km/h."""
    plan = pl.DataFrame([_RIDE], schema=PLAN_SCHEMA)
    section = parse(plan_section(plan, Printer("metric")))
    cells = [cell.text for cell in section.all("tbody")[0].all("td")]
    assert cells == ["3", "1.5", "50 to 100", "18 to 36", "claims nine-range, nine-top"]
    assert "heron & <co>" in section.text
    for said in ("helmet", "Local law", "maker's manual", "mechanic"):
        assert said in section.text


def test_without_a_plan_nothing_is_shown() -> None:
    """No table without rows, and no cautions for a ride that nobody asks for."""
    assert plan_section(PLAN_SCHEMA.to_frame(), Printer("metric")) == NOTHING


def test_the_page_has_the_plan_below_the_claims() -> None:
    """Where claims are undecided, the page goes on with what to ride."""
    store = fabricated.harbour()
    store.add("test_ride_plan", _RIDE | {"vehicle": "heron"})
    page = render(read_findings(store), "Harbour", Printer("metric"))
    assert page.index('id="claims"') < page.index('id="plan"') < page.index('id="vehicles"')
