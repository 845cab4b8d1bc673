"""The layout: every relation of the contract, every column with its unit, versions refused."""

from __future__ import annotations

import re
import shutil
import signal
import subprocess
import sys
from typing import TYPE_CHECKING

import duckdb
import pytest

from ridelab.errors import StoreError
from ridelab.resources import data_dir
from ridelab.store import Store, database, own_relations, schema

if TYPE_CHECKING:
    from pathlib import Path

#: The columns that people may rely on.
CONTRACT = {
    "vehicles": "vehicle, kind, drivetrain, stated_rollout_m, effective_rollout_m, "
    "effective_rollout_low_m, effective_rollout_high_m",
    "rides": "ride, vehicle, path, sha256, format, started_at, duration_s, distance_m, samples, "
    "speed_source, speed_lag_s, gear_source",
    "samples": "ride, t_s, speed_mps, cadence_rpm, power_w, altitude_m, distance_m, lat_deg, "
    "lon_deg, development_m, gear, coupled, gear_probability, recorded_gear",
    "shifts": "ride, t_s, from_gear, to_gear, step, speed_mps, cadence_before_rpm, "
    "cadence_after_rpm, power_w, grade, while_decoupled",
    "published_gears": "drivetrain, gear, label, ratio, step, ratio_low, ratio_high",
    "measured_gears": "vehicle, gear, label, ratio, ratio_low, ratio_high, development_m, "
    "development_low_m, development_high_m, published_ratio, deviation, seconds, distance_m, rides",
    "measured_range": "vehicle, low_gear, high_gear, range, range_low, range_high, "
    "published_range, complete",
    "measured_steps": "vehicle, gear, below, step, step_low, step_high, joint_low, joint_high, "
    "published_step",
    "test_ride_plan": "vehicle, gear, seconds, spells, speed_low_mps, speed_high_mps, "
    "cadence_low_rpm, cadence_high_rpm, claims, instruction",
    "suggested_teeth": "vehicle, gear, ring, chainring, sprocket, residual, ring_ratio, by_chance",
    "lag_curves": "ride, channel, lag_s, sharpness",
    "busiest_stretches": "vehicle, ride, from_s, to_s, shifts",
    "moments": "ride, n, seconds, metres, grade, climb_m",
    "ride_profiles": "ride, altitude_source, resolution_m, dead_band_m, climb_m, descent_m, "
    "lowest_m, highest_m",
    "use_by_gear": "vehicle, gear, label, development_from_m, seconds, metres, climb_m, work_j, "
    "share",
    "cadence_habits": "vehicle, seconds, mean_rpm, lower_quartile_rpm, median_rpm, "
    "upper_quartile_rpm",
    "comfortable_cadence": "vehicle, low_rpm, high_rpm, stated",
    "outside_comfort": "vehicle, side, why, seconds, share",
    "shift_habits": "vehicle, km, minutes, shifts, shifts_per_km, shifts_per_minute, up, down, "
    "several_gears, under_load, while_coasting, hunting",
    "shift_pairs": "vehicle, from_gear, to_gear, shifts, share",
    "shift_sequences": "vehicle, gears, from_gear, to_gear, gears_too_many, times",
    "claims": "claim, drivetrain, vehicle, quantity, value, tolerance, source",
    "verdicts": "claim, vehicle, verdict, measured, measured_low, measured_high, reason",
    "problems": "path, stage, severity, message",
}
#: What a column's name says of its unit, and what its comment must say then.
UNIT_OF_ENDING = {
    "_s": "s",
    "_m": "m",
    "_km": "km",
    "_mps": "m/s",
    "_rpm": "rpm",
    "_w": "W",
    "_deg": "degree",
    "_ns": "ns",
    "_bytes": "byte",
}

#: Migrates a store by the steps of a folder, and is killed at the last moment before, or after.
MIGRATES = """
import os, sys
from pathlib import Path
from ridelab.store import Store, database, schema
schema.data_dir = lambda name: Path({sql!r}) / name
execute = database.Database.execute
def killed(self, sql, params=None):
    if sql != "commit" or {commits}:
        execute(self, sql, params)
    if sql == "commit":
        os.kill(os.getpid(), 9)
database.Database.execute = killed
Store.open(sys.argv[1])
"""


