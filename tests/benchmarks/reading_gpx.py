"""Speed and memory of reading GPX: ``python -m tests.benchmarks.reading_gpx [--json] [--quick]``.

Megabytes a second over the real GPX files beside the repository and over a made one of three hours,
beside two others in the same run, on the same bytes: expat alone, the parser that judges our files,
without a callback, which is the limit; and expat with a Python callback for every element and text,
a row of numbers for each point, which is the usual way to build on it (no distance, no speed, no
order of time). Each is timed several times, by turns, in processor time of all threads, since other
work on the machine should not count; its best time counts. ``--quick`` leaves out most repetitions.

Memory is the most that a process of its own ever held while it read a file of three hours, and one
of thirty, less what it held before.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import time
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING
from xml.parsers import expat

from ridelab.telemetry import gpx
from tests.real_rides import REAL_RIDES
from tests.telemetry.gpxtext import one_track, point

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    Run = Callable[[bytes], object]
    Figure = dict[str, object]

#: Goals of our own: a share of the limit, and how many times the usual way.
SHARE_OF_LIMIT, TIMES_USUAL = 0.2, 1.0
#: The goal of the FIT reader, with what reading costs in any case.
TIMES_SIZE, CONSTANT_BYTES = 12, 32 << 20

REPETITIONS = 9
NUMBERS = frozenset({"ele", "cad", "power", "speed"})


def made(hours: int) -> bytes:
    """A ride of a point a second, with altitude, power and cadence."""
    power = "<extensions><power>200</power></extensions>"
    points = (
        point(t, 5.0 * t, f"<ele>{100 + t % 50}.5</ele>", power, cad=60 + t % 40)
        for t in range(3600 * hours)
    )
    return one_track(*points).encode()


def limit(content: bytes) -> object:
    """Expat alone: is this well-formed?"""
    return expat.ParserCreate().Parse(content, True)


def usual(content: bytes) -> list[dict[str, float | datetime]]:
    """Expat with callbacks: rows of numbers and times."""
    rows: list[dict[str, float | datetime]] = []
    text: list[str] = []

    def start(name: str, attributes: dict[str, str]) -> None:
        text.clear()
        if name.rpartition(":")[2] == "trkpt":
            rows.append({"lat": float(attributes["lat"]), "lon": float(attributes["lon"])})

    def end(name: str) -> None:
        local = name.rpartition(":")[2]
        if not rows:
            return
        if local == "time":
            rows[-1].setdefault(local, datetime.fromisoformat("".join(text)))
        elif local in NUMBERS:
            rows[-1].setdefault(local, float("".join(text)))

    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.StartElementHandler, parser.EndElementHandler = start, end
    parser.CharacterDataHandler = text.append
    parser.Parse(content, True)
    return rows


RUNS: dict[str, Run] = {
    "read_ride": lambda content: gpx.read(Path("measured.gpx"), content),
    "expat alone": limit,
    "expat with callbacks": usual,
}


def speed_figures(name: str, content: bytes, repetitions: int) -> list[Figure]:
    """Megabytes a second of each, and the ratios."""
    best_s = dict.fromkeys(RUNS, float("inf"))
    for _ in range(repetitions):
        for who, run in RUNS.items():
            begin = time.process_time()
            run(content)
            best_s[who] = min(best_s[who], time.process_time() - begin)
    label = f"{name} ({len(content) / 1e6:.1f} MB)"
    share = best_s["expat alone"] / best_s["read_ride"]
    times = best_s["expat with callbacks"] / best_s["read_ride"]
    return [
        *(_figure(f"{label}: {who}, MB/s", len(content) / best_s[who] / 1e6) for who in RUNS),
        _figure(f"{label}: share of expat alone", share, SHARE_OF_LIMIT),
        _figure(f"{label}: times expat with callbacks", times, TIMES_USUAL),
    ]


def memory_figure(folder: Path, hours: int) -> Figure:
    """Peak memory on a made file."""
    path = folder / f"made-{hours}-h.gpx"
    path.write_bytes(made(hours))
    command = [sys.executable, "-m", "tests.benchmarks.peak_memory", str(path)]
    peak = int(subprocess.run(command, capture_output=True, text=True, check=True).stdout)
    size = path.stat().st_size
    bound = TIMES_SIZE * size + CONSTANT_BYTES
    return {
        "figure": f"{path.stem} ({size / 1e6:.1f} MB): peak memory, MB",
        "value": round(peak / 1e6, 1),
        "goal": f"<= {TIMES_SIZE} x size + {CONSTANT_BYTES >> 20} MiB = {bound / 1e6:.1f}",
        "met": peak <= bound,
    }


def _figure(figure: str, value: float, goal: float | None = None) -> Figure:
    told = None if goal is None else f">= {goal:g}"
    return {
        "figure": figure,
        "value": round(value, 2),
        "goal": told,
        "met": goal is None or value >= goal,
    }


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the figures; 0 if all goals are met."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.reading_gpx")
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--quick", action="store_true")
    chosen = parser.parse_args(arguments)
    files = {"made-3-h": made(3)}
    if REAL_RIDES.is_dir():
        files |= {path.name: path.read_bytes() for path in sorted(REAL_RIDES.glob("good/*.gpx"))}
    figures: list[Figure] = []
    for name, content in files.items():
        figures += speed_figures(name, content, 3 if chosen.quick else REPETITIONS)
    with TemporaryDirectory() as folder:
        figures += [memory_figure(Path(folder), hours) for hours in (3, 30)]
    if chosen.json:
        sys.stdout.write(json.dumps(figures, indent=1) + "\n")
        return 0 if all(figure["met"] for figure in figures) else 1
    for figure in figures:
        met = "" if figure["goal"] is None else ("  met" if figure["met"] else "  NOT MET")
        goal = f"  {figure['goal']}{met}" if figure["goal"] else ""
        sys.stdout.write(f"{figure['figure']:<60}{figure['value']:>10}{goal}\n")
    return 0 if all(figure["met"] for figure in figures) else 1


if __name__ == "__main__":
    sys.exit(main())
