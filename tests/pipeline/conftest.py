"""A small campaign of simulated rides, written anew for each test."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

import pytest

from ridelab import telemetry
from ridelab.campaign import load
from ridelab.pipeline import Pipeline, run
from ridelab.pipeline import load as load_pipeline
from ridelab.simulate import simulate_ride
from ridelab.store import Store
from tests.object_store import bucket
from tests.pipeline.farm import Farm
from tests.simulate.rides import hub_ride

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    import polars as pl

    from ridelab.pipeline import Outcome
    from tests.object_store import Bucket

CAMPAIGN = """
[campaign]
name = "Invented spring rides"

[vehicles.heron]
kind = "bicycle"
rollout_m = 2.1
drivetrain = "fourteen"
rides = ["rides/heron/*.fit"]

[vehicles.otter]
kind = "trike"
tyre = "47-622"
rides = ["rides/otter/*.fit"]

[drivetrains.fourteen]
stages = [
  { name = "chain", driver = [38], driven = [15] },
  { name = "hub", speeds = 14, range = 5.26, lowest = 0.279 },
]

[[claims]]
drivetrain = "fourteen"
quantity = "range"
value = "526 %"
"""
#: All stages but the report, which the report's own tests cover.
QUICK = """
[[stages]]
run = "read"
[[stages]]
run = "measure"
[[stages]]
query = "shifts"
[[stages]]
run = "verdicts"
"""


@dataclass
class Bench:
    """A campaign folder, and what one does to it."""

    root: Path
    fits: tuple[bytes, ...]

    @property
    def store(self) -> Path:
        """Where the store is."""
        return self.root / "ridelab.duckdb"

    def put(self, path: str, content: bytes | int) -> Path:
        """Write a ride file: given bytes, or one of the simulated rides by its number."""
        file = self.root / path
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(self.fits[content] if isinstance(content, int) else content)
        return file

    def edit(self, old: str, new: str) -> None:
        """Change the campaign file."""
        file = self.root / "campaign.toml"
        text = file.read_text(encoding="utf-8")
        assert old in text
        file.write_text(text.replace(old, new), encoding="utf-8")

    def pipeline(self, text: str = QUICK) -> Pipeline:
        """Load a pipeline from its text."""
        file = self.root / "quick.toml"
        file.write_text(text, encoding="utf-8")
        return load_pipeline(file)

    def run(self, text: str = QUICK) -> Outcome:
        """Run a pipeline over the campaign as it is now."""
        campaign = load(self.root / "campaign.toml")
        return run(self.pipeline(text), campaign, self.store, self.root / "report")

    def frame(self, relation_or_sql: str) -> pl.DataFrame:
        """Look into the store."""
        with Store.open(self.store, read_only=True) as store:
            return store.frame(relation_or_sql)

    def content(self) -> dict[str, pl.DataFrame]:
        """Return all relations of the store but those that tell of its runs."""
        of_runs = {"runs", "run_stages", "reading_times"}
        with Store.open(self.store, read_only=True) as store:
            kept = [name for name in store.relations() if name not in of_runs]
            return {relation: store.frame(relation) for relation in kept}

    def told(self, stage: str) -> list[tuple[str, str, str]]:
        """Return path, severity and message of what a stage told."""
        return [
            (path, severity, message)
            for path, where, severity, message, _ in self.frame("problems").rows()
            if where == stage
        ]


@pytest.fixture(scope="session")
def fits() -> tuple[bytes, ...]:
    """Three rides of ten minutes, on three days, as FIT files."""
    day = datetime(2031, 5, 4, 8, tzinfo=UTC)
    return tuple(
        simulate_ride(hub_ride(duration_s=600), seed).fit_content(day + timedelta(days=seed))
        for seed in range(3)
    )


@pytest.fixture(scope="session")
def farm(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Farm]:
    """Two workers of a cluster, for all tests: what one does to them must not hurt the next."""
    pytest.importorskip("distributed", reason="the extra `cluster` is not installed")
    with Farm(tmp_path_factory.mktemp("farm")) as made:
        made.work(2)
        yield made


@pytest.fixture(scope="session")
def store() -> Iterator[Bucket]:
    """A server of objects and a bucket, for all tests: each uses keys of its own."""
    with bucket("invented-rides") as made:
        yield made


@pytest.fixture(scope="session")
def far_farm(tmp_path_factory: pytest.TempPathFactory, store: Bucket) -> Iterator[Farm]:
    """Two workers that know the way to the bucket."""
    pytest.importorskip("distributed", reason="the extra `cluster` is not installed")
    with Farm(tmp_path_factory.mktemp("far-farm")) as made:
        made.work(2, store.environment)
        yield made


@pytest.fixture
def bench(tmp_path: Path, fits: tuple[bytes, ...]) -> Bench:
    """Two vehicles: two rides of one, one of the other."""
    made = Bench(tmp_path, fits)
    (tmp_path / "campaign.toml").write_text(CAMPAIGN, encoding="utf-8")
    made.put("rides/heron/a.fit", 0)
    made.put("rides/heron/b.fit", 1)
    made.put("rides/otter/c.fit", 2)
    return made


@pytest.fixture
def reads(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The names of the files that were read, in order."""
    names: list[str] = []
    read_content = telemetry.read_content

    def counting(content: telemetry.Content, *settings: Any) -> telemetry.Ride:  # noqa: ANN401 - handed on
        names.append(content.path.name)
        return read_content(content, *settings)

    monkeypatch.setattr(telemetry, "read_content", counting)
    return names
