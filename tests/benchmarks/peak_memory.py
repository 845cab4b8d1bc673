"""Prints the most bytes held while reading one FIT file, beyond what was held before.

``python -m tests.benchmarks.peak_memory FILE``, in a process of its own. A small ride is read
first, so that libraries are loaded and their threads run.
"""

from __future__ import annotations

import sys
from pathlib import Path

from ridelab.telemetry import read_ride
from ridelab.telemetry.fit import read
from tests.telemetry.fitbytes import CYCLING, ride


def peak_bytes(path: Path) -> int:
    """The peak of resident memory while the file is read, less what was resident before."""
    read(Path("small.fit"), ride(CYCLING))
    Path("/proc/self/clear_refs").write_text("5")  # forget the peak so far (Linux)
    before = _status("VmRSS")
    kept = read_ride(path)
    peak = _status("VmHWM")
    assert len(kept.samples)
    return peak - before


def _status(name: str) -> int:
    lines = Path("/proc/self/status").read_text().splitlines()
    return 1024 * int(next(line.split()[1] for line in lines if line.startswith(name)))


if __name__ == "__main__":
    sys.stdout.write(f"{peak_bytes(Path(sys.argv[1]))}\n")
