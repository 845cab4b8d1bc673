"""A ride more: its vehicle is measured beside the rides that were, or from all of them anew."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest

from ridelab import gears
from ridelab.gears import more
from ridelab.simulate import simulate_ride
from tests.simulate.rides import hub_ride

if TYPE_CHECKING:
    from typing import Any

    import polars as pl

    from tests.pipeline.conftest import Bench


SECONDS = "select sum(seconds) from measured_gears where vehicle = 'heron'"


@pytest.fixture(autouse=True)
def soon(monkeypatch: pytest.MonkeyPatch) -> None:
    """One ride may be added to two, and move the ladder as one among so few does."""
    monkeypatch.setattr(more, "MOST_UNFITTED", 0.5)
    monkeypatch.setattr(more, "SETTLED", 2.0)
    monkeypatch.setattr(more, "_others_told", lambda *_: False)


@pytest.fixture
def anew(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, int]]:
    """Vehicles that were measured from all their rides, and how many those were."""
    found: list[tuple[str, int]] = []
    measure_vehicle = gears.measure_vehicle

    def counting(vehicle: str, rides: list[Any], *stated: Any) -> gears.VehicleGears:  # noqa: ANN401 - handed on
        found.append((vehicle, len(rides)))
        return measure_vehicle(vehicle, rides, *stated)

    monkeypatch.setattr(gears, "measure_vehicle", counting)
    return found


@pytest.fixture(scope="module")
def again() -> bytes:
    """The second ride of the campaign once more, on another day."""
    day = datetime(2031, 6, 4, 8, tzinfo=UTC)
    return simulate_ride(hub_ride(duration_s=600), 1).fit_content(day)


def own(bench: Bench, relation: str, ride: str) -> pl.DataFrame:
    """The rows of one ride."""
    return bench.frame(f"select * from {relation} where ride = '{ride}' order by n")  # noqa: S608 - names of our own


def test_a_ride_that_tells_nothing_new_is_measured_beside_the_others(
    bench: Bench, anew: list[tuple[str, int]], again: bytes
) -> None:
    """Its gears are named, the ladder counts it, and what was inferred of the others stays."""
    bench.run()
    assert sorted(anew) == [("heron", 2), ("otter", 1)]
    before, was = bench.content(), float(bench.frame(SECONDS).item())
    first = before["rides"].filter(path="rides/heron/a.fit")["ride"].item()
    bench.put("rides/heron/d.fit", again)
    outcome = bench.run()
    assert outcome.measured == ("heron",)
    assert len(anew) == 2
    after = bench.content()
    assert float(bench.frame(SECONDS).item()) > 1.3 * was
    told = before["engaged_samples"].filter(ride=first).sort("n")
    assert own(bench, "engaged_samples", first).equals(told)
    new = after["rides"].filter(path="rides/heron/d.fit")["ride"].item()
    assert own(bench, "engaged_samples", new)["gear"].is_not_null().all()
    assert bench.frame(f"select count(*) from shifts where ride = '{new}'").item() > 0  # noqa: S608 - likewise
    assert bench.run().measured == ()


def test_it_comes_to_what_a_run_over_all_comes_to(bench: Bench, again: bytes) -> None:
    """Gears, and ratios far within their intervals."""
    bench.run()
    bench.put("rides/heron/d.fit", again)
    bench.run()
    beside = bench.frame("measured_gears").filter(vehicle="heron").sort("gear")
    bench.store.unlink()
    bench.run()
    anew = bench.frame("measured_gears").filter(vehicle="heron").sort("gear")
    assert beside["gear"].equals(anew["gear"])
    off = (beside["ratio"] / anew["ratio"] - 1.0).abs()
    assert (off < 0.5 * (anew["ratio_high"] / anew["ratio_low"] - 1.0)).all()


def test_another_ladder_or_method_is_measured_from_all(
    bench: Bench, anew: list[tuple[str, int]], again: bytes
) -> None:
    """What was kept holds for the ladder that it was decoded with."""
    bench.run()
    anew.clear()
    bench.edit("range = 5.26", "range = 5.20")
    bench.put("rides/heron/d.fit", again)
    bench.run()
    assert anew == [("heron", 3)]


def test_a_ride_that_does_not_fit_takes_all_rides(
    bench: Bench, anew: list[tuple[str, int]], monkeypatch: pytest.MonkeyPatch, again: bytes
) -> None:
    """The vehicle is measured anew in the same run, and nothing of the attempt is left."""
    bench.run()
    anew.clear()
    bench.put("rides/heron/d.fit", again)
    monkeypatch.setattr(more, "SETTLED", 0.0)
    assert bench.run().measured == ("heron",)
    assert anew == [("heron", 3)]
    beside = bench.content()
    bench.store.unlink()
    bench.run()
    in_order = [one["measured_gears"].sort("vehicle", "gear") for one in (beside, bench.content())]
    assert in_order[0].equals(in_order[1])
    assert bench.frame("select count(*) from ride_statistics").item() == 4
