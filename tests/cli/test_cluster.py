"""``ridelab run --scheduler``: what cannot be is told in one line."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Ridelab

CAMPAIGN = """
[vehicles.heron]
kind = "trike"
rides = ["*.fit"]
"""


@pytest.fixture(autouse=True)
def campaign(tmp_path: Path) -> None:
    """A file that is there is enough: none of it is read."""
    (tmp_path / "campaign.toml").write_text(CAMPAIGN, "utf-8")
    (tmp_path / "a.fit").touch()


def test_cluster_and_processes_together_are_refused(ridelab: Ridelab) -> None:
    """A cluster has as many workers as it has."""
    done = ridelab("run", "fleet", "--workers", "2", "--scheduler", "tcp://host:8786")
    told = "--workers and --scheduler together; a cluster has workers of its own"
    assert done == (2, "", f"ridelab: {told}\n")


def test_no_address_is_refused(ridelab: Ridelab) -> None:
    """Nothing is loaded for it, and nothing sent."""
    done = ridelab("run", "fleet", "--scheduler", "host")
    assert (done.code, done.out) == (2, "")
    assert done.err.startswith("ridelab: --scheduler: found 'host'; accepted: the address that ")


def test_lake_without_a_cluster_is_refused(ridelab: Ridelab, tmp_path: Path) -> None:
    """Neither is made, nor a store."""
    done = ridelab("run", "fleet", "--lake", "lake")
    told = "--lake goes with --scheduler: the workers of a cluster fill it"
    assert done == (2, "", f"ridelab: {told}\n")
    assert not (tmp_path / "lake").exists()
    assert not (tmp_path / "ridelab.duckdb").exists()


def test_other_urls_of_rides_are_refused(ridelab: Ridelab) -> None:
    """By the option that names them, and without what may be a password."""
    for url in ("http://host/a.fit", "s3://me:hidden@bucket/*.fit"):
        done = ridelab("run", "fleet", "--rides", url)
        assert (done.code, done.out) == (2, "")
        assert done.err.startswith("ridelab: --rides: found '")
        assert "hidden" not in done.err


def test_missing_extra_is_told(
    ridelab: Ridelab, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With the command that brings it; no store is begun."""
    monkeypatch.setitem(sys.modules, "distributed", None)
    done = ridelab("run", "fleet", "--scheduler", "tcp://127.0.0.1:8786")
    told = "--scheduler needs what `pip install 'ridelab[cluster]'` installs"
    assert done == (2, "", f"ridelab: {told}\n")
    assert not (tmp_path / "ridelab.duckdb").exists()
