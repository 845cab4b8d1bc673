"""The screen of losses: the answer in words, then by gear, then how far the meters are to trust."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ridelab.cli.answer_losses import print_losses
from tests.report import fabricated
from tests.report.test_losses import BY_METERS

if TYPE_CHECKING:
    import pytest


def screen(capsys: pytest.CaptureFixture[str], *rows: dict[str, Any], told: str = "") -> str:
    """What is printed of two vehicles, the second without meters."""
    store = fabricated.FabricatedStore()
    fabricated.vehicle(store, "heron", "nine")
    fabricated.vehicle(store, "otter")
    store.add("gear_losses", *({"vehicle": "heron"} | BY_METERS | row for row in rows))
    if told:
        problem = {"path": "heron", "stage": "losses", "severity": "warning", "message": told}
        store.add("problems", problem)
    print_losses(store, "metric", " -c fleet.toml")
    return capsys.readouterr().out


def row(gear: int | None, loss: float | None, beside: float | None) -> dict[str, Any]:
    """A row whose loss is known to 3 %, and to 0.2 % beside the mean."""
    found: dict[str, Any] = {"gear": gear, "loss": loss, "against_mean": beside}
    if loss is not None:
        found |= {"loss_low": max(loss - 0.03, 0.0), "loss_high": loss + 0.03}
    if beside is not None:
        found |= {"against_mean_low": beside - 0.002, "against_mean_high": beside + 0.002}
    return found


def test_the_answer_comes_first(capsys: pytest.CaptureFixture[str]) -> None:
    """In 80 columns; a vehicle without meters is not named."""
    told = "the meters are taken to be exact to ±1.5 % each"
    out = screen(capsys, row(None, 0.05, None), row(2, 0.04, -0.01), row(1, 0.06, 0.01), told=told)
    answer = (
        "heron: 2 to 8 % of the power is lost from crank to wheel; least in gear 2, most in gear 1"
    )
    assert " ".join(out.split()).startswith(f"{answer}, 2.0 % apart")
    keys = [line.split()[0] for line in out.splitlines() if line.split()]
    assert [key for key in keys if key in {"1", "2", "mean"}] == ["1", "2", "mean"]
    assert told in out
    assert "otter" not in out
    assert all(len(line) <= 80 for line in out.splitlines())


def test_what_may_be_nothing_is_told_by_its_most(capsys: pytest.CaptureFixture[str]) -> None:
    """And gears within each other's intervals are not ranked."""
    out = screen(capsys, row(None, 0.01, None), row(1, 0.01, 0.001), row(2, 0.01, -0.001))
    assert "at most 4 % of the power is lost" in out
    assert "no gear surely loses more than another" in " ".join(out.split())


def test_meters_that_disagree_tell_no_loss(capsys: pytest.CaptureFixture[str]) -> None:
    """Only how gears compare."""
    out = screen(capsys, row(None, None, None), row(1, None, 0.01), row(2, None, -0.01))
    assert "nothing can be said of what is lost" in " ".join(out.split())


def test_without_losses_only_the_reason_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    """Such as a motor; without any, nothing at all."""
    assert screen(capsys, told="its motor adds power").startswith("heron: its motor adds power")
    assert screen(capsys) == ""
