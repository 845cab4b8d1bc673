"""Pipelines that come along, printed to be copied, and plans that fit a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from ridelab.pipeline import load, names

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Ridelab


@pytest.mark.parametrize("name", names())
def test_printed_pipeline_is_a_pipeline_of_ones_own(
    ridelab: Ridelab, tmp_path: Path, name: str
) -> None:
    """Saved under another name it has the same stages, settings among them."""
    done = ridelab("pipeline", name)
    (tmp_path / "mine.toml").write_text(done.out, encoding="utf-8")
    assert (done.code, done.err) == (0, "")
    assert load(tmp_path / "mine.toml").steps == load(name).steps


def test_without_a_name_it_lists_them(ridelab: Ridelab) -> None:
    """Each with what it is for, within 80 columns."""
    done = ridelab("pipeline")
    assert done.code == 0
    assert all(name in done.out for name in names())
    assert "For a shop" in done.out
    assert max(map(len, done.out.splitlines())) <= 80


def test_unknown_name_suggests_the_nearest(ridelab: Ridelab) -> None:
    """As an error of usage."""
    done = ridelab("pipeline", "flet")
    assert (done.code, done.out) == (2, "")
    assert "no pipeline 'flet'; did you mean 'fleet'?" in done.err


def test_plan_fits_80_columns_and_names_each_stage(ridelab: Ridelab, tmp_path: Path) -> None:
    """In order, with what it would do; a query is not repeated as its own item."""
    assert ridelab("new", ".").code == 0
    ride = tmp_path / "rides/heron/a.fit"
    ride.parent.mkdir(parents=True)
    ride.write_bytes(b"not looked at")
    done = ridelab("run", "fleet", "--dry-run")
    assert done.code == 0
    assert max(map(len, done.out.splitlines())) <= 80
    numbered = [line.split()[1] for line in done.out.splitlines() if line[:1].isdigit()]
    assert numbered == [f"{step.name}:" for step in load("fleet").steps]
    assert "   shifts\n" not in done.out
    assert "   rides/heron/a.fit\n" in done.out
