"""Runs that are killed, continued, and killed again; what is found wrong after each."""

from __future__ import annotations

import json
import os
import random
import select
import shutil
import signal
import subprocess
import sys
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from ridelab.errors import StoreError
from tests.benchmarks.durability_campaign import BEFORE, NOW, write_campaign, write_rides
from tests.benchmarks.durability_content import content, differing, faults

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from types import TracebackType

    from tests.benchmarks.durability_content import Content

ROOT = Path(__file__).resolve().parents[2]
#: Kills between two finished runs.
IN_A_ROW = 3
#: A commit of a small ride takes about so long.
COMMIT_S = 0.02
Kind = Literal["time", "commit"]
ENDED_WELL = ("ended 0", "ended 3")


@dataclass(frozen=True)
class Moment:
    """When to kill: after seconds, or so long after the n-th commit began."""

    kind: Kind
    after_s: float
    commit: int = 0


@dataclass
class Tally:
    """What was found: of each fault what it was, and at which moment of killing."""

    kills: int = 0
    finished: int = 0
    stages: Counter[str] = field(default_factory=Counter)
    lost: list[str] = field(default_factory=list)
    half: list[str] = field(default_factory=list)
    closed: list[str] = field(default_factory=list)
    differing: list[str] = field(default_factory=list)
    left: list[str] = field(default_factory=list)
    failed: list[str] = field(default_factory=list)

    @property
    def wrong(self) -> list[str]:
        """All faults."""
        found = (self.lost, self.half, self.closed, self.failed, self.differing, self.left)
        return [fault for faults in found for fault in faults]


class Nursery:
    """The process whose children are killed."""

    def __enter__(self) -> Nursery:
        """Start it; it imports for a second or two."""
        read, write = os.pipe()
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.benchmarks.nursery", str(write)],
            stdin=subprocess.PIPE,
            cwd=ROOT,
            pass_fds=(write,),
            text=True,
        )
        os.close(write)
        self._told = os.fdopen(read, "rb", buffering=0)
        self._rest = b""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        """Let it go."""
        self._process.communicate()
        self._told.close()

    def run(self, arguments: Sequence[str], moment: Moment | None = None) -> tuple[str, int, float]:
        """Run and perhaps kill; return how it ended, its commits, and the seconds it took."""
        assert self._process.stdin
        self._process.stdin.write(json.dumps(list(arguments)) + "\n")
        self._process.stdin.flush()
        child, commits, started = 0, 0, time.monotonic()
        due = started + moment.after_s if moment and moment.kind == "time" else None
        while True:
            line = self._line(due)
            if line is None:
                os.kill(child, signal.SIGKILL)
                due = None
            elif line.startswith("child "):
                child = int(line.split()[1])
            elif line == "committing":
                commits += 1
                if moment and moment.kind == "commit" and moment.commit == commits:
                    due = time.monotonic() + moment.after_s
            elif line.startswith("ended "):
                return line, commits, time.monotonic() - started

    def _line(self, due: float | None) -> str | None:
        """Return the next line that was told; None if it is time before there is one."""
        while b"\n" not in self._rest:
            left = None if due is None else max(0.0, due - time.monotonic())
            if not select.select([self._told], [], [], left)[0]:
                return None
            got = os.read(self._told.fileno(), 4096)
            if not got:
                raise RuntimeError("the nursery has ended")
            self._rest += got
        line, _, self._rest = self._rest.partition(b"\n")
        return line.decode()


@dataclass
class Trial:
    """One way to run: from nothing, or from what the campaign was before; workers; the pipeline."""

    name: str
    pipeline: str = "quick"
    workers: int = 1
    updates: bool = False


TRIALS = (
    Trial("first run, one process"),
    Trial("first run, two workers", workers=2),
    Trial("campaign changed, one process", updates=True),
    Trial("campaign changed, two workers", workers=2, updates=True),
    Trial("first run with its report", pipeline="whole"),
)


def trials(top: Path, kills: int, seed: int, seconds: int = 300) -> Iterator[tuple[Trial, Tally]]:
    """Kill runs, about as many of each trial; yield what was found in each."""
    write_rides(top / "rides", seconds)
    chance = random.Random(seed)  # noqa: S311 - chance, not a secret
    with Nursery() as nursery:
        before = _reference(nursery, top, "before", BEFORE, "quick")
        for number, trial in enumerate(TRIALS):
            now = _reference(nursery, top, "now", NOW, trial.pipeline)
            own = kills * (number + 1) // len(TRIALS) - kills * number // len(TRIALS)
            yield trial, _killed(nursery, top, trial, own, chance, before, now)


