"""A store made up in memory: the real schema and views, filled with invented rides.

Heron has a published ladder of nine gears; its fourth departs and its ninth was not ridden. Otter
has an evenly spaced ladder ridden from end to end, wren is stepless, tern has no published ladder,
and nothing can be named of mole. Heron's rides are replayed on two drivetrains. The campaign is
invented, and so are all its figures.
"""

from __future__ import annotations

import atexit
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from shutil import rmtree
from tempfile import mkdtemp
from typing import TYPE_CHECKING, Any, cast

import duckdb
import numpy as np
import polars as pl

from ridelab.resources import data_dir
from ridelab.store import laying
from tests.report.replays import replayed

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from ridelab.store.database import Database, Params

NINE = (0.7333, 0.9067, 1.12, 1.3867, 1.7067, 2.1067, 2.6, 3.2133, 3.96)
FOURTEEN = tuple(0.8 * 5.26 ** (n / 13) for n in range(14))
#: Metres a wheel turn, as ridden.
ROLLOUTS = {"heron": 1.55, "otter": 2.14, "tern": 2.2}
DEPARTURE = 0.023
HALF_WIDTH = 0.003
STEP_HALF_WIDTH = 0.002
#: Of the samples of a ride, those whose gear is none too sure.
DOUBTFUL = 0.02
ROLLING = 0.985  # effective over stated rollout, where a published ladder shows it


class _Stream:
    """Hands a frame to the database without another library between."""

    def __init__(self, frame: pl.DataFrame) -> None:
        self._frame = frame

    def __arrow_c_stream__(self, requested_schema: object = None) -> object:
        return self._frame.__arrow_c_stream__(requested_schema)


@cache
def _empty() -> Path:
    """Return a database file with the schema and nothing in it: copied faster than made anew."""
    folder = mkdtemp(prefix="ridelab-tests-")
    atexit.register(rmtree, folder, ignore_errors=True)
    path = Path(folder) / "empty.duckdb"
    with duckdb.connect(str(path)) as con:
        for kind in ("schema", "views"):
            for file in sorted(data_dir("sql").joinpath(kind).iterdir(), key=lambda one: one.name):
                con.execute(file.read_text("utf-8"))
    return path


class FabricatedStore:
    """What the report asks of a store, and a way to fill it."""

    def __init__(self) -> None:
        self._con = duckdb.connect(config={"autoinstall_known_extensions": False})
        self._con.execute(
            f"attach '{_empty()}' as empty (read_only); "
            "copy from database empty to memory; detach empty"
        )

    def frame(self, relation_or_sql: str, /) -> pl.DataFrame:
        """Return a relation or the result of a query."""
        words = relation_or_sql.split()
        query = f'from "{relation_or_sql}"' if len(words) == 1 else relation_or_sql
        return pl.DataFrame(self._con.sql(query))

    def read(self, query: str) -> pl.DataFrame:
        """Return the result of a query, as a store's database does."""
        return self.frame(query)

    def execute(self, statement: str, params: Params | None = None) -> None:
        """Run a statement with parameters, as a store's database does."""
        self._con.execute(statement, params)

    def lay(self) -> None:
        """Lay samples down as a store does before its queries, all anew."""
        self.run("delete from ridden_samples; delete from numbered_rides")
        laying.lay(cast("Database", self))

    def rows(self, query: str) -> list[tuple[Any, ...]]:
        """Return the rows of a query, read without any other library."""
        return self._con.execute(query).fetchall()

    def run(self, statement: str) -> None:
        """Change what is stored."""
        self._con.execute(statement)

    def add(self, table: str, *rows: Mapping[str, Any]) -> None:
        """Insert rows; columns that are left out are null."""
        for row in rows:
            names = ", ".join(f'"{name}"' for name in row)
            marks = ", ".join("?" for _ in row)
            statement = f'insert into "{table}" ({names}) values ({marks})'  # noqa: S608 - our own names
            self._con.execute(statement, list(row.values()))

    def add_frame(self, table: str, frame: pl.DataFrame) -> None:
        """Insert a frame by the names of its columns."""
        stream = _Stream(frame)
        self._con.execute(f'insert into "{table}" by name select * from stream')  # noqa: S608 - our own names
        del stream


