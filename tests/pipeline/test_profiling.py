"""The stage ``moments``: each sample of each ride once, and nothing twice."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from ridelab.campaign import load
from ridelab.pipeline import Pipeline, plan, run
from ridelab.pipeline import load as load_pipeline
from ridelab.store import Store

if TYPE_CHECKING:
    from tests.pipeline.conftest import Bench

STAGES = '[[stages]]\nrun = "read"\n[[stages]]\nrun = "moments"\n'


@pytest.fixture
def pipeline(bench: Bench) -> Pipeline:
    """Read, and tell moments."""
    (bench.root / "road.toml").write_text(STAGES, encoding="utf-8")
    return load_pipeline(bench.root / "road.toml")


def test_every_sample_has_a_moment(bench: Bench, pipeline: Pipeline) -> None:
    """One row a ride and n, and one profile a ride."""
    campaign = load(bench.root / "campaign.toml")
    run(pipeline, campaign, bench.store, bench.root / "report")
    content = bench.content()
    samples, moments = content["recorded_samples"], content["moments"]
    keys = ["ride", "n"]
    assert moments.select(keys).sort(keys).equals(samples.select(keys).sort(keys))
    assert set(content["ride_profiles"]["ride"]) == set(samples["ride"])
    climbed = (
        moments.group_by("ride").agg(total="climb_m").join(content["ride_profiles"], on="ride")
    )
    assert climbed["climb_m"].is_not_null().all()


def test_only_rides_without_moments_are_worked_on(bench: Bench, pipeline: Pipeline) -> None:
    """The second run finds nothing to do; a ride more is the only one to do."""
    campaign = load(bench.root / "campaign.toml")
    (bench.root / "rides/heron/b.fit").unlink()
    run(pipeline, campaign, bench.store, bench.root / "report")
    with Store.open(bench.store) as store:
        assert plan(pipeline, campaign, store).stages[1].todo == ()
        kept = plan(pipeline, campaign, store).stages[1].kept
    bench.put("rides/heron/b.fit", 1)
    run(pipeline, campaign, bench.store, bench.root / "report")
    with Store.open(bench.store) as store:
        assert plan(pipeline, campaign, store).stages[1].kept == kept + 1
        assert store.frame("select count(*) from ride_profiles").item() == kept + 1


def test_queries_are_filled_anew_once_there_are_moments(bench: Bench, pipeline: Pipeline) -> None:
    """A pipeline without the stage leaves grades unknown; they do not stay so."""
    campaign = load(bench.root / "campaign.toml")
    bench.run()
    assert bench.frame("shifts")["grade"].is_null().all()
    run(pipeline, campaign, bench.store, bench.root / "report")
    bench.run()
    assert bench.frame("shifts")["grade"].is_not_null().any()
