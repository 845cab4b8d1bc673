"""Each run leaves a row, whatever becomes of it, and tells what happens while it does."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

import ridelab
from ridelab.campaign import load
from ridelab.pipeline import run
from ridelab.store import Store

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from tests.pipeline.conftest import Bench

STAGES = '[[stages]]\nrun = "read"\n[[stages]]\nrun = "measure"\n'


def ticks() -> Iterator[float]:
    """A clock that goes on by a second whenever it is looked at."""
    second = 0.0
    while True:
        yield second
        second += 1.0


def told_by(bench: Bench, text: str = STAGES) -> list[tuple[str, Mapping[str, object]]]:
    """Run, and return all that was told."""
    told: list[tuple[str, Mapping[str, object]]] = []
    clock = ticks()
    run(
        bench.pipeline(text),
        load(bench.root / "campaign.toml"),
        bench.store,
        bench.root / "report",
        now=lambda: next(clock),
        log=lambda event, facts: told.append((event, facts)),
    )
    return told


def test_each_run_has_a_row_with_what_it_came_to(bench: Bench) -> None:
    """Counts, exit code, and seconds by stage: the clock was looked at once before and after."""
    bench.put("rides/otter/none.fit", b"no ride")
    told_by(bench)
    told_by(bench)
    rows = bench.frame("runs").to_dicts()
    assert [row["run"] for row in rows] == [1, 2]
    assert {row["version"] for row in rows} == {ridelab.__version__}
    counts = ("read", "unchanged", "set_aside", "measured", "kept", "failed", "exit_code")
    assert [tuple(row[name] for name in counts) for row in rows] == [
        (3, 0, 1, 2, 0, 0, 3),
        (0, 3, 1, 0, 2, 0, 3),
    ]
    assert [row["seconds"] for row in rows] == [5.0, 5.0]
    assert bench.frame("run_stages").rows() == [
        (1, 1, "read", 1.0), (1, 2, "measure", 1.0), (2, 1, "read", 1.0), (2, 2, "measure", 1.0),
    ]  # fmt: skip


def test_every_ride_says_what_reading_it_took(bench: Bench) -> None:
    """Also one that is read anew."""
    told_by(bench)
    times = bench.frame("reading_times")
    assert set(times["ride"]) == set(bench.frame("rides")["ride"])
    assert (times["seconds"] > 0).all()


@pytest.mark.parametrize(
    ("error", "code"), [(KeyboardInterrupt(), 130), (OSError(28, "No space left"), 1)]
)
def test_run_that_breaks_off_is_remembered_as_such(
    bench: Bench, error: BaseException, code: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its exit code and time, the stages that were done, and no counts."""

    def failing(*_given: object) -> None:
        raise error

    monkeypatch.setattr(Store, "put_vehicle_gears", failing)
    with pytest.raises(type(error)):
        told_by(bench)
    [row] = bench.frame("runs").to_dicts()
    assert (row["exit_code"], row["read"], row["failed"]) == (code, None, None)
    assert row["seconds"] > 0
    assert bench.frame("run_stages")["stage"].to_list() == ["read"]


def test_all_that_happens_is_told_in_order(bench: Bench) -> None:
    """Files, then vehicles, each stage at its end, and the run around them."""
    bench.put("rides/otter/none.fit", b"no ride")
    told = told_by(bench)
    assert [event for event, _ in told] == [
        "run begun",
        *["file read"] * 3,
        "file set aside",
        "stage done",
        *["vehicle measured"] * 2,
        "stage done",
        "run ended",
    ]
    facts = dict(told)
    assert facts["file set aside"]["path"] == "rides/otter/none.fit"
    assert "not a ride file" in str(facts["file set aside"]["reason"])
    assert facts["run ended"]["exit_code"] == 3
    assert {one["vehicle"] for event, one in told if event == "vehicle measured"} == {
        "heron", "otter",
    }  # fmt: skip
