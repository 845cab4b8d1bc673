"""``ridelab.diagnose``: the evidence of a vehicle as charts that stand alone."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
import vl_convert

import ridelab
from ridelab.cli.place import of_campaign
from ridelab.errors import StoreError, UsageError
from ridelab.store import Store

if TYPE_CHECKING:
    from pathlib import Path

    from tests.report.fabricated import FabricatedStore

ALL = ["density", "rays", "time_in_gear", "stretch", "residuals", "residuals_by_speed", "lags"]
#: No chart may grow with the length of a ride: ten minutes are 600 seconds.
MOST_POINTS = 1500


@pytest.mark.parametrize("vehicle", ["plover", "dunlin", "lapwing", "turnstone", "whimbrel"])
def test_a_vehicle_with_gears_has_all_the_evidence(demo: Path, vehicle: str) -> None:
    """Each chart can be drawn outside a page, and says in its title what to see."""
    found = ridelab.diagnose(demo, vehicle)
    assert list(found) == ALL
    for chart in found.values():
        spec = chart.to_dict()
        assert len(" ".join(spec["title"]["subtitle"])) > 40
        assert spec["description"].startswith(f"{vehicle}. ")
        svg = vl_convert.vegalite_to_svg(spec | {"width": 600}, vl_version="6.4")
        assert "aria-label" in svg
        assert "NaN" not in svg


def test_a_stepless_vehicle_has_no_residuals(demo: Path) -> None:
    """There are no gears for its samples to lie about."""
    assert list(ridelab.diagnose(demo, "godwit")) == ["density", "rays", "stretch", "lags"]


def test_no_chart_grows_with_the_length_of_a_ride(demo: Path) -> None:
    """However long the rides of a vehicle: bins, gears, lags, and ten minutes."""
    for chart in ridelab.diagnose(demo, "dunlin").values():
        for rows in chart.to_dict()["datasets"].values():
            longest = max(
                (len(cell) for row in rows for cell in row.values() if isinstance(cell, list)),
                default=0,
            )
            assert max(longest, len(rows)) <= MOST_POINTS


def test_the_lag_used_is_the_sharpest_of_those_tried(demo: Path) -> None:
    """What is stored of a ride agrees with the curve that is stored of it."""
    place = of_campaign(demo)
    with Store.open(place.store, read_only=True) as store:
        sharpest = store.frame(
            "select ride, arg_max(channel, sharpness) as channel, "
            "arg_max(lag_s, sharpness) as lag_s from lag_curves group by ride order by ride"
        )
        used = store.frame(
            "select ride, channel, speed_lag_s from rides where vehicle is not null order by ride"
        )
        shares = store.frame("rides")["other_share"]
    assert len(sharpest) == 14
    assert sharpest.rows() == used.rows()
    assert shares.is_between(0.0, 0.5).all()
    assert shares.null_count() == 1  # of the ride whose vehicle nobody knows


def test_campaign_store_and_open_store_show_the_same(demo: Path) -> None:
    """Three ways to say which store is meant, the first by the file beside it."""
    place = of_campaign(demo)
    by_campaign, by_path = (ridelab.diagnose(str(one), "plover") for one in (demo, place.store))
    with Store.open(place.store, read_only=True) as store:
        by_store = ridelab.diagnose(store, "plover")
    specs = [
        [chart.to_dict() for chart in one.values()] for one in (by_campaign, by_path, by_store)
    ]
    assert specs[0] == specs[1] == specs[2]


def test_units_are_those_asked_for(store: FabricatedStore) -> None:
    """Feet and miles an hour on every axis that has a unit."""
    found = ridelab.diagnose(store, "heron", "imperial")
    spec = str({key: chart.to_dict() for key, chart in found.items()})
    assert "development, ft" in spec
    assert "speed, mph" in spec
    assert "development, m" not in spec
    assert "km/h" not in spec


def test_a_vehicle_of_which_nothing_is_known_has_no_charts(store: FabricatedStore) -> None:
    """An empty answer, not an error: the campaign has this vehicle."""
    assert ridelab.diagnose(store, "mole") == {}


def test_a_wrong_vehicle_or_store_is_told_in_words(store: FabricatedStore, tmp_path: Path) -> None:
    """The vehicles there are; what makes a store."""
    with pytest.raises(UsageError, match=r"no vehicle 'hern'.*heron"):
        ridelab.diagnose(store, "hern")
    with pytest.raises(StoreError, match="no store yet; `ridelab run` makes one"):
        ridelab.diagnose(tmp_path / "campaign.toml", "heron")
