"""What a user may ask of a store: anything it holds, and nothing else on the machine."""

from __future__ import annotations

from typing import TYPE_CHECKING

import duckdb
import pytest

from ridelab.errors import StoreError, UsageError
from ridelab.store import Store
from tests.store.recorded import a_file, a_ride

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    import polars as pl


@pytest.fixture
def stored(store: Store) -> Iterator[Store]:
    """A store with one ride, open read-only."""
    ride = a_ride()
    store.put_ride(ride, a_file(ride))
    path = store.path
    store.close()
    with Store.open(path, read_only=True) as opened:
        yield opened


@pytest.mark.parametrize(
    "sql",
    [
        "insert into problems values ('x', 'read', 'note', 'x', null)",
        "delete from recorded_rides",
        "update recorded_rides set vehicle = 'x'",
        "drop table recorded_samples",
        "create table mine (a int)",
        "copy rides to 'out.csv'",
        "export database 'out'",
        "attach 'other.duckdb'",
        "attach ':memory:' as other",
        "select * from read_csv('/etc/passwd')",
        "select * from read_text('/etc/passwd')",
        "select * from '/etc/passwd'",
        "select * from glob('/etc/*')",
        "select * from frame",
        "install httpfs",
        "load httpfs",
        "set enable_external_access = true",
        "set lock_configuration = false",
    ],
)
def test_query_can_neither_write_nor_leave_the_store(
    stored: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, sql: str
) -> None:
    """DuckDB itself refuses; its words reach the user, but not what it calls such an error."""
    monkeypatch.chdir(tmp_path)
    frame: pl.DataFrame = stored.frame("rides")
    before = sorted(path.name for path in tmp_path.iterdir())
    with pytest.raises(UsageError) as refusal:
        stored.query(sql)
    assert isinstance(refusal.value.__cause__, duckdb.Error)
    assert " Error: " not in str(refusal.value)
    assert sorted(path.name for path in tmp_path.iterdir()) == before
    assert stored.frame("rides").equals(frame)


@pytest.mark.parametrize(
    ("sql", "said"),
    [
        ("selec 1", "syntax error"),
        ("select nothing from rides", "nothing"),
        ("select * from ride", 'Did you mean "rides'),
        ("select cast(path as integer) from rides", "Could not convert"),
        ("", "nothing to show"),
        ("-- only a comment", "nothing to show"),
        ("select 1 as a, 2 as a", "two columns are named 'a'; accepted: a name for each"),
        ("select nothing from rides", 'Candidate bindings: "'),
        ("select 1; select 2", "found 2 statements; accepted: one query"),
        ("select 1; delete from recorded_rides", "found 2 statements"),
    ],
)
def test_wrong_sql_is_told_in_words(stored: Store, sql: str, said: str) -> None:
    """One error of ours with DuckDB's message on one line, whatever was wrong."""
    with pytest.raises(UsageError, match=said) as refusal:
        stored.query(sql)
    assert "\n" not in str(refusal.value)


def test_one_statement_may_end_in_a_semicolon(stored: Store) -> None:
    """As people type it."""
    assert stored.query("select 1 as one;").rows() == [(1,)]


def test_query_returns_what_it_asks_for(stored: Store) -> None:
    """Joins, views and comments are all there."""
    found = stored.query("select count(*) as n from samples join rides using (ride)")
    assert found.rows() == [(4,)]


def test_query_needs_a_store_opened_read_only(store: Store) -> None:
    """On a store that a run writes to, a query could write as well."""
    with pytest.raises(UsageError, match="read-only"):
        store.query("select 1")


def test_store_opened_to_read_cannot_be_written(stored: Store) -> None:
    """Not through the store's own methods either."""
    ride = a_ride("another")
    with pytest.raises(StoreError, match="read-only"):
        stored.put_ride(ride, a_file(ride))


def test_unknown_relation_suggests_the_nearest(stored: Store) -> None:
    """As for every word nobody knows."""
    with pytest.raises(UsageError, match="did you mean 'shifts'"):
        stored.frame("shift")
    with pytest.raises(UsageError, match="did you mean 'rides'"):
        stored.columns("ridess")


@pytest.mark.parametrize(
    ("sql", "value"),
    [
        ("interval 90 minute", "01:30:00"),
        ("timetz '10:00:00+01'", "10:00:00+01"),
        ("union_value(teeth := 38)", "38"),
    ],
)
def test_types_that_polars_lacks_come_as_text(stored: Store, sql: str, value: str) -> None:
    """A difference of times is an answer, not a crash; the other columns keep their type."""
    shown = stored.query(f'select {sql} as "it\'s", 1 as one')
    assert shown.rows() == [(value, 1)]
    assert shown.columns == ["it's", "one"]
