"""Which relations a query reads, told by its text."""

from __future__ import annotations

import pytest

from ridelab.store import beneath, tables_read
from ridelab.store.reads import means_the_same


@pytest.mark.parametrize(
    ("sql", "read"),
    [
        ("select 1", set()),
        ("from Rides", {"rides"}),
        ("select * from main.rides as r join samples using (ride)", {"rides", "samples"}),
        ("select (select max(n) from samples) from rides where ride in (from pauses)",
         {"samples", "rides", "pauses"}),
        ("with a as (select * from rides), b as (from a) select * from b", {"rides"}),
        ("select 'rides' as \"samples\" -- from pauses", set()),
        ("select * from rides union all (select * from pauses except from shifts)",
         {"rides", "pauses", "shifts"}),
        ("delete from rides", set()),
        ("no SQL", set()),
        ("", set()),
    ],
)  # fmt: skip
def test_tables_are_found_wherever_they_stand(sql: str, read: set[str]) -> None:
    """In joins, subqueries and parts of the query itself; not in texts, names and comments."""
    assert tables_read(sql) == read


def test_views_read_what_they_are_made_of() -> None:
    """All the way down."""
    assert beneath(["use_by_month"]) == {
        "use_by_month", "driven_gears", "ridden_gears", "recorded_rides",
    }  # fmt: skip
    assert beneath(["pauses", "a_users_own"]) == {"pauses", "a_users_own"}


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("select a,b from t", "SELECT a, (b) FROM t;", True),
        ("select * exclude (a, b) from t", "select * exclude (b, a) from t", True),
        ("select * exclude (a, b) from t", "select * exclude (b) from t", False),
        ("select a, b from t", "select b, a from t", False),
        ("select a from t", "select a from u", False),
        ("select 'a' from t", "select 'A' from t", False),
        ("no SQL", "no SQL", False),
    ],
)
def test_queries_are_the_same_whatever_they_look_like(one: str, other: str, same: bool) -> None:
    """Blanks, brackets and the order of what a star leaves out say nothing."""
    assert means_the_same(one, other) is same
