"""Statements that cannot all be true are found, with nothing to spare, and implications bounded."""

from __future__ import annotations

from math import inf

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from ridelab.analysis.bounds import Row, contradiction, of_sources, span


def said(who: str, terms: dict[str, float], low: float = -inf, high: float = inf) -> Row:
    """Return what somebody says."""
    return Row(terms, low, high, frozenset({who}))


# x in [1, 2], y - x in [3, 4]: so y in [4, 6], by adding ends by hand
CHAIN = [said("a", {"x": 1}, 1, 2), said("b", {"y": 1, "x": -1}, 3, 4)]


def test_bounds_add_up_along_a_chain() -> None:
    """By hand: y = x + (y - x) lies from 1 + 3 to 2 + 4, and 2y - x from 2·4 - 1 = 7 to 10."""
    assert span(CHAIN, {"y": 1}) == pytest.approx((4, 6))
    assert span(CHAIN, {"y": 2, "x": -1}) == pytest.approx((7, 10))
    assert span(CHAIN, {"z": 1}) == (-inf, inf)
    assert span([said("a", {"x": 1}, low=1)], {"x": 1}) == pytest.approx((1, inf))


def test_what_cannot_be_true_together_is_named_and_nothing_else() -> None:
    """That y = 7 contradicts both links of the chain; what speaks of z has no part in it."""
    rows = [*CHAIN, said("c", {"y": 1}, 7, 8), said("d", {"z": 1}, 0, 1)]
    assert contradiction(rows) == {"a", "b", "c"}
    assert contradiction([*CHAIN, said("c", {"y": 1}, 6, 8)]) == set()  # they touch
    assert contradiction([]) == set()


def test_what_is_true_by_definition_never_gives_way() -> None:
    """Of x <= 0 by definition and a claim that x >= 1 the claim alone is named."""
    rows = [Row({"x": 1.0}, high=0.0), said("a", {"x": 1}, low=1)]
    assert contradiction(rows) == {"a"}
    assert contradiction([Row({}, low=1.0, sources=frozenset({"a"}))]) == {"a"}


def test_a_row_of_two_sources_names_both() -> None:
    """It goes where either of its sources is left out."""
    rows = [Row({"x": 1.0}, 1, 2, frozenset({"a", "b"})), said("c", {"x": 1}, 3, 4)]
    assert contradiction(rows) == {"a", "b", "c"}
    assert of_sources(rows, frozenset({"a", "c"})) == rows[1:]


@given(
    values=st.lists(st.floats(-3, 3), min_size=2, max_size=5),
    margins=st.lists(st.floats(1e-4, 0.1), min_size=30, max_size=30),
    pushed=st.floats(0.01, 1),
    data=st.data(),
)
def test_differences_against_cycles(
    values: list[float], margins: list[float], pushed: float, data: st.DataObject
) -> None:
    """A cycle of differences sums to 0: pushed beyond all its margins, every link is needed."""
    count = len(values)
    assume(count > 1)
    links = [(at, (at + 1) % count) for at in range(count)]
    rows = []
    for place, (at, to) in enumerate(links):
        true, margin = values[to] - values[at], margins[place]
        terms = {f"x{to}": 1.0, f"x{at}": -1.0}
        rows.append(said(f"link {place}", terms, true - margin, true + margin))
    assert contradiction(rows) == set()
    place = data.draw(st.integers(0, count - 1))
    beyond = sum(margins[:count]) + pushed
    bad = rows[place]
    rows[place] = Row(bad.terms, bad.low + beyond, bad.high + beyond, bad.sources)
    assert contradiction(rows) == {f"link {number}" for number in range(count)}
