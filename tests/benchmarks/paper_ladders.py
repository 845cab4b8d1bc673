"""Speed of paper ladders: ``python -m tests.benchmarks.paper_ladders [--json] [--quick]``.

Four stages of ten settings each, 10,000 combinations, from the stages to the numbered and named
gears; once with combinations within 1.5 % as one gear, once with all of them distinct, which makes
the most gears. Beside it, in the same run and on the same stages, a peer in plain Python: every
combination by itertools, sorted, grouped in a loop, its geometric mean by the standard library. It
must find the same gears. Each is timed several times, by turns, in processor time, since other work
on the machine should not count; its best time counts. ``--quick`` leaves out most repetitions.
"""

from __future__ import annotations

import argparse
import json
import math
import random
import sys
import time
from itertools import pairwise, product
from statistics import geometric_mean
from typing import TYPE_CHECKING

from ridelab.drivetrain.ladder import MERGE_WITHIN, Gear, published_ladder
from ridelab.drivetrain.overview import stage_rows
from ridelab.drivetrain.stages import Drivetrain, from_ratios

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    Figure = dict[str, object]
    Run = Callable[[Drivetrain, float], object]

#: The goal set for it, and one of our own: not slower than plain Python.
MOST_MS, TIMES_PLAIN = 50.0, 1.0
SETTINGS, STAGES = 10, 4
REPETITIONS, QUICK_REPETITIONS = 21, 3


def made(seed: int) -> Drivetrain:
    """Four stages, each with ratios of its own at random between 0.5 and 2."""
    chance = random.Random(seed)  # noqa: S311 - made stages, no secret
    stages = [
        from_ratios(name, sorted(math.exp(chance.uniform(-0.7, 0.7)) for _ in range(SETTINGS)))
        for name in "abcdefgh"[:STAGES]
    ]
    return Drivetrain("made", tuple(stages))


def plain(drivetrain: Drivetrain, within: float) -> list[Gear]:
    """The same ladder in plain Python."""
    combinations = sorted(
        (
            math.prod(choice.ratio for choice in choices),
            " · ".join(
                f"{stage.name} {choice.label}"
                for stage, choice in zip(drivetrain.stages, choices, strict=True)
            ),
        )
        for choices in product(*(stage.choices for stage in drivetrain.stages))
    )
    groups: list[list[tuple[float, str]]] = []
    for one in combinations:
        if not groups or one[0] > groups[-1][0][0] * (1 + within):
            groups.append([])
        groups[-1].append(one)
    means = [geometric_mean(ratio for ratio, _ in group) for group in groups]
    steps = [None, *(upper / lower - 1 for lower, upper in pairwise(means))]
    return [
        Gear(number, " = ".join(names), mean, step, ratios, names)
        for number, (group, mean, step) in enumerate(zip(groups, means, steps, strict=True), 1)
        for ratios, names in [tuple(zip(*group, strict=True))]
    ]


RUNS: dict[str, Run] = {"published_ladder": published_ladder, "plain Python": plain}


def figures(name: str, within: float, repetitions: int) -> list[Figure]:
    """Milliseconds of each, and how many times as fast as plain Python."""
    drivetrain = made(seed=5)
    best_s = dict.fromkeys(RUNS, float("inf"))
    for _ in range(repetitions):
        for who, run in RUNS.items():
            begin = time.process_time()
            run(drivetrain, within)
            best_s[who] = min(best_s[who], time.process_time() - begin)
    gears, reference = published_ladder(drivetrain, within).gears, plain(drivetrain, within)
    alike = len(gears) == len(reference) and all(
        math.isclose(one.ratio, other.ratio, rel_tol=1e-9)
        for one, other in zip(gears, reference, strict=True)
    )
    ours, theirs = best_s["published_ladder"], best_s["plain Python"]
    label = f"{SETTINGS**STAGES} combinations, {name} ({len(gears)} gears)"
    return [
        _figure(f"{label}: published_ladder, ms", 1e3 * ours, MOST_MS, ours * 1e3 <= MOST_MS),
        _figure(f"{label}: plain Python, ms", 1e3 * theirs),
        _figure(f"{label}: times plain Python", theirs / ours, TIMES_PLAIN, theirs >= ours),
        _figure(f"{label}: the same gears (1: yes)", int(alike), 1, alike),
    ]


def stages_figure(repetitions: int) -> Figure:
    """Milliseconds of what each stage adds, for which the others are combined anew."""
    drivetrain, best_s = made(seed=5), float("inf")
    for _ in range(repetitions):
        begin = time.process_time()
        stage_rows(drivetrain)
        best_s = min(best_s, time.process_time() - begin)
    label = f"{SETTINGS**STAGES} combinations: what each stage adds, ms"
    return _figure(label, 1e3 * best_s, MOST_MS, 1e3 * best_s <= MOST_MS)


def _figure(name: str, value: float, goal: float | None = None, met: bool = True) -> Figure:
    return {"figure": name, "value": round(value, 2), "goal": goal, "met": met}


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the figures; 0 if all goals are met."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.paper_ladders")
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--quick", action="store_true")
    chosen = parser.parse_args(arguments)
    repetitions = QUICK_REPETITIONS if chosen.quick else REPETITIONS
    found = [
        *figures("within 1.5 %", MERGE_WITHIN, repetitions),
        *figures("all distinct", 0.0, repetitions),
        stages_figure(repetitions),
    ]
    if chosen.json:
        sys.stdout.write(json.dumps(found, indent=1) + "\n")
    else:
        for one in found:
            met = "" if one["goal"] is None else ("  met" if one["met"] else "  NOT MET")
            goal = "" if one["goal"] is None else f"  {one['goal']}{met}"
            sys.stdout.write(f"{one['figure']:<72}{one['value']:>8}{goal}\n")
    return 0 if all(one["met"] for one in found) else 1


if __name__ == "__main__":
    sys.exit(main())
