"""What real rides say: ``python -m tests.benchmarks.real_rides [--json] [--quick]``.

Runs the pipeline ``usage`` over the real rides beside the repository, each file a vehicle of its
own without a published drivetrain, and prints for each: the speed channel and lag that were chosen,
the gears found, the spread of ln(development) within a gear, how far the ladder is from whole teeth
(one chainring, and two) if each gear is known to 0.5 %, beside the middle of the same fit to random
ladders, and the teeth that are suggested. ``--quick`` leaves the two chainrings and the random
ladders out.
"""

from __future__ import annotations

import argparse
import json
import sys
from dataclasses import asdict, dataclass
from math import isfinite
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

import numpy as np

from ridelab import pipeline
from ridelab.campaign import load
from ridelab.gears.teeth import random_ladder
from ridelab.gears.tooth_fit import fit_teeth
from ridelab.report.teeth import teeth_in_words
from ridelab.store import Store
from tests.real_rides import REAL_RIDES

if TYPE_CHECKING:
    from collections.abc import Sequence

#: The goal for a wheel sensor: within a gear of whole teeth, under 1 %.
TOOTH_GOAL = 0.01
#: How well gears are taken to be known for the residuals, so that every ladder is fitted alike.
KNOWN = 0.005


@dataclass(frozen=True)
class Row:
    """One file; shares, not per cent. ``coupled``: of the records in which the wheel turns."""

    file: str
    speed_source: str
    channel: str
    lag_s: float | None
    gears: int
    coupled: float | None
    spread: float | None
    one_ring: float | None
    one_ring_by_chance: float | None
    two_rings: float | None
    two_rings_by_chance: float | None
    teeth: str
    said: str


def rows(folder: Path, quick: bool) -> list[Row]:
    """Run the pipeline over the real rides and return a row a file."""
    files = sorted((REAL_RIDES / "good").glob("*.fit"))
    tables = [
        f'[vehicles.{json.dumps(file.stem)}]\nkind = "bicycle"\nrides = [{json.dumps(str(file))}]'
        for file in files
    ]
    campaign = folder / "campaign.toml"
    campaign.write_text('[campaign]\nname = "real rides"\n' + "\n".join(tables), encoding="utf-8")
    store_path = folder / "ridelab.duckdb"
    pipeline.run(pipeline.load("usage"), load(campaign), store_path, folder / "report")
    with Store.open(store_path, read_only=True) as store:
        return [_row(store, file.stem, quick) for file in files]


def _row(store: Store, name: str, quick: bool) -> Row:
    ride = store.frame("select * from rides where vehicle = ?", [name]).row(0, named=True)
    gears = store.frame(
        "select development_m from measured_gears where vehicle = ? order by gear", [name]
    )["development_m"].to_list()
    teeth = store.frame(
        "select * from suggested_teeth where vehicle = ? order by gear", [name]
    ).to_dicts()
    coupled = store.frame(
        "select avg(coupled::int) as share from samples join rides using (ride) "
        "where vehicle = ? and speed_mps > 1 and coupled is not null",
        [name],
    )["share"].item()
    said = store.frame(
        "select message from problems where vehicle = ? and stage = 'measure'", [name]
    )["message"].to_list()
    one, one_by_chance = _residuals(gears, 1, not quick)
    two, two_by_chance = (None, None) if quick else _residuals(gears, 2, True)
    return Row(
        f"{name}.fit",
        ride["speed_source"],
        ride["channel"],
        ride["speed_lag_s"],
        len(gears),
        coupled,
        ride["spread"],
        one,
        one_by_chance,
        two,
        two_by_chance,
        teeth_in_words(teeth) or "",
        "; ".join(said),
    )


def _residuals(
    gears: Sequence[float], chainrings: int, beside_chance: bool
) -> tuple[float | None, float | None]:
    """Return the rms residual to whole teeth, and what random ladders reach; None: no fit."""
    ladder, sd, draw = np.log(gears), np.full(len(gears), KNOWN), np.random.default_rng(1)
    fitted = fit_teeth(ladder, sd, chainrings)
    if fitted is None:
        return None, None
    if not beside_chance:
        return fitted.rms, None
    others = (fit_teeth(random_ladder(ladder, draw), sd, chainrings) for _ in range(20))
    reached = [np.inf if other is None else other.rms for other in others]
    middle = float(np.median(reached))
    return fitted.rms, middle if isfinite(middle) else None


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the table; 0 if every wheel-sensor ride meets the goal."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.real_rides")
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--quick", action="store_true")
    chosen = parser.parse_args(arguments)
    if not REAL_RIDES.is_dir():
        sys.stderr.write(f"no real ride files at {REAL_RIDES}\n")
        return 1
    with TemporaryDirectory() as folder:
        found = rows(Path(folder), chosen.quick)
    if chosen.json:
        sys.stdout.write(json.dumps([_figure(row) for row in found], indent=1) + "\n")
    else:
        _print(found)
    return 0 if all(_met(row) for row in found) else 1


def _met(row: Row) -> bool:
    needed = row.speed_source == "wheel sensor"
    return not needed or (row.one_ring is not None and row.one_ring < TOOTH_GOAL)


def _figure(row: Row) -> dict[str, object]:
    return {
        "figure": f"{row.file}: residual to whole teeth, one chainring",
        "value": row.one_ring,
        "goal": f"< {TOOTH_GOAL} where a wheel sensor was paired",
        "met": _met(row),
        **asdict(row),
    }


def _print(found: Sequence[Row]) -> None:
    def percent(share: float | None) -> str:
        return "–" if share is None else f"{share:.2%}"

    sizes = ("1 ring", "chance", "2 rings", "chance")
    heads = (
        "file", "speed from", "channel", "lag, s", "gears", "coupled", "spread", *sizes, "teeth",
        "said",
    )  # fmt: skip
    lines: list[tuple[str, ...]] = [heads]
    lines += [
        (
            row.file,
            row.speed_source,
            row.channel or "–",
            "–" if row.lag_s is None else f"{row.lag_s:+.2f}",
            str(row.gears),
            "–" if row.coupled is None else f"{row.coupled:.0%}",
            percent(row.spread),
            percent(row.one_ring),
            percent(row.one_ring_by_chance),
            percent(row.two_rings),
            percent(row.two_rings_by_chance),
            row.teeth,
            row.said,
        )
        for row in found
    ]
    widths = [max(len(line[i]) for line in lines) for i in range(len(heads) - 1)]
    for line in lines:
        cells = [cell.ljust(width) for cell, width in zip(line, widths, strict=False)]
        sys.stdout.write("  ".join([*cells, line[-1]]).rstrip() + "\n")


if __name__ == "__main__":
    sys.exit(main())
