"""What a contract promises of a relation, and the rows of a store that break it.

A contract is a file ``<relation>.toml``::

    key = ["vehicle", "gear"]              # together unique; [] promises one row at most
    not_null = ["ratio"]                   # beside the key, unless nullable_key lists its columns
    nullable_key = ["gear"]                # columns of the key that may be null
    references = ["vehicle -> stated_vehicles", "vehicle, to_gear -> all_gears: vehicle, gear"]

    [accepted]
    side = ["below", "above"]              # or null

    [truths]
    "an interval holds its value" = "ratio between ratio_low and ratio_high"

A truth is SQL about one row, windows over the relation allowed; as with a check constraint, null
does not break it. A reference says that the row is there in the other relation, under the same
column names unless others follow; where a column is null, nothing is referred to.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    import polars as pl

HERE = Path(__file__).parent
_REFERENCE = re.compile(r"([\w, ]+?) -> (\w+)(?:: ([\w, ]+))?")
_ROWS_SHOWN = 3


class Readable(Protocol):
    """A store, real or fabricated."""

    def frame(self, relation_or_sql: str, /) -> pl.DataFrame:
        """Return the result of a query."""


@dataclass(frozen=True)
class Contract:
    """What a file promises; see the module."""

    relation: str
    key: Sequence[str]
    not_null: Sequence[str] = ()
    nullable_key: Sequence[str] = ()
    references: Sequence[str] = ()
    accepted: Mapping[str, Sequence[str]] = field(default_factory=dict)
    truths: Mapping[str, str] = field(default_factory=dict)

    def promises(self) -> Iterator[tuple[str, str]]:
        """Yield each promise in words, and the query that finds the rows which break it."""
        columns = ", ".join(self.key)
        if self.key:
            yield f"one row a {columns}", self._select(columns, "group by all having count(*) > 1")
        else:
            yield "one row at most", self._select("count(*) as rows", "having count(*) > 1")
        for column in (*(one for one in self.key if one not in self.nullable_key), *self.not_null):
            yield f"{column} is not null", self._select("*", f"where {column} is null")
        for reference in self.references:
            yield reference, self._dangling(reference)
        for column, words in self.accepted.items():
            listed = ", ".join(f"'{word}'" for word in words)
            yield (
                f"{column} is one of {listed}",
                self._select("*", f"where {column} not in ({listed})"),
            )
        for name, truth in self.truths.items():
            # A window may not stand in "where", but in "select" or "qualify", which wants one.
            holds = f"(select *, ({truth}) as _holds from {self.relation})"  # noqa: S608 - our own files
            yield name, f"select * exclude (_holds) from {holds} where not _holds"  # noqa: S608 - likewise

    def broken(self, store: Readable) -> list[str]:
        """Return one text a broken promise: relation, promise, how many rows, the first of them."""
        found = []
        for promise, query in self.promises():
            rows = store.frame(query)
            if len(rows):
                first = "; ".join(str(row) for row in rows.head(_ROWS_SHOWN).to_dicts())
                found.append(f"{self.relation}: {promise}: broken by {len(rows)} rows: {first}")
        return found

    def _select(self, columns: str, rest: str) -> str:
        return f"select {columns} from {self.relation} {rest}"  # noqa: S608 - our own files

    def _dangling(self, reference: str) -> str:
        parts = _REFERENCE.fullmatch(reference)
        if parts is None:
            raise ValueError(f"{self.relation}: a reference is 'a, b -> relation': {reference}")
        here, other, there = parts.groups()
        pairs = zip(here.split(", "), (there or here).split(", "), strict=True)
        joined = " and ".join(f"one.{own} = other.{theirs}" for own, theirs in pairs)
        given = " and ".join(f"one.{own} is not null" for own in here.split(", "))
        return self._select("*", f"as one anti join {other} as other on {joined} where {given}")


def read(relation: str) -> Contract:
    """Return the contract of a relation; a key that no contract knows is a TypeError."""
    promised = tomllib.loads((HERE / f"{relation}.toml").read_text("utf-8"))
    return Contract(relation, **promised)


def names() -> tuple[str, ...]:
    """Return the relations that have a contract."""
    return tuple(sorted(file.stem for file in HERE.glob("*.toml")))
