"""The command line: parses, calls, prints. What can be computed lives in the rooms below."""

from ridelab.cli.front import main

__all__ = ["main"]