@dataclass(frozen=True)
class Reference:
    """An uninterrupted run: its folder, what it stored, its commits and seconds."""

    folder: Path
    content: Content
    commits: int
    seconds: float
    names: frozenset[str]


def _reference(
    nursery: Nursery, top: Path, name: str, settings: dict[str, str], pipeline: str
) -> Reference:
    folder = top / f"{name}-{pipeline}"
    shutil.rmtree(folder, ignore_errors=True)
    file = write_campaign(folder, top / "rides", settings)
    ended, commits, seconds = nursery.run(_arguments(file, Trial(name, pipeline)))
    assert ended in ENDED_WELL, ended
    store = folder / "ridelab.duckdb"
    return Reference(folder, content(store), commits, seconds, _names(folder))


def _killed(
    nursery: Nursery,
    top: Path,
    trial: Trial,
    kills: int,
    chance: random.Random,
    before: Reference,
    now: Reference,
) -> Tally:
    tally, folder = Tally(), top / "killed"
    while tally.kills < kills:
        shutil.rmtree(folder, ignore_errors=True)
        if trial.updates:
            shutil.copytree(before.folder, folder, symlinks=True)
        file = write_campaign(folder, top / "rides", NOW)
        accepted = [now.content, *([before.content] if trial.updates else [])]
        stored: set[str] = set()
        for _ in range(IN_A_ROW):
            if tally.kills == kills:
                break
            moment = _moment(chance, now)
            ended, _, _ = nursery.run(_arguments(file, trial), moment)
            if ended == f"ended {-signal.SIGKILL}":
                tally.kills += 1
                tally.stages[moment.kind] += 1
            elif ended not in ENDED_WELL:
                tally.failed.append(f"{moment}: {ended}")
            stored = _looked(folder, accepted, stored, moment, tally)
        _finish(nursery, file, trial, now, tally)
    return tally


def _moment(chance: random.Random, now: Reference) -> Moment:
    """Half of all moments lie anywhere in a run, half in a commit or just behind it."""
    if chance.random() < 0.5:
        return Moment("time", chance.uniform(0, now.seconds))
    return Moment("commit", chance.uniform(0, COMMIT_S), chance.randint(1, now.commits))


def _looked(
    folder: Path, accepted: Sequence[Content], stored: set[str], moment: Moment, tally: Tally
) -> set[str]:
    """Look into a store after a kill; return the rides in it."""
    path = folder / "ridelab.duckdb"
    if not path.exists():
        return set()
    try:
        found = content(path)
    except StoreError as error:
        tally.closed.append(f"{moment}: {error}")
        return stored
    tally.lost += [f"{moment}: {ride}" for ride in stored - found.rides.keys()]
    tally.half += [f"{moment}: {fault}" for fault in faults(found, accepted)]
    return set(found.rides)


def _finish(nursery: Nursery, file: Path, trial: Trial, now: Reference, tally: Tally) -> None:
    """Run to the end, and hold the store and its folder against the uninterrupted run."""
    ended, _, _ = nursery.run(_arguments(file, trial))
    tally.finished += 1
    if ended not in ENDED_WELL:
        tally.failed.append(f"finishing: {ended}")
        return
    last = content(file.parent / "ridelab.duckdb")
    tally.differing += [f"once finished: {name}" for name in differing(last, now.content)]
    tally.left += [f"once finished: {name}" for name in sorted(_names(file.parent) - now.names)]
    page = file.parent / "report" / "index.html"
    if page.exists() and page.read_bytes() != (now.folder / "report/index.html").read_bytes():
        tally.differing.append("once finished: report/index.html")


def _names(folder: Path) -> frozenset[str]:
    return frozenset(
        one.relative_to(folder).as_posix()
        for one in folder.rglob("*")
        if "rides" not in one.relative_to(folder).parts
    )


def _arguments(file: Path, trial: Trial) -> list[str]:
    pipeline = file.parent / f"{trial.pipeline}.toml"
    return ["run", str(pipeline), "-c", str(file), "--workers", str(trial.workers)]
