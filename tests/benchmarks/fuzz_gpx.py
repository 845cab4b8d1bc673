"""Damaged GPX files: ``python -m tests.benchmarks.fuzz_gpx [--json] [--quick] [--count N]``.

The real rides beside the repository and made ones, each input damaged in one to three ways: bits,
cuts, pieces moved, markup out of place, values and times that cannot be, other encodings. Every
input must end as a ride or as a declared error, within the bounds of ``fuzzing``.
"""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

from ridelab.telemetry import gpx
from tests.benchmarks import mutations_gpx
from tests.benchmarks.fuzzing import figures, fuzz, show

if TYPE_CHECKING:
    from collections.abc import Sequence

COUNT, QUICK = 50_000, 1_500


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the outcomes; 0 if all were declared."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.fuzz_gpx")
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--count", type=int)
    parser.add_argument("--seed", type=int, default=0)
    chosen = parser.parse_args(arguments)
    count = chosen.count or (QUICK if chosen.quick else COUNT)
    tally = fuzz(gpx.read, mutations_gpx.seeds(), mutations_gpx.ALL, count, chosen.seed)
    show(figures("GPX", tally), tally, chosen.json)
    return 1 if tally.failures else 0


if __name__ == "__main__":
    sys.exit(main())
