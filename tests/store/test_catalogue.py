"""A store from a stranger: what else than data may stand in it, and what happens then."""

from __future__ import annotations

from typing import TYPE_CHECKING

import duckdb
import pytest

from ridelab.errors import StoreError
from ridelab.store import Store, own_relations, reads
from tests.store.recorded import a_file, a_ride

if TYPE_CHECKING:
    from pathlib import Path

#: What a stranger may have put into a store, and what is said of it.
STRANGE = {
    "create view answers as select content from read_text('/etc/hostname')": "the view answers",
    "create view paths as select * from duckdb_settings()": "the view paths that ridelab does not",
    "alter table pauses rename to other; create view pauses as from other": (
        "the view pauses in the place of a table"
    ),
    "create schema more; create table more.rides as select 1 as ride": "the schema more",
    "create type kinds as enum ('a', 'b')": "the type kinds",
    "alter table pauses rename to other; create table pauses (ride text not null, "
    "start_s double not null, end_s double as (start_s + 1))": "the computed column pauses.end_s",
    "create table mine (a int, b int as (a + 1))": "the computed column mine.b",
}
#: Views under names of ours that are others: rows, order, or names of columns are changed.
OTHER_VIEWS = [
    "drop view rides; create view rides as select content as ride from read_text('/etc/hostname')",
    "drop view rides",
    "alter view rides rename to evidently; drop view evidently",
    "create or replace view evidence as select ride, 0 as seconds from recorded_rides",
    "create or replace view evidence(seconds, ride) as {evidence}",
]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A store with one ride."""
    with Store.open(tmp_path / "ridelab.duckdb") as store:
        ride = a_ride()
        store.put_ride(ride, a_file(ride))
    return tmp_path / "ridelab.duckdb"


def changed(path: Path, sql: str) -> None:
    """Do to a store whatever a stranger may do."""
    with duckdb.connect(path) as connection:
        connection.execute(sql)


@pytest.mark.parametrize("sql", STRANGE)
@pytest.mark.parametrize("read_only", [True, False])
def test_store_that_computes_more_than_ridelab_does_is_refused(
    path: Path, sql: str, read_only: bool
) -> None:
    """By who reads and who writes; it names what was found, and the file stays as it is."""
    changed(path, sql)
    before = path.read_bytes()
    with pytest.raises(StoreError, match=f"holds {STRANGE[sql]}.*no run puts into a store"):
        Store.open(path, read_only=read_only)
    assert path.read_bytes() == before


@pytest.mark.parametrize("sql", OTHER_VIEWS)
def test_views_of_a_stranger_never_answer(path: Path, sql: str) -> None:
    """Who reads refuses them although the store says they are ours; a run makes them anew."""
    changed(path, sql.format(evidence=reads.views()["evidence"]))
    with pytest.raises(StoreError, match=r"its views are not those of this ridelab; `ridelab run`"):
        Store.open(path, read_only=True)
    Store.open(path).close()
    with Store.open(path, read_only=True) as store:
        assert store.frame("rides").height == 1
        assert store.frame("select seconds > 0 from evidence").item()
        assert set(store.relations()) == own_relations()


def test_view_that_says_the_same_is_ours(path: Path) -> None:
    """However it was written: another DuckDB may print the same query in another way."""
    changed(path, f"drop view evidence; create view evidence as (({reads.views()['evidence']}))")
    Store.open(path, read_only=True).close()


def test_tables_of_a_users_own_queries_are_no_strangers(path: Path) -> None:
    """Any table may be there, whatever its name and its columns are called."""
    changed(path, 'create table "my; --" as select 1 as "a\x1b[31m"')
    with Store.open(path, read_only=True) as store:
        assert store.frame('select * from "my; --"').rows() == [(1,)]
    Store.open(path).close()


def test_sealed_store_reaches_nothing_whatever_is_asked_of_it(
    path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Macros of a stranger can make numbers wrong, as its tables can, and nothing more.

    The folder that an export may write to is the only one: neither a link in it nor ``..`` leads
    out.
    """
    changed(path, "create macro leak() as table select * from read_text('/etc/hostname')")
    changed(path, "create macro pick(f) as table select * from read_text(f)")
    into = tmp_path / "out"
    into.mkdir()
    (into / "link").symlink_to("/etc/hostname")
    monkeypatch.chdir(tmp_path)
    asked = [
        "from leak()",
        "from pick('/etc/hostname')",
        f"from pick('{into}/link')",
        f"from pick('{into}/../../etc/hostname')",
        "from pick('https://example.invalid/')",
        f"from glob('{tmp_path}/*')",
    ]
    for writes_into in (None, into):
        with Store.open(path, read_only=True, writes_into=writes_into) as store:
            for sql in asked:
                with pytest.raises(StoreError, match="disabled by configuration"):
                    store.frame(sql)
