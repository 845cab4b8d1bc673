"""What a command and all processes below it take: time by the clock, and memory at its peak."""

from __future__ import annotations

import resource
import subprocess
import sys
import threading
import time
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

_EVERY_S = 0.1


class Took(NamedTuple):
    """Seconds by the clock and of the processor, the exit code, and the most bytes ever held.

    The last three are those of all processes together.
    """

    seconds: float
    processor_s: float
    code: int
    peak_bytes: int
    out: str


def took(arguments: Sequence[str], folder: Path) -> Took:
    """Run a command of Python in a folder; memory is looked at every tenth of a second (Linux).

    Of a page that several processes share, each counts its part (proportional set size).
    """
    began, before = time.perf_counter(), _processor_s()
    process = subprocess.Popen(
        [sys.executable, *arguments],
        cwd=folder,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    peak = [0]
    watching = threading.Thread(target=_watch, args=(process, peak), daemon=True)
    watching.start()
    out, _ = process.communicate()
    seconds = time.perf_counter() - began
    watching.join()
    return Took(seconds, _processor_s() - before, process.returncode, peak[0], out)


def _processor_s() -> float:
    """Return the processor time of all processes below this one that have ended."""
    spent = resource.getrusage(resource.RUSAGE_CHILDREN)
    return spent.ru_utime + spent.ru_stime


def _watch(process: subprocess.Popen[str], peak: list[int]) -> None:
    while process.poll() is None:
        peak[0] = max(peak[0], sum(map(_held, _tree(process.pid))))
        time.sleep(_EVERY_S)


def _tree(pid: int) -> Iterator[int]:
    """Yield a process and all below it."""
    yield pid
    with suppress(OSError):
        for task in Path(f"/proc/{pid}/task").iterdir():
            for child in (task / "children").read_text().split():
                yield from _tree(int(child))


def _held(pid: int) -> int:
    """Return the bytes of a process, none where it is gone."""
    with suppress(OSError):
        for line in Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines():
            if line.startswith("Pss:"):
                return 1024 * int(line.split()[1])
    return 0
