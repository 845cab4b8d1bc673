"""Damaged FIT files: ``python -m tests.benchmarks.fuzz_reading [--json] [--quick] [--count N]``.

The real rides beside the repository (made ones where they are absent), each input damaged in one
to three ways: bits, cuts, pieces missing, repeated, moved or blank, wrong sizes, wrong definitions.
Every input must end as a ride or as a declared error, within the bounds of ``fuzzing``; of one
input in fifty the records are counted beside fitdecode's: there may not be fewer, neither of all
nor of those within a day of the middle one; what is further off was misread.
"""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

from ridelab.telemetry import fit
from ridelab.telemetry.fit.messages import decode
from tests.benchmarks import mutations
from tests.benchmarks.fuzzing import at_most, figures, fuzz, mutated, show
from tests.real_rides import REAL_RIDES
from tests.telemetry.fit import reference
from tests.telemetry.fitbytes import CYCLING, ride

if TYPE_CHECKING:
    from collections.abc import Sequence

    import polars as pl

    from ridelab.telemetry.fit.table import Form

COUNT, QUICK = 50_000, 1_500

#: Of larger files this much is taken, so that the inputs are many and not large.
LARGEST_BYTES = 1 << 16

COUNTED_EVERY = 50
TIMES: dict[str, dict[str, Form]] = {"record": {"timestamp": "number"}}


def seeds() -> list[bytes]:
    """The files that get damaged."""
    if REAL_RIDES.is_dir():
        files = sorted(REAL_RIDES.glob("*/*.fit"))
        return [file.read_bytes()[:LARGEST_BYTES] for file in files]
    return [ride(CYCLING), ride(CYCLING, seconds=600), ride(CYCLING) * 2]


def missing_records(files: Sequence[bytes], count: int, seed: int) -> list[int]:
    """Numbers of the inputs of which fitdecode yields more records of the ride than ``decode``."""
    found = []
    for number in range(0, count, COUNTED_EVERY):
        _, content = mutated(files, mutations.ALL, number, seed)
        theirs = reference.tables(content, TIMES)["record"]["timestamp"]
        ours = decode(content, TIMES)["record"]["timestamp"]
        if len(ours) < len(theirs) and of_a_day(ours) < of_a_day(theirs):
            found.append(number)
    return found


def of_a_day(times_s: pl.Series) -> int:
    """How many records are of the day around the middle one; others were misread."""
    return int((times_s - times_s.median()).abs().lt(86_400).sum()) if len(times_s) else 0


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the outcomes; 0 if all were declared."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.fuzz_reading")
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--count", type=int)
    parser.add_argument("--seed", type=int, default=0)
    chosen = parser.parse_args(arguments)
    count = chosen.count or (QUICK if chosen.quick else COUNT)
    files = seeds()
    tally = fuzz(fit.read, files, mutations.ALL, count, chosen.seed)
    fewer = missing_records(files, count, chosen.seed)
    asked = len(range(0, count, COUNTED_EVERY))
    text = f"FIT: fewer records than fitdecode, of {asked} inputs"
    show([*figures("FIT", tally), at_most(text, len(fewer), 0)], tally, chosen.json)
    return 0 if not tally.failures and not fewer else 1


if __name__ == "__main__":
    sys.exit(main())