def vehicle(
    store: FabricatedStore,
    name: str,
    drivetrain: str | None = None,
    kind: str = "bicycle",
    stepless: bool = False,
) -> None:
    """Add a vehicle; its rollout is known if ``ROLLOUTS`` names it."""
    place = len(store.frame("stated_vehicles")) + 1
    rollout = ROLLOUTS.get(name, 2.1)
    store.add(
        "stated_vehicles",
        {
            "place": place,
            "vehicle": name,
            "kind": kind,
            "drivetrain": drivetrain,
            "stated_rollout_m": rollout / ROLLING if drivetrain else rollout,
            "rollout_is_measured": False,
        },
    )
    shown = drivetrain is not None and name in ROLLOUTS
    low, high = (rollout * 0.999, rollout * 1.001) if shown else (None, None)
    store.add(
        "inferred_vehicles",
        {
            "vehicle": name,
            "effective_rollout_m": rollout,
            "effective_rollout_low_m": low,
            "effective_rollout_high_m": high,
            "stepless": stepless,
            "count_probability": 0.97 if drivetrain is None and not stepless else None,
        },
    )


def published(store: FabricatedStore, drivetrain: str, ratios: Sequence[float]) -> None:
    """Add a published ladder."""
    store.add(
        "published_gears",
        *(
            {
                "drivetrain": drivetrain,
                "gear": number,
                "label": str(number),
                "ratio": ratio,
                "step": ratio / ratios[number - 2] - 1 if number > 1 else None,
                "ratio_low": ratio,
                "ratio_high": ratio,
            }
            for number, ratio in enumerate(ratios, 1)
        ),
    )


def measured(
    store: FabricatedStore,
    name: str,
    ratios: Mapping[int, float],
    ladder: Sequence[float] = (),
) -> None:
    """Add measured gears, each with an interval of ``HALF_WIDTH`` of its ratio."""
    rollout = ROLLOUTS.get(name, 2.1)
    for gear, ratio in ratios.items():
        claimed = ladder[gear - 1] if ladder else None
        store.add(
            "measured_gears",
            {
                "vehicle": name,
                "gear": gear,
                "label": str(gear) if ladder else f"{ratio * rollout:.2f} m",
                "ratio": ratio,
                "ratio_low": ratio * (1 - HALF_WIDTH),
                "ratio_high": ratio * (1 + HALF_WIDTH),
                "development_m": ratio * rollout,
                "development_low_m": ratio * rollout * (1 - 2 * HALF_WIDTH),
                "development_high_m": ratio * rollout * (1 + 2 * HALF_WIDTH),
                "published_ratio": claimed,
                "deviation": ratio / claimed - 1 if claimed else None,
                "seconds": 40.0 + 90.0 * gear,
                "distance_m": 200.0 + 700.0 * gear,
                "rides": 2,
            },
        )
        if gear - 1 in ratios:
            _step(store, name, gear, ratio / ratios[gear - 1] - 1)


def _step(store: FabricatedStore, name: str, gear: int, step: float) -> None:
    """Add a measured step with an interval of ``STEP_HALF_WIDTH``; the joint one twice as wide."""
    store.add(
        "measured_steps",
        {
            "vehicle": name,
            "gear": gear,
            "below": gear - 1,
            "step": step,
            "step_low": step - STEP_HALF_WIDTH,
            "step_high": step + STEP_HALF_WIDTH,
            "joint_low": step - 2 * STEP_HALF_WIDTH,
            "joint_high": step + 2 * STEP_HALF_WIDTH,
            "published_step": None,
        },
    )


def span(
    store: FabricatedStore,
    name: str,
    factor: float,
    gears: tuple[int, int] | None = None,
    published_range: float | None = None,
    complete: bool | None = None,
) -> None:
    """Add a measured range, half a percent wide either way."""
    low, high = gears or (None, None)
    store.add(
        "measured_range",
        {
            "vehicle": name,
            "low_gear": low,
            "high_gear": high,
            "range": factor,
            "range_low": factor * 0.995,
            "range_high": factor * 1.005,
            "published_range": published_range,
            "complete": complete,
        },
    )


