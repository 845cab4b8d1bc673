"""Relations as files: what spreadsheets must not run, what Parquet must keep."""

from __future__ import annotations

import csv
from typing import TYPE_CHECKING

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridelab.errors import StoreError, UsageError
from ridelab.store import Store
from ridelab.store.writing import file_stem, harmless
from tests.store.recorded import a_file, a_ride

if TYPE_CHECKING:
    from pathlib import Path

#: OWASP ASVS 5.0, 1.2.10, and the line ends that OWASP's page on CSV injection adds.
BEGINNINGS = ("=", "+", "-", "@", "\t", "\r", "\n", "\0")


def written(tmp_path: Path, query: str) -> tuple[pl.DataFrame, list[list[str]], str]:
    """The result of a query as a user's relation, written: Parquet, cells of CSV, CSV as it is."""
    path, out = tmp_path / "ridelab.duckdb", tmp_path / "out"
    out.mkdir()
    with Store.open(path) as store:
        store.fill("mine", query, "f")
    with Store.open(path, read_only=True, writes_into=out) as store:
        store.write("mine", out / "mine.parquet", out / "mine.csv")
    text = (out / "mine.csv").read_bytes().decode("utf-8")
    cells = list(csv.reader(text.splitlines(keepends=True)))
    return pl.read_parquet(out / "mine.parquet"), cells, text


@pytest.mark.parametrize("first", [one for one in BEGINNINGS if one != "\0"])
def test_text_that_a_spreadsheet_would_run_gets_an_apostrophe(tmp_path: Path, first: str) -> None:
    """In CSV; Parquet, which nothing runs, keeps it."""
    text = f"{first}HYPERLINK(1)"
    frame, cells, _ = written(tmp_path, f"select chr({ord(first)}) || 'HYPERLINK(1)' as said")
    assert frame["said"].to_list() == [text]
    assert cells == [["said"], [f"'{text}"]]


def test_numbers_stay_numbers(tmp_path: Path) -> None:
    """Negative ones, too, and no quotes around them; what is no finite number is empty."""
    _, _, text = written(
        tmp_path,
        "select -1.5::double as a, -2 as b, 'nan'::double as c, '-inf'::float as d, -3.25 as e, "
        "null::double as f, '-4' as g, '' as h",
    )
    assert text.splitlines()[1] == '-1.5,-2,,,-3.25,,"\'-4",""'


def test_quotes_separators_and_line_ends_stay_within_their_cell(tmp_path: Path) -> None:
    """A cell cannot be left to begin another (RFC 4180, 2.6 and 2.7)."""
    _, cells, _ = written(tmp_path, "select 'a\",=1+1,\n=2' as said, 5 as other")
    assert cells[1] == ['a",=1+1,\n=2', "5"]


def test_lists_bytes_and_names_of_columns_are_text_as_well(tmp_path: Path) -> None:
    """Of a user's query: a column may be called anything, and hold anything."""
    frame, cells, _ = written(
        tmp_path,
        "select ['=1', 'b'] as l, {'x': 1} as s, 'ab'::blob as b, interval 1 day as i, "
        '1 as "=evil"',
    )
    assert cells == [
        ["l", "s", "b", "i", "'=evil"],
        ["['=1', b]", "{'x': 1}", "6162", "1 day", "1"],
    ]
    assert frame.columns == ["l", "s", "b", "i", "=evil"]


@given(st.text(max_size=8))
def test_no_text_begins_as_a_formula(text: str) -> None:
    """Whatever it is; other text is left as it is."""
    assert not harmless(text).startswith(BEGINNINGS)
    assert harmless(text).removeprefix("'") == text.removeprefix("'") or text.startswith(BEGINNINGS)


@given(st.text(min_size=1, max_size=12), st.text(min_size=1, max_size=12))
def test_names_of_files_are_plain_and_differ(one: str, other: str) -> None:
    """No folder, no dot, no capital, and one file a relation where case does not count."""
    stem = file_stem(one)
    assert stem.isascii()
    assert not set(stem) & set("/\\.: ~")
    assert (stem.lower() == file_stem(other).lower()) == (one == other)


def test_long_names_get_short_files_that_stay_apart() -> None:
    """File systems take 255 bytes; where two names differ does not matter."""
    stems = {file_stem(name) for name in ("a" * 9_999, "a" * 9_998, "Ä" * 9_999, "a" * 100)}
    assert len(stems) == 4
    assert max(map(len, stems)) == 100


def test_rows_come_in_one_order(tmp_path: Path) -> None:
    """Samples by their ride and place, everything else by its content."""
    _, cells, _ = written(tmp_path, "select * from (values (3), (1), (2)) as t(a)")
    assert [row[0] for row in cells[1:]] == ["1", "2", "3"]


def test_every_relation_of_a_store_can_be_written(tmp_path: Path) -> None:
    """With as many rows as it has, and the columns that it has."""
    path, out = tmp_path / "ridelab.duckdb", tmp_path / "out"
    out.mkdir()
    with Store.open(path) as store:
        store.put_ride(a_ride(), a_file(a_ride()))
    with Store.open(path, read_only=True, writes_into=out) as store:
        for name in store.relations():
            files = out / f"{name}.parquet", out / f"{name}.csv"
            rows = store.write(name, *files)
            frame = pl.read_parquet(files[0])
            assert (frame.height, frame.columns) == (
                rows,
                [one.name for one in store.columns(name)],
            )
            assert rows == store.frame(name).height


def test_nothing_can_be_written_anywhere_else(tmp_path: Path) -> None:
    """Not beside the folder that was named, and nowhere where none was."""
    path, out = tmp_path / "ridelab.duckdb", tmp_path / "out"
    out.mkdir()
    elsewhere = tmp_path / "elsewhere.txt"
    elsewhere.write_text("secret")
    with Store.open(path):
        pass
    with (
        Store.open(path, read_only=True, writes_into=out) as store,
        pytest.raises(StoreError, match="disabled by configuration"),
    ):
        store.write("claims", out / "claims.parquet", tmp_path / "claims.csv")
    with (
        Store.open(path, read_only=True, writes_into=out) as store,
        pytest.raises(UsageError, match="disabled by configuration"),
    ):
        store.query(f"select * from read_text('{elsewhere}')")  # noqa: S608 - ours
    with (
        Store.open(path, read_only=True) as store,
        pytest.raises(StoreError, match="disabled by configuration"),
    ):
        store.write("claims", out / "c.parquet", out / "c.csv")
