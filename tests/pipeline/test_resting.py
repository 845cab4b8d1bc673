"""Stages that look at all vehicles together rest while nothing changes, and only then."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import pytest

from ridelab.campaign import load
from ridelab.pipeline import plan, run
from ridelab.pipeline.stages import STAGES
from ridelab.store import Store

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.pipeline.conftest import Bench

RESTING = ("losses", "health", "verdicts", "report")
BEFORE = """
[[stages]]
run = "read"
[[stages]]
run = "measure"
[[stages]]
query = "gear_spells"
"""
ALL = BEFORE + "".join(f'[[stages]]\nrun = "{name}"\n' for name in RESTING)


@pytest.fixture
def ran(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> Callable[..., list[str]]:
    """Runs, and returns the stages that did not rest."""
    worked: list[str] = []
    for name in RESTING:
        stage = STAGES[name].run

        def noted(*given: object, name: str = name, stage: Callable[..., None] = stage) -> None:
            worked.append(name)
            stage(*given)

        monkeypatch.setitem(STAGES[name].__dict__, "run", noted)

    def go(text: str = ALL, today: date = date(2031, 6, 1)) -> list[str]:
        worked.clear()
        outcome = run(
            bench.pipeline(text),
            load(bench.root / "campaign.toml"),
            bench.store,
            bench.root / "report",
            today=today,
        )
        if "report" in text:
            assert outcome.report == bench.root / "report" / "index.html"
        return list(worked)

    return go


def test_second_run_rests(ran: Callable[..., list[str]]) -> None:
    """Already the second, not only the third."""
    assert ran() == list(RESTING)
    assert ran() == []


def test_what_changes_is_done_anew(ran: Callable[..., list[str]], bench: Bench) -> None:
    """A file, the campaign, the page, the day: each stage by what it reads."""
    ran()
    (bench.root / "report/index.html").unlink()
    assert ran() == ["report"]
    (bench.root / "report/index.html").write_text("mine")
    assert ran() == ["report"]
    assert ran(today=date(2031, 6, 2)) == ["report"]
    bench.edit('value = "526 %"', 'value = "500 %"')
    assert ran(today=date(2031, 6, 2)) == list(RESTING)
    assert ran(today=date(2031, 6, 2)) == []
    bench.put("rides/heron/more.fit", b"no ride")
    assert ran(today=date(2031, 6, 2)) == ["report"]
    (bench.root / "rides/otter/c.fit").rename(bench.root / "rides/heron/c.fit")
    assert ran(today=date(2031, 6, 2)) == list(RESTING)


def test_what_another_pipeline_took_away_is_filled_again(
    ran: Callable[..., list[str]], bench: Bench
) -> None:
    """Claims changed and changed back, and no verdicts in between."""
    ran()
    before = bench.frame("verdicts")
    assert len(before)
    bench.edit('value = "526 %"', 'value = "500 %"')
    ran(BEFORE)
    assert bench.frame("verdicts").is_empty()
    bench.edit('value = "500 %"', 'value = "526 %"')
    assert "verdicts" in ran()
    assert bench.frame("verdicts").equals(before)


def test_plan_tells_which_stages_would_rest(ran: Callable[..., list[str]], bench: Bench) -> None:
    """Those that do, whatever has changed; where files are to be read, none is said to."""

    def planned(today: date = date(2031, 6, 1)) -> list[str]:
        campaign = load(bench.root / "campaign.toml")
        with Store.open(bench.store, read_only=True) as store:
            found = plan(bench.pipeline(ALL), campaign, store, bench.root / "report", today)
        rest = [one.stage for one in found.stages if one.rests]
        todo = [one.stage for one in found.stages if one.todo and one.stage in RESTING]
        # no vehicle has two power meters here: losses have nothing to do even if they do not rest
        assert [name for name in RESTING if name not in rest and name != "losses"] == [
            name for name in todo if name != "losses"
        ]
        return [name for name in RESTING if name not in rest]

    ran()
    assert planned() == ran() == []
    (bench.root / "report/index.html").write_text("mine")
    assert planned() == ran() == ["report"]
    other = date(2031, 6, 2)
    assert planned(other) == ran(today=other) == ["report"]
    bench.edit('value = "526 %"', 'value = "500 %"')
    assert planned(other) == ran(today=other) == list(RESTING)
    bench.put("rides/heron/more.fit", b"no ride")
    assert planned(other) == list(RESTING)
    ran(today=other)
    assert planned(other) == ran(today=other) == []
    (bench.root / "rides/otter/c.fit").unlink()
    bench.put("rides/heron/a.fit", 0)
    assert planned(other) == ran(today=other)


def test_new_code_never_rests_on_old_results(
    ran: Callable[..., list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another version, or a file of it that was edited."""
    ran()
    monkeypatch.setattr("ridelab.pipeline.resting._code", lambda: "another")
    assert ran() == list(RESTING)
