"""The setting per_ride: what did not change keeps its rows, and all is as if filled whole."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from ridelab.campaign import load
from ridelab.pipeline import plan
from ridelab.resources import data_dir
from ridelab.store import Store, queries

if TYPE_CHECKING:
    from collections.abc import Callable

    import polars as pl

    from tests.pipeline.conftest import Bench

QUERIES = ("shifts", "ridden_gears", "ridden_cadences", "gear_spells", "sensor_health")
BEFORE = "".join(f'[[stages]]\nrun = "{name}"\n' for name in ("read", "measure"))
WHOLE = BEFORE + "".join(f'[[stages]]\nquery = "{name}"\neach_run = true\n' for name in QUERIES)
PER_RIDE = BEFORE + "".join(f'[[stages]]\nquery = "{name}"\nper_ride = true\n' for name in QUERIES)


def rounded(frame: pl.DataFrame) -> list[tuple[object, ...]]:
    """Rows in an order of their own; the last digits of a sum depend on its order."""
    return sorted(
        (
            tuple(round(cell, 9) if isinstance(cell, float) else cell for cell in row)
            for row in frame.rows()
        ),
        key=str,
    )


@pytest.mark.parametrize("other", ["", "whole"])
def test_changes_one_by_one_come_to_the_same_as_a_whole_fill(bench: Bench, other: str) -> None:
    """A ride more, less, of another vehicle; another rollout; now and then filled as a whole."""
    (bench.root / "rides/heron/b.fit").unlink()
    bench.run(PER_RIDE)
    changes: tuple[Callable[[], object], ...] = (
        lambda: bench.put("rides/heron/b.fit", 1),
        lambda: (bench.root / "rides/otter/c.fit").rename(bench.root / "rides/heron/c.fit"),
        lambda: bench.edit('tyre = "47-622"', 'tyre = "50-622"'),
        lambda: (bench.root / "rides/heron/a.fit").rename(bench.root / "rides/otter/a.fit"),
        lambda: bench.edit("rides/heron/*.fit", "rides/heron/b*.fit"),
    )
    for number, change in enumerate(changes):
        change()
        if other and number % 2:
            bench.run(WHOLE)
        bench.run(PER_RIDE)
    kept = {name: bench.frame(name) for name in QUERIES}
    bench.run(WHOLE)
    for name in QUERIES:
        assert rounded(kept[name]) == rounded(bench.frame(name)), name
    assert len(kept["shifts"])


@pytest.mark.parametrize("at_once", [1, 2])
def test_rides_filled_in_parts_come_to_the_same_as_a_whole_fill(
    bench: Bench, at_once: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each time there are more rides than are asked for at once: the first time, and later."""
    bench.run(WHOLE)
    expected = {name: rounded(bench.frame(name)) for name in QUERIES}
    monkeypatch.setattr(queries, "AT_ONCE", at_once)
    bench.store.unlink()
    bench.run(PER_RIDE)
    assert {name: rounded(bench.frame(name)) for name in QUERIES} == expected
    with Store.open(bench.store) as store:
        for name in QUERIES:
            told = store.ride_fingerprints(name)
            store.fill_rides(
                name, _of(name), "state", {ride: f"{one}*" for ride, one in told.items()}
            )
    assert {name: rounded(bench.frame(name)) for name in QUERIES} == expected


def _of(query: str) -> str:
    return data_dir("sql").joinpath("analysis", f"{query}.sql").read_text("utf-8")


def test_ride_more_leaves_rows_of_other_vehicles_alone(bench: Bench) -> None:
    """What a hand has put there stays, as nothing of that ride has changed."""
    (bench.root / "rides/heron/b.fit").unlink()
    bench.run(PER_RIDE)
    [otter] = bench.frame("select ride from rides where vehicle = 'otter'")["ride"]
    with Store.open(bench.store) as store:
        marked = store.frame("shifts").with_columns(speed_mps=-1.0)
        store.replace("shifts", marked)
    bench.put("rides/heron/b.fit", 1)
    bench.run(PER_RIDE)
    least = dict(bench.frame("select ride, min(speed_mps) from shifts group by ride").rows())
    assert least.pop(otter) == -1.0
    assert min(least.values()) >= 0


def test_second_run_fills_nothing(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """And the plan says so beforehand, ride by ride."""
    bench.run(PER_RIDE)
    with Store.open(bench.store, read_only=True) as store:
        planned = plan(bench.pipeline(PER_RIDE), load(bench.root / "campaign.toml"), store)
    assert {(one.todo, one.kept) for one in planned.stages if one.stage in QUERIES} == {((), 3)}
    written: list[str] = []
    for method in ("fill", "fill_rides"):
        monkeypatch.setattr(Store, method, lambda _self, name, *_: written.append(name))
    bench.run(PER_RIDE)
    assert written == []


def test_plan_names_the_rides_to_fill(bench: Bench) -> None:
    """After a change of one vehicle, those of that vehicle."""
    bench.run(PER_RIDE)
    bench.edit('kind = "trike"', 'kind = "tandem"')
    with Store.open(bench.store) as store:
        store.put_campaign(load(bench.root / "campaign.toml"))
        planned = plan(bench.pipeline(PER_RIDE), load(bench.root / "campaign.toml"), store)
    found = {one.stage: (one.todo, one.kept) for one in planned.stages}
    assert found["shifts"] == (("rides/otter/c.fit",), 2)


def test_query_of_a_users_own_may_build_on_another(bench: Bench) -> None:
    """Its own relation, filled for the new ride alone; another query fills every ride anew."""
    (bench.root / "rides/heron/b.fit").unlink()
    (bench.root / "fast.sql").write_text(
        "select ride, max(speed_mps) as speed_mps from samples group by ride", "utf-8"
    )
    (bench.root / "faster.sql").write_text("select ride, speed_mps + 1 as v from fast", "utf-8")
    text = BEFORE + "".join(
        f'[[stages]]\nquery = "{name}.sql"\nper_ride = true\n' for name in ("fast", "faster")
    )
    bench.run(text)
    bench.put("rides/heron/b.fit", 1)
    bench.run(text)
    assert rounded(bench.frame("select ride, v - 1 from faster")) == rounded(bench.frame("fast"))
    assert len(bench.frame("fast")) == 3
    (bench.root / "fast.sql").write_text("select ride, 2.0 as speed_mps from rides", "utf-8")
    bench.run(text)
    assert bench.frame("faster")["v"].to_list() == [3.0] * 3


@pytest.mark.parametrize(
    ("sql", "said"),
    [
        ("select 1 as n", "no column ride"),
        ("select ride || 'x' as ride from rides", "3 of its rows belong to no stored ride"),
        ("select null::text as ride from rides", "3 of its rows belong to no stored ride"),
    ],
)
def test_query_that_cannot_be_filled_by_rides_is_a_problem(
    bench: Bench, sql: str, said: str
) -> None:
    """Told as what it is; no relation is left behind."""
    (bench.root / "odd.sql").write_text(sql, "utf-8")
    outcome = bench.run(f'{BEFORE}[[stages]]\nquery = "odd.sql"\nper_ride = true\n')
    [(_, severity, message)] = bench.told("query odd")
    assert severity == "error"
    assert said in message
    assert "accepted: " in message
    assert outcome.failed == ("odd",)
    assert "odd" not in bench.content()
