"""A Dask scheduler and its workers, as processes of their own on the loopback address."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

ROOT = Path(__file__).parents[2]
_HERE = ("--host", "127.0.0.1", "--no-dashboard")
_PATIENCE_S = 30.0


@dataclass
class Farm:
    """A scheduler, and the workers that were started for it; a context manager."""

    folder: Path
    address: str = ""
    processes: list[subprocess.Popen[bytes]] = field(default_factory=list)

    def __enter__(self) -> Farm:
        told = self.folder / "scheduler.json"
        self._start({}, "scheduler", *_HERE, "--port", "0", "--scheduler-file", str(told))
        give_up_at = time.monotonic() + _PATIENCE_S
        while not self.address:
            assert time.monotonic() < give_up_at
            time.sleep(0.05)
            if told.exists() and told.read_text("utf-8").endswith("}"):
                self.address = json.loads(told.read_text("utf-8"))["address"]
        return self

    def __exit__(self, *_: object) -> None:
        self.end()

    def work(self, workers: int = 1, env: Mapping[str, str] | None = None, *more: str) -> None:
        """Start workers of one thread, one process each, and wait until they are there."""
        before = len(self.pids())
        arguments = ("--nthreads", "1", "--nworkers", str(workers), *_HERE, *more)
        self._start(env or {}, "worker", self.address, *arguments)
        give_up_at = time.monotonic() + _PATIENCE_S
        while len(self.pids()) < before + workers:
            assert time.monotonic() < give_up_at
            time.sleep(0.05)

    def pids(self) -> list[int]:
        """Return the numbers of the processes of all workers."""
        from distributed import Client

        with Client(self.address, set_as_default=False) as client:
            return list(client.run(os.getpid, on_error="ignore").values())

    def kill(self, number: int = 0) -> int:
        """Kill a worker, as a power cut would; its guard starts another, as guards do."""
        pid = self.pids()[number]
        os.kill(pid, signal.SIGKILL)
        return pid

    def rest(self) -> None:
        """End the workers that were started last, guards and all."""
        process = self.processes.pop()
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()
        while self.pids():
            time.sleep(0.05)

    def end(self) -> None:
        """End all of it."""
        for process in self.processes:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait()
        self.processes.clear()

    def _start(self, env: Mapping[str, str], *arguments: str) -> None:
        path = os.pathsep.join([*filter(None, [env.get("PYTHONPATH")]), str(ROOT)])
        process = subprocess.Popen(
            [sys.executable, "-m", "dask", *arguments],
            cwd=self.folder,
            env={**os.environ, "POLARS_MAX_THREADS": "1", **env, "PYTHONPATH": path},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        self.processes.append(process)