def ride(
    store: FabricatedStore,
    name: str,
    number: int,
    ratios: Mapping[int, float] | None = None,
    low_high_m: tuple[float, float] | None = None,
    path: str | None = None,
) -> str:
    """Add a ride of 20 minutes in these gears, or between two developments; return its id."""
    identity = f"{name}-{number}".encode().hex().ljust(64, "0")
    random = np.random.default_rng([number, len(name)])
    samples = 1200
    gears, development = _ridden(random, samples, ratios, low_high_m, ROLLOUTS.get(name, 2.1))
    coupled = random.random(samples) > 0.12 if ratios or low_high_m else None
    if coupled is not None:
        development = np.where(
            coupled, development, development * np.exp(random.exponential(0.4, samples))
        )
    store.add(
        "recorded_rides",
        {
            "ride": identity,
            "vehicle": name,
            "path": path or f"rides/{name}/day-{number}.fit",
            "sha256": identity,
            "format": "fit",
            "started_at": datetime(2031, 4, 2, 7, 30, tzinfo=UTC) + timedelta(days=number),
            "duration_s": float(samples),
            "distance_m": 7300.0,
            "samples": samples,
            "speed_source": "wheel sensor",
            "sensors": "bike_speed",
            "cadence_resolution_rpm": 1.0,
            "reader": "fabricated",
        },
    )
    store.add(
        "inferred_rides",
        {
            "ride": identity,
            "speed_lag_s": 0.4 if ratios else None,
            "gear_source": "inferred" if ratios else "none",
            "channel": "speed field" if ratios else "none",
            "spread": 0.0072 if ratios else None,
        },
    )
    clock = np.arange(samples)
    recorded = {"ride": identity, "n": clock, "t_s": clock.astype(float)}
    cadence = random.uniform(40.0, 90.0, samples)
    store.add_frame("recorded_samples", pl.DataFrame(recorded | {"cadence_rpm": cadence}))
    sure = np.where(random.random(samples) < DOUBTFUL, 0.6, 0.99)
    engaged = {
        "development_m": development,
        "gear": gears,
        "coupled": coupled,
        "gear_probability": sure if ratios else [None] * samples,
    }
    store.add_frame(
        "engaged_samples",
        pl.DataFrame(
            {"ride": identity, "n": clock, **engaged},
            schema_overrides={
                "gear": pl.Int32,
                "coupled": pl.Boolean,
                "development_m": pl.Float64,
                "gear_probability": pl.Float64,
            },
        ),
    )
    if ratios:
        store.add_frame("lag_curves", _lags(identity))
    if ratios:
        shift = {"ride": identity, "t_s": 60.0, "from_gear": 2, "to_gear": 3}
        store.add("shifts", shift | {"while_decoupled": False}, shift | {"while_decoupled": True})
    return identity


def _lags(identity: str) -> pl.DataFrame:
    """Return a speed field that is sharpest at 0.4 s, and a distance field that is nowhere."""
    lags = np.arange(-1.0, 2.05, 0.1).round(1)
    speed = {"channel": "speed field", "lag_s": lags, "sharpness": 2.0 - (lags - 0.4) ** 2}
    distance = {"channel": "distance field", "lag_s": lags, "sharpness": np.zeros(len(lags))}
    return pl.concat([pl.DataFrame({"ride": identity} | one) for one in (speed, distance)])


