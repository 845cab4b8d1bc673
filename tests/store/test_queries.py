"""Relations that queries fill: replaced whole, only by one query, only with the right columns."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from ridelab.errors import StoreError

if TYPE_CHECKING:
    from ridelab.store import Store

SHIFT = (
    "select 0.5 as t_s, 'r' as ride, 1 as from_gear, 2 as to_gear, null as step, null as speed_mps,"
    " null as cadence_before_rpm, null as cadence_after_rpm, null as power_w, null as grade,"
    " false as while_decoupled"
)


def test_result_replaces_the_relation(store: Store) -> None:
    """Columns are matched by name, rows do not pile up, comments stay."""
    for _ in range(2):
        store.fill("shifts", f"{SHIFT} -- with a comment behind\n;", "state")
    assert store.frame("select ride, t_s from shifts").rows() == [("r", 0.5)]
    assert store.filled_from("shifts") == "state"
    assert store.columns("shifts")[0].unit == "hexadecimal"


def test_query_with_other_columns_leaves_the_relation_as_it_was(store: Store) -> None:
    """The message names what is missing and what is too much."""
    store.fill("shifts", SHIFT, "state")
    with pytest.raises(StoreError, match=r"differ from those of shifts: .*extra.*accepted: "):
        store.fill("shifts", SHIFT.replace("select", "select 1 as extra,"), "new")
    assert len(store.frame("shifts")) == 1
    assert store.filled_from("shifts") == "state"


def test_relation_of_a_users_own_takes_the_columns_of_its_query(store: Store) -> None:
    """It may change from run to run, and every column is documented."""
    store.fill("gear_use", 'select 1 as gear, \'x\' as "it\'s ""odd"""', "one")
    store.fill("gear_use", "select 1 as gear, 2.5 as seconds_s", "two")
    assert store.frame("gear_use").columns == ["gear", "seconds_s"]
    assert all(column.meaning for column in store.columns("gear_use"))


@pytest.mark.parametrize(
    "sql",
    [
        "delete from recorded_rides",
        SHIFT + "; drop table files",
        "select 1) ; drop table files; select * from (select 1",
        "copy rides to 'x.csv'",
        "",
    ],
)
def test_only_a_single_query_is_run(store: Store, sql: str) -> None:
    """Nothing else may stand in a query stage, and nothing gets out of its brackets."""
    relations = store.relations()
    with pytest.raises(StoreError):
        store.fill("shifts", sql, "state")
    assert store.relations() == relations


def test_query_cannot_read_other_files(store: Store) -> None:
    """A pipeline file from elsewhere sees the store and nothing beside it."""
    with pytest.raises(StoreError, match="disabled by configuration"):
        store.fill("stolen", "select * from read_text('/etc/passwd')", "state")