@pytest.mark.parametrize("relation", CONTRACT)
def test_relation_begins_with_the_columns_of_the_contract(store: Store, relation: str) -> None:
    """Names and order as promised; what follows them is extra."""
    promised = CONTRACT[relation].split(", ")
    assert store.frame(relation).columns[: len(promised)] == promised


def test_every_column_of_every_relation_tells_its_unit(store: Store) -> None:
    """A comment that ends in a unit in brackets, on columns of tables and views alike."""
    columns = store.frame(
        "select table_name, column_name, comment from duckdb_columns() where not internal"
    )
    assert set(columns["table_name"]) == own_relations()
    silent = [
        (table, name)
        for table, name, comment in columns.iter_rows()
        if not re.fullmatch(r".+ \[[^\[\]]+\]", comment or "", re.DOTALL)
    ]
    assert silent == []


def test_unit_in_a_comment_is_the_one_in_the_name(store: Store) -> None:
    """``speed_mps`` is in m/s in its comment too."""
    for relation in store.relations():
        for column in store.columns(relation):
            for ending, unit in UNIT_OF_ENDING.items():
                if column.name.endswith(ending):
                    said = f"1/{unit}" if "_per_" in column.name else unit
                    assert column.unit == said, f"{relation}.{column.name}"


def test_every_relation_says_what_a_row_is(store: Store) -> None:
    """Tables and views carry a comment of their own."""
    described = store.frame(
        "select table_name as name, comment from duckdb_tables() where not internal union all "
        "select view_name, comment from duckdb_views() where not internal"
    )
    assert set(described["name"]) == own_relations()
    assert described["comment"].null_count() == 0


def test_each_sql_file_makes_the_relation_of_its_name() -> None:
    """One file, one relation: no file creates another one, or two."""
    for folder in ("schema", "views"):
        for file in data_dir("sql").joinpath(folder).iterdir():
            made = re.findall(
                r"^create (?:table|view) (\w+)", file.read_text("utf-8"), re.MULTILINE
            )
            assert made == [file.name.removesuffix(".sql")]


@pytest.mark.parametrize(("version", "whose"), [(0, "an older"), (99, "a newer")])
@pytest.mark.parametrize("read_only", [False, True])
def test_store_of_another_layout_is_refused_with_words(
    tmp_path: Path, version: int, whose: str, read_only: bool
) -> None:
    """Never misread: the message says whose it is and what to do."""
    path = tmp_path / "ridelab.duckdb"
    Store.open(path).close()
    with duckdb.connect(path) as connection:
        connection.execute("update schema_version set version = ?", [version])
    with pytest.raises(StoreError, match=rf"laid out by {whose} ridelab.*move the file away"):
        Store.open(path, read_only=read_only)


