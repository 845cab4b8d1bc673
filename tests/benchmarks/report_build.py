"""Builds the report of a store in a process of its own, and says in JSON what that took.

``python -m tests.benchmarks.report_build STORE FOLDER FIRST``, FIRST being the part that comes
first. Seconds by the clock and of the processor, imports among them, and what takes them.
"""

from __future__ import annotations

import json
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable

_BEGAN = time.perf_counter()


def build(store: Path, folder: Path, first: Any) -> dict[str, float]:  # noqa: ANN401 - a word
    """Write the report; return seconds of the processor by part, "all", and "clock"."""
    from ridelab.report import figures, page
    from ridelab.store import Store

    spent = {"loading what it needs": time.process_time()}
    for module, function, part in (
        (page, "read_findings", "queries"),
        (page, "chart_runtime", "the script that draws charts"),
        (figures, "inert", "writing charts"),
    ):
        setattr(module, function, _timed(getattr(module, function), spent, part))
    with Store.open(store, read_only=True) as opened:
        page.write_report(opened, folder, "A season by the estuary (invented)", first=first)
    known, in_all = sum(spent.values()), time.process_time()
    spent["making charts, tables and sentences"] = in_all - known
    return spent | {"all": in_all, "clock": time.perf_counter() - _BEGAN}


def _timed(function: Callable[..., Any], spent: dict[str, float], part: str) -> Callable[..., Any]:
    def timed(*arguments: object, **named: object) -> object:
        began = time.process_time()
        found = function(*arguments, **named)
        spent[part] = spent.get(part, 0.0) + time.process_time() - began
        return found

    return timed


if __name__ == "__main__":
    sys.stdout.write(json.dumps(build(Path(sys.argv[1]), Path(sys.argv[2]), sys.argv[3])))
