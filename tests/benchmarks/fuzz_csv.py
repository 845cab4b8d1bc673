"""Damaged CSV files: ``python -m tests.benchmarks.fuzz_csv [--json] [--quick] [--count N]``.

Made logs of four loggers, each input damaged in one to three ways: bits, cuts, fields and columns
that cannot be, lines out of place, other signs and encodings. Every input must end as a ride or as
a declared error, within the bounds of ``fuzzing``.
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from ridelab.telemetry import logs
from tests.benchmarks import mutations_csv
from tests.benchmarks.fuzzing import run

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from ridelab.telemetry import Ride


def read(path: Path, content: bytes) -> Ride:
    """Read by whichever of the loggers fits."""
    return logs.read(path, content, mutations_csv.LOGGERS, mutations_csv.ROLLOUT_M)


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the outcomes; 0 if all were declared."""
    return run("CSV", read, mutations_csv.seeds(), mutations_csv.ALL, arguments)


if __name__ == "__main__":
    sys.exit(main())
