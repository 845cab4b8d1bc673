"""Speed and memory of reading FIT: ``python -m tests.benchmarks.reading [--json] [--quick]``.

Records a second, checksums verified, over the good rides beside the repository and over made files
of three hours: one layout; two layouts by turns, each second; times in header bytes; a layout
defined anew every few seconds. In the same run, on the same bytes, for the same columns: fitdecode,
and the compiled decoder of the extra ``bench``, where it is installed and reads the file. Times are
processor time, of all threads together, so that other work on the machine does not count; each
contestant is timed many times, by turns, and its best counts. ``--quick``: fewer times.

``decode`` gives the columns that the peers give and has the goals. ``read_ride`` goes on from there
to a ride: hash, parts, sport, order of time, clock, pauses, sensors; its figures stand beside.

Memory is the most that a process of its own ever held while it read a file, less what it held
before; the goal is 12 times the size of the file and a constant for what is not data.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from ridelab.telemetry import fit
from ridelab.telemetry.fit.messages import WANTED, decode
from tests.benchmarks.made_rides import long_ride, made_rides
from tests.real_rides import REAL_RIDES
from tests.telemetry.fit import reference

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    Run = Callable[[bytes], object]

TIMES_FITDECODE, TIMES_COMPILED, TIMES_SIZE = 100.0, 1.5, 12.0

#: What reading costs in any case: buffers and threads of the data frame library.
CONSTANT_BYTES = 16 << 20

REPETITIONS, QUICK_REPETITIONS = 25, 5
PATH = Path("measured.fit")


@dataclass
class Timed:
    """Best times on one file, in seconds, by what was timed; absent: it could not read the file."""

    name: str
    size: int
    records: int
    best_s: dict[str, float] = field(default_factory=dict)


def contestants() -> dict[str, Run]:
    """What is timed, by name."""
    found: dict[str, Run] = {
        "read_ride": lambda content: fit.read(PATH, content),
        "decode": decode,
        "fitdecode": lambda content: reference.tables(
            content, {"record": WANTED["record"]}, check_crc=True
        ),
    }
    try:
        import fitfast
    except ImportError:
        return found
    return {**found, "compiled": fitfast.records}


def measure(files: dict[str, bytes], repetitions: int) -> list[Timed]:
    """Time all contestants on all files, by turns."""
    runs = contestants()
    found = []
    for name, content in files.items():
        timed = Timed(name, len(content), len(decode(content)["record"]))
        for repetition in range(repetitions):
            for who, run in runs.items():
                if who == "fitdecode" and repetition:
                    continue  # it takes seconds, next to which the noise is small
                took = _time(run, content)
                if took is not None:
                    timed.best_s[who] = min(took, timed.best_s.get(who, took))
        found.append(timed)
    return found


def _time(run: Run, content: bytes) -> float | None:
    start = time.process_time()
    try:
        run(content)
    except ValueError:  # how the compiled decoder refuses a file
        return None
    return time.process_time() - start


def speed_figures(label: str, timed: Sequence[Timed]) -> list[dict[str, object]]:
    """Records a second over several files, and the ratios to the peers."""
    figures: list[dict[str, object]] = []
    for who in ("read_ride", "decode", "fitdecode", "compiled"):
        could = [file for file in timed if who in file.best_s]
        if could:
            on = f", {len(could)} of {len(timed)} files" if len(could) < len(timed) else ""
            figures.append(_plain(f"{label}: {who}, records/s{on}", round(_rate(could, who))))
    for who in ("read_ride", "decode"):
        for peer, goal in (("fitdecode", TIMES_FITDECODE), ("compiled", TIMES_COMPILED)):
            could = [file for file in timed if peer in file.best_s]
            if could:
                ratio, figure = _rate(could, who) / _rate(could, peer), f"{label}: {who} x {peer}"
                equal = who == "decode"
                figures.append(_at_least(figure, ratio, goal) if equal else _plain(figure, ratio))
    return figures


def _rate(timed: Sequence[Timed], who: str) -> float:
    return sum(file.records for file in timed) / sum(file.best_s[who] for file in timed)


def memory_figures(folder: Path) -> list[dict[str, object]]:
    """Peak memory on the largest real file and on a made one of tens of megabytes."""
    paths = [folder / "long.fit"]
    paths[0].write_bytes(long_ride())
    if REAL_RIDES.is_dir():
        paths.append(max(REAL_RIDES.glob("good/*.fit"), key=lambda path: path.stat().st_size))
    figures = []
    for path in paths:
        run = subprocess.run(
            [sys.executable, "-m", "tests.benchmarks.peak_memory", str(path)],
            capture_output=True,
            text=True,
            check=True,
        )
        size, peak = path.stat().st_size, int(run.stdout)
        bound = TIMES_SIZE * size + CONSTANT_BYTES
        figure = f"{path.name} ({size / 1e6:.1f} MB): peak memory, MB"
        goal = f"<= 12 x size + {CONSTANT_BYTES >> 20} MiB = {bound / 1e6:.1f}"
        figures.append(
            {"figure": figure, "value": round(peak / 1e6, 1), "goal": goal, "met": peak <= bound}
        )
        figures.append(_plain(f"{path.name}: peak memory, times its size", round(peak / size, 2)))
    return figures


def _plain(figure: str, value: float) -> dict[str, object]:
    return {"figure": figure, "value": round(value, 2), "goal": None, "met": True}


def _at_least(figure: str, value: float, goal: float) -> dict[str, object]:
    return {
        "figure": figure,
        "value": round(value, 2),
        "goal": f">= {goal:g}",
        "met": value >= goal,
    }


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the figures; 0 if all goals are met."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.reading")
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--quick", action="store_true")
    chosen = parser.parse_args(arguments)
    repetitions = QUICK_REPETITIONS if chosen.quick else REPETITIONS
    figures: list[dict[str, object]] = []
    timed: list[Timed] = []
    if REAL_RIDES.is_dir():
        real = {path.name: path.read_bytes() for path in sorted(REAL_RIDES.glob("good/*.fit"))}
        timed += measure(real, repetitions)
        figures += speed_figures("real rides", timed)
    for name, content in made_rides().items():
        one = measure({name: content}, repetitions)
        timed += one
        figures += speed_figures(name, one)
    with TemporaryDirectory() as folder:
        figures += memory_figures(Path(folder))
    if chosen.json:
        sys.stdout.write(json.dumps(figures, indent=1) + "\n")
    else:
        _print(timed, figures)
    return 0 if all(figure["met"] for figure in figures) else 1


def _print(timed: Sequence[Timed], figures: Sequence[dict[str, object]]) -> None:
    who = ("read_ride", "decode", "fitdecode", "compiled")
    sys.stdout.write(f"{'best processor time, ms':<28}{'bytes':>10}{'records':>9}")
    sys.stdout.write("".join(f"{name:>11}" for name in who) + "\n")
    for file in timed:
        cells = [f"{1e3 * file.best_s[w]:.2f}" if w in file.best_s else "refused" for w in who]
        line = f"{file.name:<28}{file.size:>10}{file.records:>9}"
        sys.stdout.write(line + "".join(f"{cell:>11}" for cell in cells) + "\n")
    sys.stdout.write("\n")
    for figure in figures:
        goal = "" if figure["goal"] is None else f"  {figure['goal']}"
        met = "" if figure["goal"] is None else ("  met" if figure["met"] else "  NOT MET")
        sys.stdout.write(f"{figure['figure']:<60}{figure['value']:>12,}{goal}{met}\n")


if __name__ == "__main__":
    sys.exit(main())
