"""A short run of the fuzzing of GPX."""

from __future__ import annotations

from random import Random

from ridelab.telemetry import gpx
from tests.benchmarks import mutations_gpx
from tests.benchmarks.fuzzing import fuzz

INPUTS = 300


def test_damaged_gpx_is_a_ride_or_a_plain_reason() -> None:
    """Nothing but declared errors, within the bounds of time and memory."""
    tally = fuzz(gpx.read, mutations_gpx.seeds(), mutations_gpx.ALL, INPUTS, seed=2)
    assert tally.failures == []
    assert tally.outcomes.total() == INPUTS


def test_the_files_that_get_damaged_are_rides() -> None:
    """Whole ones, so that what is told of a damaged one is told of the damage."""
    for content in mutations_gpx.seeds():
        assert gpx.sniff(content)
        told = [problem.message for problem in gpx.read(mutations_gpx.PATH, content).problems]
        assert not any("line" in text or "without" in text for text in told)


def test_each_mutation_changes_some_input() -> None:
    """One that changes nothing would count inputs that were never damaged."""
    content = mutations_gpx.seeds()[0]
    for mutation in mutations_gpx.ALL:
        random = Random(mutation.__name__)  # noqa: S311 - reproducible on purpose
        assert any(mutation(content, random) != content for _ in range(20)), mutation
