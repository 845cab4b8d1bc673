"""Verdicts against the truth: ``python -m tests.benchmarks.verdicts [--json] [--quick]``.

Simulated campaigns whose vehicles are known: claims that are true or false, their truth at a
distance of 0.5 to 5 tolerances from the limit, judged twelve at a time. Every second campaign has a
long ride through all gears. What stays undecided is planned for, the planned ride is simulated too,
and all is judged again. Seeded; two processes.

*wrong* and *right* are of all claims judged; the goal for wrong verdicts is set to those given.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from functools import partial
from multiprocessing import get_context
from typing import TYPE_CHECKING

from tests.benchmarks.inference_figures import Figure, at_least, at_most, lines, share, told
from tests.benchmarks.verdict_campaigns import DISTANCES, Tally, judged_campaign

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tests.benchmarks.verdict_campaigns import Told

CAMPAIGNS, QUICK_CAMPAIGNS, WORKERS = 300, 12, 2


def run(campaigns: int) -> Tally:
    """Judge so many campaigns, and ride all plans."""
    os.environ["OMP_NUM_THREADS"] = "1"
    with get_context("spawn").Pool(WORKERS) as pool:
        parts = pool.imap_unordered(
            partial(judged_campaign, ride_the_plan=True), range(campaigns), chunksize=2
        )
        return sum(parts, Tally())


def is_wrong(one: Told) -> bool:
    """Whether a verdict was given, and is false."""
    return one.word in {"holds", "fails"} and (one.word == "holds") != one.holds


def figures(tally: Tally) -> list[Figure]:
    """Return the figures, those with a goal first."""
    judged, planned = tally.judged, tally.planned
    long = [one for one in judged if one.long]
    given = [one for one in (*judged, *planned) if one.word in {"holds", "fails"}]
    found = [
        at_most("verdicts wrong, of those given", share(_wrong(given), len(given)), 0.01),
        at_most("undecided, every gear concerned ridden 120 s", share(_open(long), len(long)), 0.1),
        at_least("decided by the planned ride, of those planned for",
                 share(len(planned) - _open(planned), len(planned)), 0.9),
        told("false alarms: true claims said to fail, of true ones", share(
            sum(one.word == "fails" for one in judged if one.holds),
            sum(one.holds for one in judged))),
        told("planned for, of the undecided", share(len(planned), _open(judged))),
        told("seconds of a planned ride, median", _median(tally.planned_s)),
    ]  # fmt: skip
    for holds in (True, False):
        for distance in DISTANCES:
            at = [one for one in judged if one.holds == holds and one.distance == distance]
            long_at = [one for one in at if one.long]
            name = f"{'true' if holds else 'false'} claims, {distance:g} tolerances from the limit"
            found += [
                told(f"{name}: right", share(len(at) - _open(at) - _wrong(at), len(at))),
                told(f"{name}: wrong", share(_wrong(at), len(at))),
                told(f"{name}: undecided", share(_open(at), len(at))),
                told(f"{name}: undecided, ridden 120 s", share(_open(long_at), len(long_at))),
            ]
    return found


def _wrong(these: Sequence[Told]) -> int:
    return sum(is_wrong(one) for one in these)


def _open(these: Sequence[Told]) -> int:
    return sum(one.word not in {"holds", "fails"} for one in these)


def _median(values: Sequence[float]) -> float | None:
    return sorted(values)[len(values) // 2] if values else None


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the figures; 0 if every goal is met."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.verdicts")
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--quick", action="store_true", help="a share of it, in under a minute")
    chosen = parser.parse_args(arguments)
    tally = run(QUICK_CAMPAIGNS if chosen.quick else CAMPAIGNS)
    found = figures(tally)
    if chosen.json:
        text = json.dumps([figure.as_json() for figure in found], indent=1, ensure_ascii=False)
    else:
        text = "\n".join(_printed(tally, found))
    sys.stdout.write(text + "\n")
    return 0 if all(figure.met is not False for figure in found) else 1


def _printed(tally: Tally, found: Sequence[Figure]) -> list[str]:
    wrong = [one.what for one in (*tally.judged, *tally.planned) if is_wrong(one)]
    missed = [one.what for one in tally.planned if one.word == "undecided"]
    sizes = (
        f"{tally.campaigns} campaigns, {len(tally.judged)} claims, {len(tally.planned_s)} planned "
        f"rides for {len(tally.planned)} claims"
    )
    return [
        *(["wrong:", *wrong, ""] if wrong else []),
        *(["planned and not decided:", *missed, ""] if missed else []),
        sizes,
        *lines(found, ()),
    ]


if __name__ == "__main__":
    sys.exit(main())
