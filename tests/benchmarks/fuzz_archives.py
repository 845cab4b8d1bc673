"""Damaged archives: ``python -m tests.benchmarks.fuzz_archives [--json] [--quick] [--count N]``.

Made archives of both kinds, in one another too, each input damaged in one to three ways: bits,
cuts, headers and directories that lie, members listed thousands of times, packed once more. Every
content must end as a ride or as a declared error, within the bounds of ``fuzzing``, and all that
comes out of one input stays within the bounds of ``ridelab.telemetry.archives``.
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from ridelab.errors import RideError
from ridelab.telemetry import read_content
from ridelab.telemetry.archives import bounds, unpack
from tests.benchmarks import mutations_archives
from tests.benchmarks.fuzzing import run

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from ridelab.telemetry import Ride

#: Of an archive with thousands of members these many are read: all of them are unpacked.
MOST_READ = 20


def read(path: Path, content: bytes) -> Ride:
    """Read the contents, and return the last ride, or raise the last error."""
    expanded, ride, reason = 0, None, RideError("nothing")
    for place, one in enumerate(unpack(path, content)):
        expanded += len(one.data)
        if place >= MOST_READ:
            continue
        try:
            ride = read_content(one)
        except RideError as error:
            reason = error
    allowed = max(bounds.FREE_TOTAL_BYTES, bounds.MAX_RATIO * len(content))
    if expanded > allowed:
        raise AssertionError(f"expanded to {expanded} bytes")
    if ride is None:
        raise reason
    return ride


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the outcomes; 0 if all were declared."""
    return run("archives", read, mutations_archives.seeds(), mutations_archives.ALL, arguments)


if __name__ == "__main__":
    sys.exit(main())
