"""``--log-json`` makes stderr a stream of JSON; each run ends with where its time went."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import pytest

from ridelab.cli.summary import files_line, time_line
from ridelab.pipeline import Outcome
from ridelab.simulate import simulate_ride
from tests.simulate.rides import hub_ride

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Ridelab

CAMPAIGN = """
[campaign]
name = "Invented evening rides"
[vehicles.heron]
kind = "bicycle"
rollout_m = 2.1
rides = ["*.fit"]
"""
PIPELINE = '[[stages]]\nrun = "read"\n[[stages]]\nrun = "measure"\n'


@pytest.fixture
def small(tmp_path: Path, ridelab: Ridelab) -> Ridelab:
    """One ride, and a file that is none."""
    started = datetime(2031, 5, 4, 8, tzinfo=UTC)
    simulate_ride(hub_ride(duration_s=300), 1).to_fit(tmp_path / "a.fit", started)
    (tmp_path / "b.fit").write_bytes(b"no ride")
    (tmp_path / "campaign.toml").write_text(CAMPAIGN, encoding="utf-8")
    (tmp_path / "quick.toml").write_text(PIPELINE, encoding="utf-8")
    return ridelab


def lines(text: str) -> list[dict[str, Any]]:
    """Each line of stderr, as JSON."""
    return [json.loads(line) for line in text.splitlines()]


def test_every_line_on_stderr_is_an_object_with_its_time(small: Ridelab) -> None:
    """What happened, in order; what people are told beside comes as messages."""
    done = small("run", "quick.toml", "--log-json", "--workers", "1")
    told = lines(done.err)
    assert done.code == 3
    times = [datetime.fromisoformat(one["at"]) for one in told]
    assert times == sorted(times)
    assert [one["event"] for one in told] == [
        "run begun", "file read", "file set aside", "stage done", "vehicle measured", "stage done",
        "run ended", "message",
    ]  # fmt: skip
    assert told[0]["workers"] == 1
    assert told[1]["path"] == "a.fit"
    assert told[1]["samples"] == 300
    assert told[-1]["text"].startswith("set aside: b.fit: ")
    assert "time: " in done.out


def test_errors_are_objects_too(small: Ridelab, tmp_path: Path) -> None:
    """And the next command is plain again."""
    (tmp_path / "campaign.toml").write_text("[campaign]\n", encoding="utf-8")
    done = small("run", "quick.toml", "--log-json")
    assert (done.code, [one["event"] for one in lines(done.err)]) == (2, ["error"])
    plain = small("run", "quick.toml")
    assert plain.err.startswith("ridelab: ")


@pytest.mark.parametrize(
    ("outcome", "line"),
    [
        (
            Outcome(read=976, seconds={"read": 9.26, "a": 0.01, "measure": 31.4}, took_s=61.0),
            "time: 61 s (measure 31, read 9.3, rest 20), 16 rides/s",
        ),
        (
            Outcome(unchanged=9, seconds={"read": 0.2}, took_s=0.31),
            "time: 0.3 s (read 0.2, rest 0.1)",
        ),
        (
            Outcome(read=1, seconds=dict(zip("abcde", range(1, 6), strict=True)), took_s=15.0),
            "time: 15 s (e 5.0, d 4.0, c 3.0, b 2.0, rest 1.0), 0.067 rides/s",
        ),
    ],
)
def test_time_is_told_by_the_largest_stages(outcome: Outcome, line: str) -> None:
    """All that is not named is the rest, so that the parts are the whole."""
    assert time_line(outcome) == line


def test_files_are_told_by_what_became_of_them() -> None:
    """Nothing is said of what there is none of."""
    assert files_line(Outcome(read=9, set_aside=1)) == "files: 9 read, 1 set aside"
    assert files_line(Outcome()) == "files: none"
