"""A run on a Dask cluster: ``python -m tests.benchmarks.cluster [--json] [--quick] [--rides N]``.

Simulated rides of two hours, 100 of them if silent, 6 with ``--quick``, read and measured by two
workers on this machine that are processes of their own: with and without a lake, with workers
killed on the way, beside two processes without a cluster. Each store is compared, row by row, with
that of one process. Times are by the clock, so other work on the machine counts.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from ridelab.campaign import load
from ridelab.pipeline import load as load_pipeline
from ridelab.pipeline import run
from tests.benchmarks.durability_content import content, differing
from tests.benchmarks.pipeline import figure, print_figure
from tests.benchmarks.pipeline_rides import write_campaign
from tests.pipeline.farm import Farm

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from ridelab.pipeline import Listen, Progress
    from tests.benchmarks.durability_content import Content
    from tests.benchmarks.pipeline import Figure

RIDES, QUICK_RIDES = 100, 6
WORKERS = 2
PIPELINE = """
[[stages]]
run = "read"
[[stages]]
run = "measure"
[[stages]]
query = "shifts"
[[stages]]
run = "verdicts"
"""


def figures(rides: int) -> Iterator[Figure]:
    """Yield the figures, the run of one process first."""
    with TemporaryDirectory() as name, Farm(_made(Path(name) / "farm")) as farm:
        folder = Path(name)
        write_campaign(folder, rides)
        (folder / "short.toml").write_text(PIPELINE, "utf-8")
        farm.work(WORKERS)
        label = f"{rides} rides of two hours"
        yield figure(f"{label}, one process: s", _run(folder))
        expected = content(folder / "ridelab.duckdb")
        yield figure(f"{label}, {WORKERS} processes: s", _run(folder, workers=WORKERS))
        for how, lake in (("", None), (" and a lake", str(folder / "lake"))):
            seconds = _run(folder, farm=farm, lake=lake)
            yield figure(f"{label}, a cluster of {WORKERS} workers{how}: s", seconds)
            yield from _same(folder, expected, f"a cluster{how}")
            if lake is not None:
                size = sum(file.stat().st_size for file in Path(lake).rglob("*.parquet"))
                yield figure("the lake, MB", size / 1e6)
            kills = _Kills(farm)
            seconds = _run(folder, farm=farm, lake=lake and f"{lake}-2", listen=kills)
            which = f"a cluster{how}, {len(kills.stages)} workers killed"
            yield figure(f"{label}, {which}: s", seconds)
            yield from _same(folder, expected, which)


def _made(folder: Path) -> Path:
    folder.mkdir()
    return folder


def _run(
    folder: Path,
    workers: int = 1,
    farm: Farm | None = None,
    lake: str | None = None,
    listen: Listen | None = None,
) -> float:
    """Run over a store that is not there yet; return how long it took."""
    (folder / "ridelab.duckdb").unlink(missing_ok=True)
    began = time.perf_counter()
    run(
        load_pipeline(folder / "short.toml"),
        load(folder / "campaign.toml"),
        folder / "ridelab.duckdb",
        folder / "report",
        listen,
        workers=workers,
        scheduler=farm.address if farm else None,
        lake=lake,
    )
    return time.perf_counter() - began


def _same(folder: Path, expected: Content, which: str) -> Iterator[Figure]:
    """Yield how many relations differ from those of one process, which must be none."""
    found = differing(content(folder / "ridelab.duckdb"), expected)
    told = f": {', '.join(found)}" if found else ""
    one = figure(f"{which}: relations that differ from those of one process{told}", len(found))
    yield one | {"goal": "= 0", "met": not found}


class _Kills:
    """Kills a worker while files are read, and one while vehicles are measured."""

    def __init__(self, farm: Farm) -> None:
        self._farm = farm
        self.stages: list[str] = []

    def __call__(self, progress: Progress, /) -> None:
        """Kill once something of a stage is done."""
        if progress.done and progress.done < progress.total and progress.stage not in self.stages:
            self.stages.append(progress.stage)
            self._farm.kill()


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the figures as they come; 0 if all goals are met."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.cluster")
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--rides", type=int)
    chosen = parser.parse_args(arguments)
    found = []
    for one in figures(chosen.rides or (QUICK_RIDES if chosen.quick else RIDES)):
        found.append(one)
        if not chosen.json:
            print_figure(one)
    if chosen.json:
        sys.stdout.write(json.dumps(found, indent=1) + "\n")
    return int(any(one["met"] is False for one in found))


if __name__ == "__main__":
    sys.exit(main())
