"""Faults in a shop's fleet: ``python -m tests.benchmarks.fleet [--json] [--quick]``.

Simulated vehicles, drawn like those of the inference benchmark (two to four short rides each, by
wheel sensor or satellites), in fleets of twenty. Sound ones must not be alarmed about. In others
one gear of a hub or gearbox is off by 1.5 % or 3 %, or the last ride was recorded by a unit set to
a wheel 3 % larger (wheel sensors only: satellites do not ask); each of these stands in a fleet with
nineteen sound ones. What counts is the finding itself: the gear that is off, or the wheel or ride.
Seeded; two processes.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from dataclasses import dataclass, replace
from multiprocessing import get_context
from typing import TYPE_CHECKING, Any

import polars as pl

from ridelab.analysis.health import ladder_health
from ridelab.analysis.printed import printed_within
from ridelab.drivetrain.stages import Drivetrain, from_ratios
from ridelab.resources import data_dir
from tests.benchmarks.inference_campaigns import drawn
from tests.benchmarks.inference_figures import at_least, at_most, lines, share, told
from tests.benchmarks.inference_found import measured, readings
from tests.benchmarks.inference_relations import relations
from tests.report.fabricated import FabricatedStore

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.gears.result import VehicleGears
    from ridelab.telemetry.ride import Ride
    from tests.benchmarks.inference_cases import Case
    from tests.benchmarks.inference_figures import Figure

SOUND, QUICK_SOUND, FAULTY, QUICK_FAULTY, WORKERS, FLEET = 200, 20, 30, 4, 2, 20
FAULTS = ("gear off by 1.5 %", "gear off by 3 %", "unit set 3 % too large")
_OFF_BY = {"gear off by 1.5 %": 0.015, "gear off by 3 %": 0.03}
_SET_BY = 0.03
#: A gear is worth finding out about if it was driven so long.
_RIDDEN_S = 60.0


@dataclass(frozen=True)
class One:
    """A vehicle as the stage sees it, and what is wrong with it: a gear, or none."""

    frames: dict[str, pl.DataFrame]
    printed: dict[tuple[str, int], float]
    fault: str = ""
    gear: int | None = None
    ridden: bool = True


def vehicle(numbered: tuple[int, str]) -> One:
    """Draw, ride and measure one vehicle."""
    number, fault = numbered
    case = replace(drawn(number), built=None, stated_off=0.0)
    gear = None
    if fault in _OFF_BY:
        case, gear = _one_gear_off(case, _OFF_BY[fault])
    elif fault:
        wrong = replace(case.sensors, set_rollout_m=case.body.rollout_m * (1 + _SET_BY))
        *others, last = case.days
        case = replace(case, days=(*others, replace(last, sensors=wrong)))
    read = readings(case, case.rides())
    result = measured(case, read)
    name = f"{number} {fault}".strip()
    found = relations([], case, result)
    frames = {key: _named(found[key], name) for key in ("vehicles", "measured_gears")}
    precision = found["measured_precision"]
    frames["measured_precision"] = (
        pl.DataFrame(schema={"vehicle": pl.String, "freedom": pl.Int64})
        if precision is None
        else _named(precision.select("vehicle", pl.col("freedom").cast(pl.Int64)), name)
    )
    frames["spells"] = _spells(read, result, name)
    seconds = dict(result.gears.select("gear", "seconds").iter_rows())
    ridden = seconds.get(gear, 0.0) >= _RIDDEN_S if gear else case.sensors.speed != "satellite"
    printed = printed_within({case.truth.name: case.truth}, {case.truth.name: case.ladder})
    return One(frames, printed, fault, gear, ridden)


def _one_gear_off(case: Case, by: float) -> tuple[Case, int]:
    """Build the middle setting of the stage that has most of them differently."""
    place, stage = max(enumerate(case.truth.stages), key=lambda numbered: len(numbered[1].choices))
    ratios = [choice.ratio for choice in stage.choices]
    middle = len(ratios) // 2
    ratios[middle] *= 1 + by
    stages = list(case.truth.stages)
    stages[place] = from_ratios(stage.name, ratios)
    return replace(case, built=Drivetrain(case.truth.name, tuple(stages))), middle + 1


def _named(frame: pl.DataFrame, name: str) -> pl.DataFrame:
    return frame.with_columns(pl.lit(name).alias("vehicle"))


def _spells(read: Sequence[Ride], result: VehicleGears, name: str) -> pl.DataFrame:
    """Run the query on the rides as they would be stored, every sample a second."""
    store = FabricatedStore()
    for number, (ride, found) in enumerate(zip(read, result.rides, strict=True), 1):
        store.add("numbered_rides", {"ride": ride.sha256, "number": number})
        told = ride.samples.select("t_s").with_row_index("n")
        engaged = found.engaged.drop("recorded_gear").with_columns(
            number=pl.lit(number), seconds=1.0
        )
        store.add_frame("ridden_samples", told.hstack(engaged))
    query = data_dir("sql").joinpath("analysis", "gear_spells.sql").read_text("utf-8")
    started = pl.DataFrame(
        {"ride": [one.sha256 for one in read], "started_at": [one.started_at for one in read]}
    )
    return _named(store.frame(query).join(started, on="ride"), name)


def looked_at(fleet: Sequence[One]) -> pl.DataFrame:
    """Return what the stage finds in a fleet."""
    frames: dict[str, Any] = {
        key: pl.concat([one.frames[key] for one in fleet], how="diagonal_relaxed")
        for key in ("vehicles", "measured_gears", "measured_precision", "spells")
    }
    printed = {gear: within for one in fleet for gear, within in one.printed.items()}
    found = ladder_health(**frames, printed_within=printed)
    return found.filter(~pl.col("kind").is_in(["sound", "not tested"]))


def figures(sound: Sequence[One], faulty: Sequence[One]) -> list[Figure]:
    """Return the figures, those with a goal first."""
    fleets = [sound[at : at + FLEET] for at in range(0, len(sound), FLEET)]
    alarms = [looked_at(fleet) for fleet in fleets]
    vehicles = sum(found["vehicle"].n_unique() for found in alarms)
    found = [
        at_most("sound vehicles with an alarm", share(vehicles, len(sound)), 0.05),
        told(f"fleets of {FLEET} sound ones with an alarm",
             share(sum(len(one) > 0 for one in alarms), len(alarms))),
    ]  # fmt: skip
    for kind in ("wheel", "gear off", "gear drifts", "gear scatters", "ride apart"):
        told_of = sum(int((one["kind"] == kind).sum()) for one in alarms)
        found.append(told(f"false alarms of sound ones: {kind}", float(told_of)))
    for fault in FAULTS:
        own = [one for one in faulty if one.fault == fault and one.ridden]
        hits = [_is_found(one, looked_at([one, *sound[: FLEET - 1]])) for one in own]
        figure = f"found: {fault}"
        found.append(
            at_least(figure, share(sum(hits), len(hits)), 0.9)
            if fault == "gear off by 3 %"
            else told(figure, share(sum(hits), len(hits)))
        )
    return found


def _is_found(one: One, findings: pl.DataFrame) -> bool:
    """Whether the findings name this vehicle, and the gear where it is one."""
    own = findings.filter(pl.col("vehicle") == one.frames["vehicles"]["vehicle"][0])
    if one.gear is None:
        return bool(own["kind"].is_in(["wheel", "ride apart"]).any())
    return bool(((own["kind"] == "gear off") & (own["gear"] == one.gear)).any())


def run(sound: int, faulty: int) -> tuple[list[One], list[One]]:
    """Measure all vehicles; those with a gear off have hubs or gearboxes (four kinds of six)."""
    os.environ["OMP_NUM_THREADS"] = "1"
    others = [number for number in range(1000, 1000 + 3 * faulty) if number % 6 < 4][:faulty]
    todo = [(number, "") for number in range(sound)]
    todo += [(number, fault) for fault in FAULTS for number in others]
    with get_context("spawn").Pool(WORKERS) as pool:
        made = pool.map(vehicle, todo, chunksize=1)
    return made[:sound], made[sound:]


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the figures; 0 if every goal is met."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.fleet")
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--quick", action="store_true", help="a share of it, in under a minute")
    chosen = parser.parse_args(arguments)
    sizes = (QUICK_SOUND, QUICK_FAULTY) if chosen.quick else (SOUND, FAULTY)
    sound, faulty = run(*sizes)
    found = figures(sound, faulty)
    if chosen.json:
        text = json.dumps([figure.as_json() for figure in found], indent=1, ensure_ascii=False)
    else:
        text = "\n".join([f"{len(sound)} sound vehicles, {len(faulty)} faulty", *lines(found, ())])
    sys.stdout.write(text + "\n")
    return 0 if all(figure.met is not False for figure in found) else 1


if __name__ == "__main__":
    sys.exit(main())