@pytest.fixture
def older(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A store of the layout before this one, with a vehicle in it, and a step from it to this.

    It told ranges as percentages, under another name, and had neither lag curves nor ``complete``.
    """
    sql = tmp_path / "sql"
    shutil.copytree(str(data_dir("sql")), sql)
    monkeypatch.setattr(schema, "data_dir", lambda name: tmp_path / name)
    (sql / "migrations" / f"{schema.VERSION:04}.sql").write_text(
        "alter table measured_range add column complete boolean;\n"
        "alter table measured_range rename range_ends to range;\n"
        "update measured_range set range = range / 100;\n",
        encoding="utf-8",
    )
    path = tmp_path / "older.duckdb"
    Store.open(path).close()
    with duckdb.connect(path) as connection:
        for view in connection.execute(
            "select view_name from duckdb_views() where not internal"
        ).fetchall():
            connection.execute(f"drop view {view[0]}")
        connection.execute("drop table lag_curves")
        connection.execute("alter table measured_range drop column complete")
        connection.execute("alter table measured_range rename range to range_ends")
        connection.execute(
            "insert into measured_range by name select 'heron' as vehicle, 526 as range_ends, "
            "5.2 as range_low, 5.3 as range_high"
        )
        connection.execute("update schema_version set version = ?", [schema.VERSION - 1])
    return path


def test_older_store_is_brought_up_to_date_by_who_writes(older: Path) -> None:
    """By its steps, in one transaction; tables that it lacks are there and empty then."""
    with Store.open(older) as store:
        [row] = store.frame("measured_range").to_dicts()
        assert (row["vehicle"], row["range"], row["complete"]) == ("heron", 5.26, None)
        assert store.frame("lag_curves").is_empty()
        assert set(store.relations()) == own_relations()
    with Store.open(older, read_only=True) as store:
        assert len(store.frame("measured_range")) == 1


def test_older_store_is_not_read_before(older: Path) -> None:
    """Who only reads changes nothing, and says what does."""
    before = older.read_bytes()
    with pytest.raises(StoreError, match=r"an older ridelab.*`ridelab run` brings it up to date"):
        Store.open(older, read_only=True)
    assert older.read_bytes() == before


def test_step_that_fails_leaves_the_store_as_it_was(older: Path) -> None:
    """Also what steps before it have changed."""
    file = older.parent / "sql" / "migrations" / f"{schema.VERSION:04}.sql"
    with file.open("a", encoding="utf-8") as opened:
        opened.write("delete from nowhere;")
    with pytest.raises(StoreError, match="nowhere"):
        Store.open(older)
    with duckdb.connect(older) as connection:
        assert connection.execute("select range_ends from measured_range").fetchall() == [(526,)]
        assert connection.execute("select version from schema_version").fetchall() == [
            (schema.VERSION - 1,)
        ]


@pytest.mark.skipif(sys.platform == "win32", reason="no such signal there")
@pytest.mark.parametrize("moment", ["before its commit", "behind its commit"])
def test_migration_that_is_killed_leaves_the_old_store_or_the_new(older: Path, moment: str) -> None:
    """Nothing between; the next one who writes finishes it, and what was stored is still there."""
    script = MIGRATES.format(sql=str(older.parent), commits=moment == "behind its commit")
    done = subprocess.run([sys.executable, "-c", script, str(older)], check=False)
    assert done.returncode == -signal.SIGKILL
    with duckdb.connect(older) as connection:
        [[version]] = connection.execute("select version from schema_version").fetchall()
        columns = {
            name
            for (name,) in connection.execute(
                "select column_name from duckdb_columns() where table_name = 'measured_range'"
            ).fetchall()
        }
    killed_before = moment == "before its commit"
    assert version == schema.VERSION - killed_before
    assert ("range_ends" in columns, "range" in columns) == (killed_before, not killed_before)
    with Store.open(older) as store:
        [row] = store.frame("measured_range").to_dicts()
        assert (row["vehicle"], row["range"]) == ("heron", 5.26)


def test_step_that_makes_other_columns_than_its_layout_has_is_refused(older: Path) -> None:
    """It says what is wrong, and the store stays as it was."""
    file = older.parent / "sql" / "migrations" / f"{schema.VERSION:04}.sql"
    file.write_text("alter table measured_range rename range_ends to range;", encoding="utf-8")
    with pytest.raises(StoreError, match=r"measured_range lacks a column complete of type BOOLEAN"):
        Store.open(older)
    with duckdb.connect(older) as connection:
        assert connection.execute("select range_ends from measured_range").fetchall() == [(526,)]


def test_steps_follow_one_another(older: Path) -> None:
    """From two layouts before; one of them missing, the store is refused and left alone."""
    first = older.parent / "sql" / "migrations" / f"{schema.VERSION - 1:04}.sql"
    with duckdb.connect(older) as connection:
        connection.execute("alter table measured_range rename range_ends to ends")
        connection.execute("update schema_version set version = ?", [schema.VERSION - 2])
    before = older.read_bytes()
    with pytest.raises(StoreError, match=r"an older ridelab .*move the file away"):
        Store.open(older)
    assert older.read_bytes() == before
    first.write_text("alter table measured_range rename ends to range_ends;", encoding="utf-8")
    with Store.open(older) as store:
        assert store.frame("measured_range")["range"].to_list() == [5.26]


def test_store_whose_columns_are_not_those_of_its_layout_is_refused(tmp_path: Path) -> None:
    """A stranger's, or one of a layout that was never released; it stays as it is."""
    path = tmp_path / "ridelab.duckdb"
    Store.open(path).close()
    with duckdb.connect(path) as connection:
        connection.execute("alter table pauses rename end_s to stop_s")
        connection.execute("update schema_version set views = 'other'")
    with pytest.raises(StoreError, match=r"its table pauses lacks a column end_s of type DOUBLE"):
        Store.open(path)
    with duckdb.connect(path) as connection:
        assert connection.execute("select views from schema_version").fetchall() == [("other",)]


def test_store_appears_whole_or_not_at_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A run that is killed while it makes one leaves nothing in its place, and the next tidies up.

    DuckDB itself writes three headers one by one, and opens no file that lacks one.
    """

    def killed(_: database.Database) -> None:
        raise SystemExit

    path = tmp_path / "ridelab.duckdb"
    with monkeypatch.context() as patched:
        patched.setattr(schema, "prepare", killed)
        patched.setattr(shutil, "rmtree", lambda *_, **__: None)
        with pytest.raises(SystemExit):
            Store.open(path)
    assert not path.exists()
    assert [one.name.startswith(".ridelab.duckdb.new-") for one in tmp_path.iterdir()] == [True]
    Store.open(path).close()
    assert list(tmp_path.iterdir()) == [path]


def test_empty_database_is_no_store_yet(tmp_path: Path) -> None:
    """Who reads is told so; who writes lays it out."""
    path = tmp_path / "ridelab.duckdb"
    duckdb.connect(path).close()
    with pytest.raises(StoreError, match="nothing is stored in it yet"):
        Store.open(path, read_only=True)
    with Store.open(path) as store:
        assert store.frame("rides").is_empty()


def test_database_of_something_else_is_refused_and_left_alone(tmp_path: Path) -> None:
    """A DuckDB file with other tables is nobody's to write to."""
    path = tmp_path / "other.duckdb"
    with duckdb.connect(path) as connection:
        connection.execute("create table orders (id int)")
    with pytest.raises(StoreError, match="no store of ridelab"):
        Store.open(path)
    with duckdb.connect(path) as connection:
        assert connection.execute("show tables").fetchall() == [("orders",)]


def test_views_of_an_earlier_ridelab_are_replaced(tmp_path: Path) -> None:
    """A view is made anew where its SQL has changed; the tables keep what they hold."""
    path = tmp_path / "ridelab.duckdb"
    Store.open(path).close()
    with duckdb.connect(path) as connection:
        connection.execute("drop view rides; create view rides as select 1 as old")
        connection.execute("update schema_version set views = 'old'")
    with Store.open(path) as store:
        assert "gear_source" in store.frame("rides").columns
        assert store.columns("rides")[0].unit == "hexadecimal"


def test_files_that_are_no_database_are_told_plainly(tmp_path: Path) -> None:
    """Garbage, a missing folder, a missing store: one line each, no DuckDB class name."""
    garbage = tmp_path / "garbage.duckdb"
    garbage.write_bytes(b"not a database" * 100)
    with pytest.raises(StoreError, match="not a valid DuckDB database file"):
        Store.open(garbage)
    with pytest.raises(StoreError, match=r"folder .*nowhere does not exist"):
        Store.open(tmp_path / "nowhere" / "ridelab.duckdb")
    with pytest.raises(StoreError, match="no store yet"):
        Store.open(tmp_path / "none.duckdb", read_only=True)


def test_damaged_store_is_a_store_error(tmp_path: Path) -> None:
    """A store with flipped bytes says so instead of answering wrongly."""
    path = tmp_path / "ridelab.duckdb"
    Store.open(path).close()
    content = bytearray(path.read_bytes())
    content[4096:4200] = b"x" * 104
    path.write_bytes(content)
    with pytest.raises(StoreError, match=r"[Cc]orrupt"):
        Store.open(path)
