"""Exit codes, and the words for them in ``--help``."""

from __future__ import annotations

DONE = 0
FAILED = 1
USAGE = 2
SET_ASIDE = 3
BUSY = 4
#: 128 and the number of the signal (common practice of shells, no source).
INTERRUPTED = 130
TERMINATED = 143

#: Shown below ``ridelab --help``. The first line keeps the help from being rewrapped.
EPILOG = """\b
Exit codes:
  0    done
  1    failed, nothing done
  2    wrong usage or a wrong campaign
  3    done, but files were set aside or a vehicle has none: show problems
  4    the store is held by another run
  130  interrupted
  143  interrupted by SIGTERM"""
