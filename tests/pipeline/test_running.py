"""A whole run: relations filled, a second run without effect, failures that spare the rest."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING

import pytest

from ridelab import gears
from ridelab.campaign import load
from ridelab.errors import RidelabError, StoreBusy
from ridelab.pipeline import Progress, plan, run
from ridelab.pipeline import load as load_pipeline
from ridelab.store import Store
from tests.pipeline.conftest import QUICK

if TYPE_CHECKING:
    from ridelab.gears import VehicleGears
    from tests.pipeline.conftest import Bench

FILLED_BY_ALL = ("vehicles", "rides", "samples", "published_gears", "measured_gears")


@pytest.mark.parametrize(
    ("name", "filled", "empty"),
    [
        ("fleet", (*FILLED_BY_ALL, "shifts", "claims", "verdicts"), ()),
        ("claims", (*FILLED_BY_ALL, "claims", "verdicts"), ("shifts",)),
        ("usage", (*FILLED_BY_ALL, "shifts"), ("claims", "verdicts")),
    ],
)
def test_pipeline_fills_what_it_promises(
    bench: Bench, name: str, filled: tuple[str, ...], empty: tuple[str, ...]
) -> None:
    """As README says: fleet all, usage all but claims and verdicts, claims what verdicts need."""
    campaign = load(bench.root / "campaign.toml")
    outcome = run(load_pipeline(name), campaign, bench.store, bench.root / "report")
    assert outcome.report == bench.root / "report" / "index.html"
    assert outcome.report.read_text(encoding="utf-8").startswith("<!")
    content = bench.content()
    assert [name for name in filled if content[name].is_empty()] == []
    assert [name for name in empty if not content[name].is_empty()] == []


def test_second_run_changes_nothing(bench: Bench, reads: list[str]) -> None:
    """Nothing is read or measured, and every relation holds the same rows in the same order."""
    bench.put("rides/heron/z.fit", 0)
    bench.put("rides/otter/empty.fit", b"")
    first = bench.run()
    assert set(first.measured) == {"heron", "otter"}
    before = bench.content()
    reads.clear()
    second = bench.run()
    assert reads == []
    assert (second.measured, set(second.kept)) == ((), {"heron", "otter"})
    assert (second.read, second.exit_code) == (0, first.exit_code)
    after = bench.content()
    changed = [name for name in before if not before[name].equals(after[name])]
    assert changed == []


def test_second_run_writes_nothing(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """No row is even replaced by itself: what is up to date is not touched."""
    bench.run()
    written: list[str] = []
    monkeypatch.setattr(
        "ridelab.store.database.Database.insert", lambda _self, table, _rows: written.append(table)
    )
    monkeypatch.setattr(Store, "fill", lambda _self, relation, *_: written.append(relation))
    bench.run()
    assert written == []


def test_only_the_vehicle_that_changed_is_measured_again(bench: Bench) -> None:
    """A ride more, another rollout, another ladder: that vehicle, no other."""
    (bench.root / "rides/heron/b.fit").unlink()
    bench.run()
    bench.put("rides/heron/b.fit", 1)
    assert bench.run().measured == ("heron",)
    bench.edit('tyre = "47-622"', 'tyre = "50-622"')
    assert bench.run().measured == ("otter",)
    bench.edit("lowest = 0.279", "lowest = 0.28")
    assert bench.run().measured == ("heron",)
    bench.edit('kind = "trike"', 'kind = "tandem"')
    assert bench.run().measured == ()


def test_other_method_measures_all_again(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """A new version of the inference does not keep results of the old one."""
    bench.run()
    monkeypatch.setattr(gears, "VERSION", "another")
    assert set(bench.run().measured) == {"heron", "otter"}


def test_vehicle_that_cannot_be_measured_spares_the_others(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It becomes a problem, is tried again at the next run, and keeps no stale gears."""
    bench.run()
    measure = gears.measure_vehicle

    def failing(vehicle: str, *rest: object) -> VehicleGears:
        if vehicle == "heron":
            raise RidelabError("no ladder fits these rides")
        return measure(vehicle, *rest)  # type: ignore[arg-type]

    with monkeypatch.context() as patch:
        patch.setattr(gears, "VERSION", "another")
        patch.setattr(gears, "measure_vehicle", failing)
        outcome = bench.run()
    assert (outcome.measured, outcome.failed) == (("otter",), ("heron",))
    assert outcome.exit_code == 3
    assert ("heron", "error", "no ladder fits these rides") in bench.told("measure")
    assert bench.frame("measured_gears")["vehicle"].unique().to_list() == ["otter"]
    assert set(bench.run().measured) == {"heron", "otter"}
    assert ("heron", "error", "no ladder fits these rides") not in bench.told("measure")


