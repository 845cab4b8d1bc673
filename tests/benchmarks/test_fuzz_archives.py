"""A short run of the fuzzing of archives, and that its inputs are what they should be."""

from __future__ import annotations

from tests.benchmarks import fuzzing, mutations_archives
from tests.benchmarks.fuzz_archives import read

INPUTS = 300


def test_undamaged_inputs_hold_rides() -> None:
    """What gets damaged is whole."""
    assert all(len(read(fuzzing.PATH, one).samples) > 4 for one in mutations_archives.seeds())


def test_damaged_archives_are_rides_or_declared_errors() -> None:
    """Within the bounds of time, memory and expansion, and without a warning."""
    seeds = mutations_archives.seeds()
    tally = fuzzing.fuzz(read, seeds, mutations_archives.ALL, INPUTS, seed=2)
    assert tally.failures == []
    assert tally.outcomes["ride"] + tally.outcomes["ride, with problems"] > INPUTS / 2
