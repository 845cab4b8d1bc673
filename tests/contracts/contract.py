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
    from collections.abc import Iterator, Mapping

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
    key: tuple[str, ...]
    not_null: tuple[str, ...] = ()
    nullable_key: tuple[str, ...] = ()
    references: tuple[str, ...] = ()
    accepted: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    truths: Mapping[str, str] = field(default_factory=dict)

    def promises(self) -> Iterator[tuple[str, str]]:
        """Yield each promise in words, and the query that finds the rows which break it."""
        columns = ", ".join(self.key)
        yield (
            f"one row a {columns}" if self.key else "one row at most",
            f"select {columns or 'count(*) as rows'} from {self.relation} "
            f"{'group by all' if self.key else ''} having count(*) > 1",
        )
        for column in (*(one for one in self.key if one not in self.nullable_key), *self.not_null):
            yield f"{column} is not null", self._where(f"{column} is null")
        for reference in self.references:
            yield reference, self._dangling(reference)
        for column, words in self.accepted.items():
            listed = ", ".join(f"'{word}'" for word in words)
            yield f"{column} is one of {listed}", self._where(f"{column} not in ({listed})")
        for name, truth in self.truths.items():
            yield (
                name,
                f"select * exclude (_holds) from (select *, ({truth}) as _holds "
                f"from {self.relation}) where not _holds",
            )

    def broken(self, store: Readable) -> list[str]:
        """Return one text a broken promise: relation, promise, how many rows, the first of them."""
        found = []
        for promise, query in self.promises():
            rows = store.frame(query)
            if len(rows):
                first = "; ".join(str(row) for row in rows.head(_ROWS_SHOWN).to_dicts())
                found.append(f"{self.relation}: {promise}: broken by {len(rows)} rows: {first}")
        return found

    def _where(self, condition: str) -> str:
        return f"select * from {self.relation} where {condition}"

    def _dangling(self, reference: str) -> str:
        parts = _REFERENCE.fullmatch(reference)
        if parts is None:
            raise ValueError(f"{self.relation}: a reference is 'a, b -> relation': {reference}")
        here, other, there = parts.groups()
        pairs = zip(here.split(", "), (there or here).split(", "), strict=True)
        joined = " and ".join(f"one.{own} = other.{theirs}" for own, theirs in pairs)
        given = " and ".join(f"one.{own} is not null" for own in here.split(", "))
        return (
            f"select one.* from {self.relation} as one anti join {other} as other on {joined} "
            f"where {given}"
        )


def read(relation: str) -> Contract:
    """Return the contract of a relation; a key that no contract knows is a TypeError."""
    promised = tomllib.loads((HERE / f"{relation}.toml").read_text("utf-8"))
    tables = {name: promised.pop(name, {}) for name in ("accepted", "truths")}
    lists = {name: tuple(value) for name, value in promised.items()}
    return Contract(relation, **lists, **tables)


def names() -> tuple[str, ...]:
    """Return the relations that have a contract."""
    return tuple(sorted(file.stem for file in HERE.glob("*.toml")))