def test_vehicle_without_rides_left_has_no_gears(bench: Bench) -> None:
    """Its rides went to another vehicle: what was measured goes with them."""
    bench.run()
    (bench.root / "rides/otter/c.fit").rename(bench.root / "rides/heron/c.fit")
    assert bench.run().measured == ("heron",)
    assert bench.frame("measured_gears")["vehicle"].unique().to_list() == ["heron"]
    assert bench.frame("vehicles")["vehicle"].to_list() == ["heron", "otter"]


def test_shifts_come_back_after_a_run_without_them(bench: Bench) -> None:
    """A pipeline without the query must not leave the relation empty for good."""
    bench.run()
    shifts = bench.frame("shifts")
    bench.edit("rides/heron/*.fit", "rides/heron/b*.fit")
    without = QUICK.replace('[[stages]]\nquery = "shifts"\n', "")
    bench.run(without)
    bench.edit("rides/heron/b*.fit", "rides/heron/*.fit")
    bench.run(without)
    assert len(bench.frame("shifts")) < len(shifts)
    bench.run()
    assert bench.frame("shifts").equals(shifts)


def test_query_of_a_users_own_fills_a_relation(bench: Bench) -> None:
    """Filled once, again when what it reads has changed, each time where it says so."""
    query = bench.root / "gear_use.sql"
    query.write_text("select gear, count(*) as samples from samples group by all", "utf-8")
    text = QUICK + '[[stages]]\nquery = "gear_use.sql"\n'
    bench.run(text)
    used = bench.frame("gear_use")
    assert used["samples"].sum() == len(bench.frame("samples"))
    query.write_text("select 1 as changed", "utf-8")
    bench.run(text)
    assert bench.frame("gear_use").columns == ["changed"]


def test_failing_query_is_a_problem_and_the_rest_still_runs(bench: Bench) -> None:
    """With the file and DuckDB's words; gone when the query is right."""
    query = bench.root / "wrong.sql"
    query.write_text("select nothing from rides", "utf-8")
    verdicts = '[[stages]]\nrun = "verdicts"\n'
    text = QUICK.replace(verdicts, f'[[stages]]\nquery = "wrong.sql"\n{verdicts}')
    outcome = bench.run(text)
    assert (outcome.failed, outcome.read, outcome.exit_code) == (("wrong",), 3, 3)
    assert len(bench.frame("verdicts"))
    [(path, severity, message)] = bench.told("query wrong")
    assert (path, severity) == (str(query), "error")
    assert '"nothing" not found' in message
    assert str(bench.store) not in message
    query.write_text("select path from rides", "utf-8")
    assert bench.run(text).exit_code == 0
    assert bench.told("query wrong") == []


def test_failing_query_is_forgotten_with_its_file(bench: Bench) -> None:
    """Another pipeline leaves its problem alone; once the file is gone, so is what was told."""
    query = bench.root / "wrong.sql"
    query.write_text("select nothing from rides", "utf-8")
    bench.run(f'{QUICK}[[stages]]\nquery = "wrong.sql"\n')
    bench.run(QUICK)
    assert len(bench.told("query wrong")) == 1
    query.unlink()
    bench.run(QUICK)
    assert bench.told("query wrong") == []


def test_plan_says_what_a_run_would_do_and_does_none_of_it(bench: Bench, reads: list[str]) -> None:
    """Before the first run everything, after it nothing but what is always done."""
    campaign = load(bench.root / "campaign.toml")
    pipeline = bench.pipeline()
    stages = {stage.stage: stage for stage in plan(pipeline, campaign, None).stages}
    assert list(stages) == ["read", "measure", "shifts", "verdicts"]
    assert stages["read"].todo == (
        "rides/heron/a.fit",
        "rides/heron/b.fit",
        "rides/otter/c.fit",
    )
    assert stages["measure"].todo == ("heron", "otter")
    assert reads == []
    assert not bench.store.exists()
    bench.run()
    reads.clear()
    with Store.open(bench.store, read_only=True) as store:
        after = {stage.stage: stage for stage in plan(pipeline, campaign, store).stages}
    for name, kept in (("read", 3), ("measure", 2), ("shifts", 1)):
        assert (after[name].todo, after[name].kept) == ((), kept)
    assert reads == []


