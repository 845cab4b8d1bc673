"""What a reviewer is told first, on one screen."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from ridelab.cli.answer_claims import _figure, print_claims
from ridelab.report.digits import Printer
from tests.report.judged import fleet, pooled

if TYPE_CHECKING:
    from ridelab.units import UnitSystem
    from tests.report.fabricated import FabricatedStore


@pytest.fixture(autouse=True)
def eighty_columns(monkeypatch: pytest.MonkeyPatch) -> None:
    """The width of a terminal that nobody made wider."""
    monkeypatch.setenv("COLUMNS", "80")


def printed(
    store: FabricatedStore, capsys: pytest.CaptureFixture[str], units: UnitSystem = "metric"
) -> str:
    """The answer, no line wider than the screen."""
    print_claims(store, units, " -c there.toml")
    text = capsys.readouterr().out
    assert max(map(len, text.splitlines())) <= 80
    return text


def test_the_count_of_verdicts_comes_first(capsys: pytest.CaptureFixture[str]) -> None:
    """In words, worst first; then a table, then what to ride, method and limits."""
    store = fleet()
    pooled(store, "c1", "range", "fails", reason="below the claim by more than 2 %; ridden on a")
    pooled(store, "c2", "range", "holds")
    pooled(store, "c3", "noise", "untestable", measured=None)
    text = printed(store, capsys)
    assert text.startswith("Of 3 claims 1 fails, 1 holds, 1 is untestable\n")
    rows = [
        line.split()[0]
        for line in text.splitlines()
        if line.startswith(("fails ", "holds ", "untes"))
    ]
    assert rows == ["fails", "holds", "untestable"]
    assert "538 ± 2 %" in text.replace("\N{NO-BREAK SPACE}", " ")
    assert "ridden on a" not in text
    assert "the whole 95 % interval lies within the tolerance" in text
    assert "ridelab show verdicts --markdown -c there.toml" in " ".join(text.split())


def test_vehicles_that_differ_stand_below_their_claim(capsys: pytest.CaptureFixture[str]) -> None:
    """Each with its own figure; the odd one is named before the table."""
    store = fleet()
    pooled(
        store, "c1", "range", "undecided", vehicles=3, odd_vehicle="tern", odd_by=0.083,
        each={"heron": "holds", "otter": "holds", "tern": "fails"},
    )  # fmt: skip
    lines = printed(store, capsys).splitlines()
    assert lines[0] == "Of 1 claim 1 is undecided; 1 judged on several vehicles"
    assert lines[1] == "c1: tern is 8.3 % above the other 2: this vehicle, not the drivetrain?"
    assert [line.split()[0] for line in lines if line.startswith("  ")][:3] == [
        "holds", "holds", "fails",
    ]  # fmt: skip


def test_the_plan_is_pointed_at(capsys: pytest.CaptureFixture[str]) -> None:
    """How long each vehicle would be ridden to decide more."""
    store = fleet()
    pooled(store, "c1", "range", "undecided")
    store.add(
        "test_ride_plan",
        {
            "vehicle": "heron",
            "gear": 9,
            "seconds": 240.0,
            "spells": 8,
            "cadence_low_rpm": 60.0,
            "cadence_high_rpm": 90.0,
            "claims": "c1",
            "instruction": "ride it",
        },
    )
    text = printed(store, capsys)
    assert "to decide more, ride heron 4 min: ridelab show plan -c there.toml" in text


def test_undecided_without_a_plan_says_where_the_reasons_are(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """No plan is promised that there is not."""
    store = fleet()
    pooled(store, "c1", "range", "undecided")
    assert "no short ride would decide the rest" in printed(store, capsys)


def test_campaign_without_claims_is_told_so(capsys: pytest.CaptureFixture[str]) -> None:
    """And how to make some."""
    assert printed(fleet(), capsys).startswith("no claim to judge; [[claims]]")


def test_speeds_are_in_the_units_of_the_campaign(capsys: pytest.CaptureFixture[str]) -> None:
    """10 m/s are 22.37 mph."""
    store = fleet()
    pooled(store, "c1", "speed", "holds", measured=10.0)
    assert "22.37 ± 0.09 mph" in printed(store, capsys, "imperial")


def test_two_vehicles_that_differ_show_what_they_came_to() -> None:
    """A mean of ± 100 % tells nobody anything; three that agree have a mean worth printing."""
    row = {"quantity": "range", "measured": 5.19, "measured_low": 4.2, "measured_high": 6.2}
    printer = Printer("metric")
    two = _figure(row | {"figures": [5.11, 5.263]}, printer)
    assert two.replace("\u00a0", " ") == "511 to 526 %"
    three = row | {"measured_low": 5.1, "measured_high": 5.28, "figures": [5.11, 5.2, 5.263]}
    assert _figure(three, printer).replace("\u00a0", " ") == "519 ± 9 %"
