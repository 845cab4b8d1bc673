"""Runs killed at random moments: ``python -m tests.benchmarks.durability [--json] [--quick]``.

A small campaign (three vehicles; FIT files, one that breaks off, logs in CSV, an archive) is run
and killed by SIGKILL: at any moment of the run, or in a commit and just behind it, half of each.
The run is continued and killed again, three times in all, then finished. After each kill the store
is opened: no ride that was there may be gone, nothing half stored. The finished store is held
against that of a run nobody interrupted, all tables. Runs begin with no store, or with that of a
campaign that has changed since: a file more, another wheel. ``--quick`` kills fifteen times.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
from pathlib import Path

from tests.benchmarks.durability_kills import Tally, trials

KILLS, QUICK_KILLS, SEED = 210, 15, 8
Figure = dict[str, object]


def figures(tallies: list[Tally], least: int = KILLS) -> list[Figure]:
    """Sum up what was found; ``least``: the kills that were asked for."""
    kills = sum(one.kills for one in tallies)
    told = [figure("runs killed", kills, f">= {least}", met=kills >= least)]
    for name, attribute in (
        ("rides lost that were stored", "lost"),
        ("rides, vehicles or relations half stored", "half"),
        ("stores that do not open", "closed"),
        ("tables that differ once finished", "differing"),
        ("files left over once finished", "left"),
        ("runs that ended in an error", "failed"),
    ):
        count = sum(len(getattr(one, attribute)) for one in tallies)
        told.append(figure(name, count, "0", met=count == 0))
    return told


def figure(name: str, value: float, goal: str, *, met: bool | None) -> Figure:
    """One row of the table; ``met`` is None where there is no goal."""
    return {"figure": name, "value": value, "goal": goal, "met": met}


def main() -> None:
    """Kill, look, and print the table."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.durability")
    parser.add_argument("--json", action="store_true", help="figures as JSON and nothing else")
    parser.add_argument("--quick", action="store_true", help=f"{QUICK_KILLS} kills")
    parser.add_argument("--seed", type=int, default=SEED)
    asked = parser.parse_args()
    tallies = []
    kills = QUICK_KILLS if asked.quick else KILLS
    with tempfile.TemporaryDirectory() as folder:
        for trial, tally in trials(Path(folder), kills, asked.seed):
            tallies.append(tally)
            if not asked.json:
                sys.stdout.write(
                    f"{trial.name}: {tally.kills} killed ({tally.stages['time']} anywhere, "
                    f"{tally.stages['commit']} at a commit), finished {tally.finished} times\n"
                )
                sys.stdout.writelines(f"  {fault}\n" for fault in tally.wrong)
                sys.stdout.flush()
    told = figures(tallies, kills)
    if asked.json:
        sys.stdout.write(json.dumps(told, indent=1) + "\n")
        return
    for row in told:
        met = {True: "yes", False: "no", None: "-"}[row["met"]]  # type: ignore[index]
        sys.stdout.write(f"{row['figure']:42} {row['value']:>6} {row['goal']:>8} {met:>4}\n")


if __name__ == "__main__":
    main()
