"""The first thing that runs and the last: from here on a signal means a sentence, no traceback."""

from __future__ import annotations

import sys
from typing import NoReturn

from ridelab.cli import signals
from ridelab.interruption import asked_by


def main() -> NoReturn:
    """Run the command line of this process and leave it."""
    try:
        signals.listen()
        code = _run()
        signals.stop_listening()
    except BaseException:
        if asked_by() is None:
            raise
        code = signals.told()
    sys.exit(code)


def _run() -> int:
    from ridelab.cli.entry import run

    for stream in (sys.stdout, sys.stderr):
        if reconfigure := getattr(stream, "reconfigure", None):
            # A terminal that cannot show "±" is no reason to lose the table.
            reconfigure(errors="replace")
    return run(sys.argv[1:])
