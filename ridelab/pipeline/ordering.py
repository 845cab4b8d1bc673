"""Whether the stages of a pipeline stand in an order in which each finds what it reads."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from ridelab.pipeline.stages import STAGES
from ridelab.store import beneath, tables_read

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.campaign.table import Table
    from ridelab.pipeline.specification import Step


class _Placed(NamedTuple):
    """A stage, where it stands, the relations that it fills, and those that its query reads."""

    table: Table
    step: Step
    fills: frozenset[str]
    reads: frozenset[str]

    @property
    def here(self) -> str:
        return f"{self.table.path} ({self.step.name})"


def check_order(stages: Sequence[tuple[Table, Step]]) -> None:
    """Refuse two queries of one name, queries that go round, and what a later stage fills.

    What a query reads is told by its text; relations that no stage of the pipeline fills are as
    earlier runs left them.

    Raises:
        CampaignError: with both stages.
    """
    placed = [_placed(table, step) for table, step in stages]
    for number, one in enumerate(placed):
        if one.step.query is None:
            continue
        for before in placed[:number]:
            if one.fills & before.fills:
                found = f"fills the relation {one.step.name}, as {before.here} does"
                one.table.fail("query", found, "a relation for each query, named as its file")
        if one.step.name in one.reads:
            one.table.fail("query", f"reads {one.step.name}, which it fills", "another file name")
        for later in placed[number + 1 :]:
            if sooner := sorted(one.reads & later.fills):
                _refuse(one, later, sooner[0], placed)


def _placed(table: Table, step: Step) -> _Placed:
    if step.query is None:
        return _Placed(table, step, STAGES[step.name].fills, frozenset())
    return _Placed(
        table, step, frozenset((step.name,)), frozenset(beneath(tables_read(step.query)))
    )


def _refuse(one: _Placed, later: _Placed, relation: str, placed: Sequence[_Placed]) -> None:
    if one.step.name in _read_in_turn(later, placed):
        found = f"goes round: {one.step.name} reads {relation}, and {later.here} reads it in turn"
        one.table.fail("query", found, "queries of which one can be filled first")
    found = f"{one.step.name} reads {relation}, which {later.here} fills later"
    one.table.fail("query", found, f"its place behind {later.table.path}")


def _read_in_turn(one: _Placed, placed: Sequence[_Placed]) -> set[str]:
    """Return all that a query reads, and what is read to fill that."""
    by_name = {other.step.name: other for other in placed if other.step.query is not None}
    found, to_look = set(one.reads), list(one.reads)
    while to_look:
        source = by_name.get(to_look.pop())
        new = source.reads - found if source else frozenset()
        found |= new
        to_look += new
    return found
