"""Children that run the command line and can be killed: one process imports, and forks each.

Reads one JSON list of arguments a line; writes, a line each, to the descriptor it was given: the
number of the child, when it is about to commit and when it has, and how it ended. Nothing but
imports happens before a fork, so that no thread of a library is left behind by it.
"""

from __future__ import annotations

import json
import os
import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

TOLD = int(sys.argv[1]) if len(sys.argv) > 1 else 2


def tell(line: str) -> None:
    """Write a line that no other can come between."""
    os.write(TOLD, f"{line}\n".encode())


def told_by_the_store() -> None:
    """Have every transaction of this process tell that it is about to commit, and that it did."""
    from ridelab.store.database import Database

    begun = Database.transaction

    @contextmanager
    def transaction(self: Database) -> Iterator[None]:
        with begun(self):
            yield
            tell("committing")
        tell("committed")

    Database.transaction = transaction  # type: ignore[method-assign]


def run(arguments: list[str]) -> int:
    """Run the command line as a child, with processes beside even where little is to be read."""
    from ridelab.cli.entry import run as run_command
    from ridelab.pipeline import executors

    silent = os.open(os.devnull, os.O_RDWR)
    for number in (0, 1, 2):
        os.dup2(silent, number)
    executors._WORTH_S = 0.0
    told_by_the_store()
    return run_command(arguments)


def main() -> None:
    """Fork a child for each line, and wait for it."""
    import altair
    import duckdb
    import polars
    import scipy.stats
    import vl_convert

    from ridelab import analysis, gears, pipeline, report, store, telemetry
    from ridelab.cli import entry

    del altair, duckdb, polars, scipy, vl_convert
    del analysis, entry, gears, pipeline, report, store, telemetry
    for line in sys.stdin:
        child = os.fork()
        if child == 0:
            code = 1
            try:
                code = run(json.loads(line))
            finally:
                os._exit(code)
        tell(f"child {child}")
        _, status = os.waitpid(child, 0)
        tell(f"ended {os.waitstatus_to_exitcode(status)}")


if __name__ == "__main__":
    main()
