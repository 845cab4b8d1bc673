"""``ridelab forget``: nothing goes that was not shown and meant; what goes is told."""

from __future__ import annotations

import io
import json
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from ridelab.campaign import load
from ridelab.pipeline import load as load_pipeline
from ridelab.pipeline import run
from ridelab.simulate import simulate_ride
from ridelab.store import Store
from tests.cli.test_replay import CAMPAIGN, PIPELINE
from tests.cli.test_run import HOLD
from tests.simulate.rides import hub_ride

if TYPE_CHECKING:
    from tests.cli.conftest import Ridelab


class Terminal(io.StringIO):
    """Somebody who types."""

    def isatty(self) -> bool:
        """Yes."""
        return True


@pytest.fixture
def stored(ridelab: Ridelab) -> Ridelab:
    """The command line in a folder with a campaign and a store of two rides."""
    folder, day = Path.cwd(), datetime(2031, 5, 4, 8, tzinfo=UTC)
    for seed in (1, 2):
        started = day + timedelta(days=seed)
        simulate_ride(hub_ride(duration_s=600), seed).to_fit(folder / f"{seed}.fit", started)
    (folder / "campaign.toml").write_text(CAMPAIGN, encoding="utf-8")
    (folder / "quick.toml").write_text(PIPELINE, encoding="utf-8")
    campaign, pipeline = load(folder / "campaign.toml"), load_pipeline(folder / "quick.toml")
    run(pipeline, campaign, folder / "ridelab.duckdb", folder / "report")
    return ridelab


def paths() -> list[str]:
    """The files of the rides that are stored."""
    with Store.open("ridelab.duckdb", read_only=True) as store:
        return sorted(store.frame("rides")["path"])


def test_rides_are_shown_and_asked_for(stored: Ridelab, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing goes unless the answer is yes; then it says what went, and what follows."""
    monkeypatch.setattr(sys, "stdin", Terminal("\n"))
    done = stored("forget", "1.fit")
    assert done.code == 1
    assert "1.fit" in done.out
    assert done.err.splitlines()[-1].endswith("[y/N] nothing was forgotten")
    assert paths() == ["1.fit", "2.fit"]
    monkeypatch.setattr(sys, "stdin", Terminal("y\n"))
    done = stored("forget", "1.fit")
    assert done.code == 0
    assert "1 ride forgotten\n" in done.out
    assert "measured of heron is gone with them; the next run measures anew" in done.out
    assert "1 of them still has its file" in done.out
    assert paths() == ["2.fit"]


def test_nobody_there_to_ask_forgets_nothing(stored: Ridelab) -> None:
    """Exit 2, and what to say instead."""
    done = stored("forget", "1.fit")
    assert done.code == 2
    assert "nobody is here to be asked whether 1 ride shall be forgotten; --yes" in done.err
    assert paths() == ["1.fit", "2.fit"]
    assert stored("forget", "1.fit", "--yes").code == 0
    assert paths() == ["2.fit"]


def test_dry_run_only_shows(stored: Ridelab) -> None:
    """And needs no answer."""
    Path("2.fit").unlink()
    done = stored("forget", "--gone", "--dry-run")
    assert "1 ride would be forgotten" in done.out
    assert "nothing was done" in done.out
    assert (done.code, done.err) == (0, "")
    assert [line.split()[2] for line in done.out.splitlines()[3:4]] == ["2.fit"]
    assert paths() == ["1.fit", "2.fit"]


def test_what_matches_nothing_is_refused(stored: Ridelab) -> None:
    """Exit 2, the nearest name, and nothing on stdout."""
    for asked, said in (
        (["3.fit"], "no stored ride is '3.fit'; did you mean"),
        (["1.fit", "--gone"], "still has its file; none is forgotten"),
        (["--vehicle", "otter"], "known: heron"),
        ([], "no ride is named"),
    ):
        done = stored("forget", *asked, "--yes")
        assert (done.code, done.out) == (2, ""), asked
        assert said in done.err
    assert paths() == ["1.fit", "2.fit"]


def test_programs_are_told_what_went(stored: Ridelab) -> None:
    """A row a ride, with whether it was forgotten; --json alone asks nobody and is refused."""
    assert stored("forget", "1.fit", "--json").code == 2
    [shown] = json.loads(stored("forget", "1.fit", "--dry-run", "--json").out)
    [gone] = json.loads(stored("forget", "1.fit", "--yes", "--json").out)
    assert (shown["forgotten"], gone["forgotten"]) == (False, True)
    assert shown | {"forgotten": True} == gone
    assert (gone["path"], gone["vehicle"], gone["file"]) == ("1.fit", "heron", "there")
    assert gone["started_at"] == "2031-05-05T08:00:00+00:00"


def test_store_that_a_run_writes_is_left_to_it(stored: Ridelab) -> None:
    """Exit 4; what would be forgotten can be seen."""
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, "ridelab.duckdb"], stdout=subprocess.PIPE, text=True
    ) as holder:
        assert holder.stdout
        assert holder.stdout.readline() == "held\n"
        done = stored("forget", "1.fit", "--yes")
        shown = stored("forget", "1.fit", "--dry-run")
        holder.kill()
    assert (done.code, done.out) == (4, "")
    assert f"held by process {holder.pid}; try again when it is done" in done.err
    assert (shown.code, "1.fit" in shown.out) == (0, True)
    assert paths() == ["1.fit", "2.fit"]


def test_there_must_be_a_store(ridelab: Ridelab) -> None:
    """None is made."""
    Path("campaign.toml").write_text(CAMPAIGN, encoding="utf-8")
    done = ridelab("forget", "1.fit", "--yes")
    assert (done.code, done.out) == (1, "")
    assert "no such store yet" in done.err
    assert not Path("ridelab.duckdb").exists()