def _ridden(
    random: np.random.Generator,
    samples: int,
    ratios: Mapping[int, float] | None,
    low_high_m: tuple[float, float] | None,
    rollout_m: float,
) -> tuple[Any, Any]:
    if ratios:
        spells = np.repeat(random.choice(list(ratios), samples // 30 + 1), 30)[:samples]
        heights = np.array([ratios[gear] for gear in spells]) * rollout_m
        return spells, heights * np.exp(random.normal(0, 0.007, samples))
    if low_high_m:
        low, high = np.log(low_high_m)
        return [None] * samples, np.exp(random.uniform(low, high, samples))
    return [None] * samples, [None] * samples


def used(store: FabricatedStore) -> None:
    """Fill what is told of the use of gears, by the real queries; roads rise and fall by 4 %."""
    store.run(
        "insert into moments by name select ride, n, 1.0 as seconds, "
        "development_m * cadence_rpm / 60 as metres, 0.04 * sin(n / 60) as grade, "
        "greatest(0, 0.2 * sin(n / 60)) as climb_m from samples"
    )
    store.lay()
    for relation in ("ridden_gears", "ridden_cadences"):
        query = data_dir("sql").joinpath("analysis", f"{relation}.sql").read_text("utf-8")
        store.run(f"insert into {relation} by name {query}")


def claim(
    store: FabricatedStore, identity: str, verdict: Mapping[str, Any], **claimed: str | float
) -> None:
    """Add a claim on heron's drivetrain and the verdict on it, by this vehicle alone."""
    usual = {"drivetrain": "nine", "tolerance": 0.02, "source": "leaflet", "printed": "540 %"}
    store.add("claims", {"claim": identity, "quantity": "range", "value": 5.4} | usual | claimed)
    told = {"claim": identity, "vehicle": "heron", "reason": "ridden"} | dict(verdict)
    store.add("verdicts", told)
    together = {"drivetrain": "nine", "vehicles": 1, "left_out": 0}
    whole = {key: value for key, value in told.items() if key != "vehicle"}
    store.add("pooled_claims", together | whole)


def harbour() -> FabricatedStore:
    """Return the store that the head of this module tells of."""
    store = FabricatedStore()
    heron = {gear: NINE[gear - 1] * (1 + DEPARTURE * (gear == 4)) for gear in range(1, 9)}
    otter = {gear: ratio * (1 + 0.0006 * (-1) ** gear) for gear, ratio in enumerate(FOURTEEN, 1)}
    tern = {1: 1.07, 2: 1.45, 3: 1.98}
    vehicle(store, "heron", "nine", "trike")
    vehicle(store, "otter", "fourteen")
    vehicle(store, "wren", "stepless hub", stepless=True)
    vehicle(store, "tern", kind="velomobile")
    vehicle(store, "mole", kind="cargo")
    published(store, "nine", NINE)
    published(store, "fourteen", FOURTEEN)
    measured(store, "heron", heron, NINE)
    measured(store, "otter", otter, FOURTEEN)
    measured(store, "tern", tern)
    span(store, "heron", heron[8] / heron[1], (1, 8), NINE[8] / NINE[0], complete=False)
    span(store, "otter", otter[14] / otter[1], (1, 14), 5.26, complete=True)
    span(store, "wren", 3.31, None, 3.8)
    span(store, "tern", 1.98 / 1.07, (1, 3))
    for number in (1, 2):
        ride(store, "heron", number, heron)
    ride(store, "otter", 3, otter)
    ride(store, "wren", 4, low_high_m=(2.0, 6.6))
    ride(store, "tern", 5, tern)
    ride(store, "mole", 6)
    used(store)
    replayed(store)
    claim(
        store,
        "c1",
        {
            "verdict": "undecided",
            "measured": 4.38,
            "measured_low": 4.36,
            "measured_high": 4.40,
            "reason": "gear 9 was not ridden long enough: ride 60 s of steady pedalling in it",
        },
    )
    claim(
        store,
        "c2",
        {"verdict": "fails", "measured": 1.419, "measured_low": 1.415, "measured_high": 1.423,
         "reason": "above the claim by more than 0.5 %"},
        quantity="ratio", gear="4", value=1.387, printed="1.387", tolerance=0.005,
    )  # fmt: skip
    claim(
        store,
        "c3",
        {"verdict": "holds", "measured": 1.894, "measured_low": 1.883, "measured_high": 1.905,
         "reason": "within 5 % of the claim, uncertainty included"},
        quantity="speed", gear="lowest", at_cadence_rpm=100.0, value=1.9, printed="7 km/h",
        tolerance=0.05,
    )  # fmt: skip
    claim(
        store,
        "c4",
        {"verdict": "untestable", "reason": "no ride shows this: efficiency"},
        quantity="efficiency", value=0.97, printed="97 %",
    )  # fmt: skip
    problem = {"stage": "read", "severity": "error", "message": "0 bytes: the file is empty"}
    store.add("problems", {"path": "rides/heron/day-3.fit", "vehicle": "heron"} | problem)
    doubt = {"stage": "measure", "severity": "warning"}
    store.add(
        "problems",
        doubt | {"path": "mole", "message": "no ride has both speed and cadence"},
        doubt
        | {
            "path": "rides/otter/day-3.fit",
            "stage": "read",
            "message": "12 records went back in time",
        },
    )
    return store
