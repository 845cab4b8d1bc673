"""Which relations a query reads, told by its text alone: nothing is run, no store is needed."""

from __future__ import annotations

import json
import re
from functools import cache
from typing import TYPE_CHECKING, Any

from ridelab.resources import data_dir
from ridelab.store import laying

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from duckdb import DuckDBPyConnection

#: What a star leaves out; DuckDB keeps the names in no order.
_UNORDERED = frozenset({"exclude_list"})
_BODY = re.compile(r"^create view (\w+) as\n(.*?);$", re.DOTALL | re.MULTILINE)


def tables_read(sql: str) -> frozenset[str]:
    """Return the names of tables and views that a query reads, lower case.

    Nothing where the text is no SELECT that can be taken apart: whoever runs it is told why.
    """
    tree = json.loads(_serialized(sql))
    nodes = list(_nodes(tree))
    named = {entry["key"] for node in nodes for entry in node.get("cte_map", {}).get("map", ())}
    read = {node["table_name"] for node in nodes if node.get("type") == "BASE_TABLE"}
    return frozenset(name.lower() for name in read - named)


def beneath(relations: Collection[str]) -> set[str]:
    """Return the relations themselves, and all that they show if views, or are laid down from."""
    found, to_look = set(relations), list(relations)
    while to_look:
        new = _beneath_views().get(to_look.pop(), frozenset()) - found
        found |= new
        to_look += new
    return found


def normal(query: str) -> str:
    """Return a query as DuckDB itself writes it; empty where it is none."""
    import duckdb

    told = "select json_deserialize_sql(json_serialize_sql($sql::text))"
    try:
        row = _parser().execute(told, {"sql": query}).fetchone()
    except duckdb.Error:
        return ""
    return str(row[0]) if row else ""


def means_the_same(one: str, other: str) -> bool:
    """Whether two queries are one, however they are written; not where one is no query."""
    trees = [json.loads(_serialized(query)) for query in (one, other)]
    if any(tree.get("error", True) for tree in trees):
        return False
    return repr(_bare(trees[0])) == repr(_bare(trees[1]))


@cache
def views() -> dict[str, str]:
    """Return the queries of sql/views by name, as DuckDB writes them."""
    return {name: normal(query) for name, query in _queries().items()}


@cache
def _queries() -> dict[str, str]:
    files = data_dir("sql").joinpath("views").iterdir()
    texts = (file.read_text("utf-8") for file in files if file.name.endswith(".sql"))
    return {name: query for text in texts for name, query in _BODY.findall(text)}


@cache
def _beneath_views() -> dict[str, frozenset[str]]:
    """Return what each view of sql/views reads, and what samples are laid down from."""
    views = {name: tables_read(query) for name, query in _queries().items()}
    return views | {laying.SAMPLES: tables_read(laying.query(laying.SAMPLES))}


def _serialized(sql: str) -> str:
    row = _parser().execute("select json_serialize_sql($sql::text)", {"sql": sql}).fetchone()
    return str(row[0]) if row else "{}"


@cache
def _parser() -> DuckDBPyConnection:
    """Return an empty database, which knows nothing but the language."""
    import duckdb

    return duckdb.connect(config={"autoload_known_extensions": False})


def _bare(tree: Any) -> Any:  # noqa: ANN401 - JSON
    """Return a tree without the places of its words, lists of a star in one order."""
    if isinstance(tree, dict):
        return {
            key: sorted(map(repr, part)) if key in _UNORDERED else _bare(part)
            for key, part in tree.items()
            if not key.startswith("query_location")
        }
    return [_bare(part) for part in tree] if isinstance(tree, list) else tree


def _nodes(tree: Any) -> Iterator[dict[str, Any]]:  # noqa: ANN401 - JSON
    if isinstance(tree, dict):
        yield tree
    for part in tree.values() if isinstance(tree, dict) else tree if isinstance(tree, list) else ():
        yield from _nodes(part)
