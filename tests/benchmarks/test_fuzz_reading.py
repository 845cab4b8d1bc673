"""A short run of the fuzzing of FIT, and that the fuzzing finds what it looks for."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridelab.errors import NotARide
from ridelab.telemetry import fit
from tests.benchmarks import fuzzing, mutations
from tests.benchmarks.fuzz_reading import missing_records, seeds

if TYPE_CHECKING:
    from pathlib import Path

    from ridelab.telemetry import Ride

INPUTS = 400


def test_damaged_files_are_rides_or_declared_errors() -> None:
    """Within two seconds and two gigabytes, and without a warning."""
    tally = fuzzing.fuzz(fit.read, seeds(), mutations.ALL, INPUTS, seed=2)
    assert tally.failures == []
    assert tally.outcomes.total() == INPUTS


def test_no_record_that_fitdecode_yields_is_missing() -> None:
    """Of some of the same inputs."""
    assert missing_records(seeds(), INPUTS, seed=2) == []


def test_what_is_not_declared_is_a_failure() -> None:
    """Any other error, and a reader that does not come to an end."""

    def read(_path: Path, content: bytes) -> Ride:
        if content == b"hang":
            while True:
                pass
        if content == b"bug":
            raise KeyError("bug")
        raise NotARide("fine")

    with fuzzing.bounded():
        assert fuzzing.outcome_of(read, b"hang").startswith("!TooSlow")
        assert fuzzing.outcome_of(read, b"bug") == "!KeyError: 'bug'"
        assert fuzzing.outcome_of(read, b"fine") == "NotARide"


def test_an_input_can_be_made_again() -> None:
    """By its number and the seed alone."""
    files = [bytes(range(200)), b"another file of some length"]
    made = [fuzzing.mutated(files, mutations.ALL, number, seed=3) for number in range(50)]
    assert made == [fuzzing.mutated(files, mutations.ALL, number, seed=3) for number in range(50)]
    assert len({content for _, content in made}) > 40
