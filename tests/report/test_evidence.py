"""Evidence: what the section of a vehicle shows of its rides."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from ridelab.report.digits import Printer
from ridelab.report.evidence import evidence_section
from ridelab.report.findings import read_findings
from tests.report import fabricated
from tests.report.parsed import Element, parse

if TYPE_CHECKING:
    from tests.report.fabricated import FabricatedStore


def section(store: FabricatedStore, place: int) -> Element:
    """Return the evidence of one vehicle, parsed."""
    return parse(evidence_section(read_findings(store).vehicles[place], Printer("metric")))


def rows(page: Element, caption: str) -> list[list[str]]:
    """Return the cells of the table whose caption starts so."""
    (table,) = (one for one in page.all("table") if one.all("caption")[0].text.startswith(caption))
    return [[" ".join(cell.text.split()) for cell in row.children] for row in table.all("tr")[1:]]


def test_a_ride_shows_what_its_gears_were_inferred_from(store: FabricatedStore) -> None:
    """File, start, length; where the speed came from; how sharp it was; how much was named."""
    assert rows(section(store, 0), "Rides of heron")[0] == [
        "rides/heron/day-1.fit", "2031-04-03 07:30", "20 min", "7.3", "wheel sensor", "speed field",
        "0.4", "0.72", "100 %", "inferred",
    ]  # fmt: skip


def test_the_table_behind_the_density_holds_the_same_time(store: FabricatedStore) -> None:
    """Seconds by bin add up to what the bins hold, and empty bins are left out."""
    seen = rows(section(store, 0), "Seconds at each development")
    bins = read_findings(store).vehicles[0].developments
    assert sum(float(row[1]) for row in seen) == pytest.approx(bins["driving_s"].sum(), abs=1)
    assert all(row[1:] != ["0", "0"] for row in seen)


def test_a_ride_without_development_says_so(store: FabricatedStore) -> None:
    """There is no chart of nothing."""
    page = section(store, 4)
    assert page.all("figure") == []
    assert "No sample has both speed and cadence" in page.text


def test_a_stepless_vehicle_has_no_time_in_gears(store: FabricatedStore) -> None:
    """Its density and ten minutes of riding, and no sentence that speaks of gears' peaks."""
    page = section(store, 2)
    density, cloud, stretch = (one.text for one in page.all("figcaption"))
    assert "stepless" in density
    assert "fills the plane" in cloud
    assert "no gear is named" in stretch


def test_the_closer_look_is_folded_away_with_a_title_for_each_chart(store: FabricatedStore) -> None:
    """Density and rays stay in sight; the other four open on request, figures behind each."""
    page = section(store, 0)
    (fold,) = (one for one in page.all("details") if one.all("figure"))
    assert [title.text.removesuffix(" link") for title in fold.all("h4")] == [
        "The busiest ten minutes",
        "How closely each gear is kept to",
        "How closely at each speed",
        "How the lag was chosen",
    ]
    assert len(fold.all("figure")) == len(fold.all("table")) == 4
    assert len(page.all("figure")) == 7


def test_time_that_is_not_shown_is_owned_up_to() -> None:
    """The picture ends where nearly all of the driving time does; the rest is told."""
    store = fabricated.FabricatedStore()
    fabricated.vehicle(store, "heron")
    fabricated.ride(store, "heron", 1, {1: 1.0, 2: 1.3})
    assert "outside this picture" not in section(store, 0).text
    store.run("update engaged_samples set development_m = 900.0, coupled = true where n < 6")
    assert "Of the driving time < 1 % lies outside this picture" in " ".join(
        section(store, 0).text.split()
    )
