"""Damaged GPX files: ``python -m tests.benchmarks.fuzz_gpx [--json] [--quick] [--count N]``.

The real rides beside the repository and made ones, each input damaged in one to three ways: bits,
cuts, pieces moved, markup out of place, values and times that cannot be, other encodings. Every
input must end as a ride or as a declared error, within the bounds of ``fuzzing``.
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from ridelab.telemetry import gpx
from tests.benchmarks import mutations_gpx
from tests.benchmarks.fuzzing import run

if TYPE_CHECKING:
    from collections.abc import Sequence


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the outcomes; 0 if all were declared."""
    return run("GPX", gpx.read, mutations_gpx.seeds(), mutations_gpx.ALL, arguments)


if __name__ == "__main__":
    sys.exit(main())
