"""A short run of the fuzzing of CSV, and that its inputs are what they should be."""

from __future__ import annotations

from tests.benchmarks import fuzzing, mutations_csv
from tests.benchmarks.fuzz_csv import read

INPUTS = 400


def test_undamaged_inputs_are_rides() -> None:
    """What gets damaged is whole."""
    assert all(len(read(fuzzing.PATH, content).samples) > 20 for content in mutations_csv.seeds())


def test_damaged_files_are_rides_or_declared_errors() -> None:
    """Within the bounds of time and memory, and without a warning."""
    tally = fuzzing.fuzz(read, mutations_csv.seeds(), mutations_csv.ALL, INPUTS, seed=2)
    assert tally.failures == []
    assert tally.outcomes["ride"] + tally.outcomes["ride, with problems"] > INPUTS / 2
