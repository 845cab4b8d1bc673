"""Feeding a reader damaged bytes, and counting what comes of each: any reader, any damage.

Every input must end as a ride or as a declared error, within a bound of processor time. A reader
that asks for more memory than the bound fails, too.
"""

from __future__ import annotations

import argparse
import json
import resource
import signal
import sys
import warnings
from collections import Counter
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING, NamedTuple

from ridelab.errors import RideError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from ridelab.telemetry import Ride

    Mutation = Callable[[bytes, Random], bytes]
    Read = Callable[[Path, bytes], Ride]

#: Processor time that one input may take.
SECONDS_A_FILE = 2.0

#: Address space that all of it may take beyond what is in use at the start.
MEMORY_BYTES = 2 << 30

PATH = Path("fuzzed")

#: Inputs of a full run, and of a quick one.
COUNT, QUICK = 50_000, 1_500


class TooSlow(Exception):  # noqa: N818 - reads as what happened to the input
    """One input took longer than the bound."""


class Failure(NamedTuple):
    """An input that ended as nothing declared; ``number`` and the seed make it again."""

    number: int
    mutation: str
    what: str


@dataclass
class Tally:
    """What came of the inputs."""

    outcomes: Counter[str] = field(default_factory=Counter)
    failures: list[Failure] = field(default_factory=list)
    slowest_s: float = 0.0


def mutated(
    seeds: Sequence[bytes], mutations: Sequence[Mutation], number: int, seed: int
) -> tuple[str, bytes]:
    """The input of a number: which mutations made it, and the bytes; always the same."""
    random = Random(f"{seed}/{number}")  # noqa: S311 - reproducible on purpose
    content = random.choice(seeds)
    names = []
    for _ in range(random.choice((1, 1, 1, 2, 3))):
        mutation = random.choice(mutations)
        content = mutation(content, random)
        names.append(mutation.__name__)
    return "+".join(names), content


def fuzz(
    read: Read,
    seeds: Sequence[bytes],
    mutations: Sequence[Mutation],
    count: int,
    seed: int = 0,
) -> Tally:
    """Read so many mutated inputs and count the outcomes."""
    tally = Tally()
    with bounded(), warnings.catch_warnings():
        warnings.simplefilter("error")
        for number in range(count):
            names, content = mutated(seeds, mutations, number, seed)
            before = _processor_s()
            outcome = outcome_of(read, content)
            tally.slowest_s = max(tally.slowest_s, _processor_s() - before)
            tally.outcomes[outcome] += 1
            if outcome.startswith("!"):
                tally.failures.append(Failure(number, names, outcome))
    return tally


def outcome_of(read: Read, content: bytes) -> str:
    """In a word what reading gave; "!" and the error for what no reader may raise."""
    signal.setitimer(signal.ITIMER_VIRTUAL, SECONDS_A_FILE)
    try:
        ride = read(PATH, content)
    except RideError as error:
        return type(error).__name__
    except Exception as error:  # noqa: BLE001 - whatever else comes is what is looked for
        return f"!{type(error).__name__}: {error}"
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
    return "ride, with problems" if ride.problems else "ride"


@contextmanager
def bounded() -> Iterator[None]:
    """Bounds on time and memory while the inputs are read."""

    def too_slow(_signal: int, _frame: object) -> None:
        raise TooSlow(f"more than {SECONDS_A_FILE:g} s of processor time")

    handler = signal.signal(signal.SIGVTALRM, too_slow)
    limits = resource.getrlimit(resource.RLIMIT_AS)
    in_use = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
    resource.setrlimit(resource.RLIMIT_AS, (in_use + MEMORY_BYTES, limits[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_AS, limits)
        signal.signal(signal.SIGVTALRM, handler)


def _processor_s() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_utime


def figures(name: str, tally: Tally) -> list[dict[str, object]]:
    """The outcomes as every benchmark gives its figures."""
    counted: list[dict[str, object]] = [
        {"figure": f"{name}: {outcome}", "value": number, "goal": None, "met": True}
        for outcome, number in tally.outcomes.most_common()
        if not outcome.startswith("!")
    ]
    return [
        {"figure": f"{name}: inputs", "value": tally.outcomes.total(), "goal": None, "met": True},
        *counted,
        at_most(f"{name}: neither a ride nor a declared error", len(tally.failures), 0),
        at_most(f"{name}: slowest input, s of processor time", tally.slowest_s, SECONDS_A_FILE),
    ]


def at_most(figure: str, value: float, goal: float) -> dict[str, object]:
    """A figure that may not be larger than its goal."""
    return {"figure": figure, "value": value, "goal": f"<= {goal:g}", "met": value <= goal}


def show(found: Sequence[dict[str, object]], tally: Tally, as_json: bool) -> None:
    """Print figures as a table with the first failures, or as JSON and nothing else."""
    if as_json:
        sys.stdout.write(json.dumps(found, indent=1) + "\n")
        return
    for figure in found:
        value, goal = figure["value"], figure["goal"]
        told = f"{value:,}" if isinstance(value, int) else f"{value:.3f}"
        met = "" if goal is None else f"  goal {goal}: {'met' if figure['met'] else 'NOT MET'}"
        sys.stdout.write(f"{figure['figure']:<60} {told:>10}{met}\n")
    for failure in tally.failures[:20]:
        sys.stdout.write(f"input {failure.number} ({failure.mutation}): {failure.what}\n")


def run(
    name: str,
    read: Read,
    seeds: Sequence[bytes],
    mutations: Sequence[Mutation],
    arguments: Sequence[str] | None = None,
) -> int:
    """Fuzz a reader from the command line and print the outcomes; 0 if all were declared."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--count", type=int)
    parser.add_argument("--seed", type=int, default=0)
    chosen = parser.parse_args(arguments)
    count = chosen.count or (QUICK if chosen.quick else COUNT)
    tally = fuzz(read, seeds, mutations, count, chosen.seed)
    show(figures(name, tally), tally, chosen.json)
    return 1 if tally.failures else 0