def test_listener_hears_each_stage_start_and_each_item_end(bench: Bench) -> None:
    """Counts run from 0 to the total, so that a bar can be drawn."""
    heard: list[Progress] = []
    campaign = load(bench.root / "campaign.toml")
    run(bench.pipeline(), campaign, bench.store, bench.root / "report", heard.append)
    read = [progress for progress in heard if progress.stage == "read"]
    assert [(one.done, one.total) for one in read] == [(0, 3), (1, 3), (2, 3), (3, 3)]
    assert [one.item for one in read[1:]] == [
        "rides/heron/a.fit",
        "rides/heron/b.fit",
        "rides/otter/c.fit",
    ]
    for stage in ("measure", "shifts", "verdicts"):
        own = [one for one in heard if one.stage == stage]
        assert own[0].done == 0
        assert own[-1].done == own[-1].total


def test_claims_that_cannot_be_true_are_told_as_long_as_they_are_claimed(bench: Bench) -> None:
    """A warning about the campaign file, and no failure; gone once the claim is put right."""
    bench.edit("526 %", "560 %")
    assert bench.run().exit_code == 0
    [(path, severity, message)] = bench.told("paper")
    assert (path, severity) == ("campaign.toml", "warning")
    assert message.startswith("c1 (range: 560 %) stands for 559.5 to 560.5 %, but the published")
    bench.edit("560 %", "526 %")
    bench.run()
    assert bench.told("paper") == []


def test_seconds_are_told_by_stage(bench: Bench) -> None:
    """Taken from the clock that is handed in."""
    clock = itertools.count(0.0, 2.0)
    campaign = load(bench.root / "campaign.toml")
    outcome = run(
        bench.pipeline(), campaign, bench.store, bench.root / "report", now=lambda: next(clock)
    )
    assert outcome.seconds == dict.fromkeys(("read", "measure", "shifts", "verdicts"), 2.0)


def test_run_on_a_store_in_use_does_nothing(
    bench: Bench, reads: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """It says so instead of waiting for ever."""
    bench.run()
    reads.clear()
    monkeypatch.setattr("ridelab.store.database._PATIENCE_S", 0.0)
    with Store.open(bench.store, read_only=True), pytest.raises(StoreBusy):
        bench.run()
    assert reads == []


def test_files_in_another_order_measure_the_same(bench: Bench) -> None:
    """Whichever ride came first, and however many runs it took."""
    bench.run()
    at_once = bench.frame("measured_gears")
    bench.store.unlink()
    for path, number in (("rides/heron/a.fit", 0), ("rides/otter/c.fit", 2)):
        (bench.root / path).unlink()
        bench.run()
        bench.put(path, number)
    bench.run()
    assert (
        bench.frame("measured_gears")
        .sort("vehicle", "gear")
        .equals(at_once.sort("vehicle", "gear"))
    )


def test_what_the_campaign_says_of_wheels_and_torque_is_told_of_its_vehicle(bench: Bench) -> None:
    """By hand: 85 kg at 170 mm are 141.7 N·m, 358 N·m behind 15:38; 2.3 m is 9.5 % off 2.1 m."""
    bench.edit('kind = "bicycle"', 'kind = "bicycle"\nset_rollout_m = 2.3\nrider_kg = 85')
    bench.edit("lowest = 0.279 },\n]", "lowest = 0.279 },\n]\nmax_input_torque_nm = { hub = 50 }")
    bench.run()
    [(path, severity, message)] = bench.told("wheel")
    assert (path, severity) == ("heron", "warning")
    assert "9.5 % too long" in message
    [(path, severity, message)] = bench.told("torque")
    assert (path, severity) == ("heron", "warning")
    assert "stated limit 50 N·m" in message
    bench.edit("\nset_rollout_m = 2.3", "")
    bench.run()
    assert bench.told("wheel") == []
