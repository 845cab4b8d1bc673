"""Statements that are linear in unknowns: can all be true, which cannot, and what they imply.

Each statement bounds a sum of unknowns from one side or both. Whether all can be true is a linear
programme: the least ``t`` by which every bound would have to give way is 0 if and only if they can.
The multipliers at a ``t`` above 0 name statements that cannot all be true (J. Gleeson and J. Ryan,
ORSA J. Comput. 2 (1990) 61-63: their vertices are the irreducible infeasible sets); a pass over
these leaves out what can be spared, so that each that remains is needed.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, isfinite
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from numpy.typing import NDArray
    from scipy.optimize import OptimizeResult
    from scipy.sparse import csr_array

#: Bounds that miss each other by less, in logarithms or relative, still touch: the solver's digits.
TOUCHING = 1e-6
_MULTIPLIER = _ROOM = 1e-9


@dataclass(frozen=True)
class Row:
    """``low <= sum of factor * unknown <= high``, and in whose words.

    ``sources`` is empty where it is true by definition, and names all that it follows from else.
    """

    terms: Mapping[str, float]
    low: float = -inf
    high: float = inf
    sources: frozenset[str] = frozenset()


def contradiction(rows: Sequence[Row]) -> frozenset[str]:
    """Return sources that cannot all be true, none of which can be spared; empty if all can be."""
    culprits = _culprits(rows)
    for source in sorted(culprits):
        fewer = culprits - {source}
        if _culprits(of_sources(rows, fewer)):
            culprits = fewer
    return culprits


def of_sources(rows: Iterable[Row], sources: frozenset[str]) -> list[Row]:
    """Return what follows from these sources, and what is true by definition."""
    return [row for row in rows if row.sources <= sources]


def span(rows: Sequence[Row], terms: Mapping[str, float]) -> tuple[float, float]:
    """Return the least and the most that a sum of unknowns can be, each infinite if unbounded.

    The rows must be free of contradiction.
    """
    found = _inequalities([*rows, Row(terms)])
    goal = np.zeros(len(found.names) + 1)
    for name, factor in terms.items():
        goal[found.names[name]] = factor
    # bounds that merely touch leave no room: give them what they lack, and the solver its digits
    gives = _gives_way(found) + _ROOM
    least, most = (_least(sign * goal, found, gives) for sign in (1.0, -1.0))
    return least, -most


@dataclass(frozen=True)
class _Inequalities:
    """``matrix @ [*unknowns, t] <= limits``: every bound that somebody stated gives way by t.

    ``owners`` has the row that each inequality is of, ``names`` the place of each unknown.
    """

    matrix: csr_array[np.float64]
    limits: NDArray[np.float64]
    owners: list[Row]
    names: dict[str, int]


def _culprits(rows: Sequence[Row]) -> frozenset[str]:
    """Return the sources of the rows whose multipliers prove a contradiction."""
    found = _inequalities(rows)
    if not found.owners:
        return frozenset()
    solved = _solve(np.append(np.zeros(len(found.names)), 1.0), found, (0.0, inf))
    if solved.fun is None or solved.fun <= TOUCHING:
        return frozenset()
    active = np.flatnonzero(np.abs(solved.ineqlin.marginals) > _MULTIPLIER)
    return frozenset[str]().union(*(found.owners[place].sources for place in active))


def _gives_way(found: _Inequalities) -> float:
    """Return the least by which all bounds must give way."""
    solved = _solve(np.append(np.zeros(len(found.names)), 1.0), found, (0.0, inf))
    return float(solved.fun or 0.0)


def _least(goal: NDArray[np.float64], found: _Inequalities, gives: float) -> float:
    """Return the least of a sum of unknowns, minus infinity where nothing bounds it."""
    solved = _solve(goal, found, (gives, gives))
    return -inf if solved.fun is None else float(solved.fun)


def _solve(
    goal: NDArray[np.float64], found: _Inequalities, gives: tuple[float, float]
) -> OptimizeResult:
    from scipy.optimize import linprog

    bounds = [(-inf, inf)] * len(found.names) + [gives]
    # the stubs know no sparse matrix, which the function takes
    return linprog(  # type: ignore[no-any-return, call-overload]
        goal, A_ub=found.matrix, b_ub=found.limits, bounds=bounds, method="highs-ds"
    )


def _inequalities(rows: Sequence[Row]) -> _Inequalities:
    from scipy.sparse import csr_array

    names: dict[str, int] = {}
    for row in rows:
        for name in row.terms:
            names.setdefault(name, len(names))
    ends = [(row, sign, end) for row in rows for sign, end in _ends(row)]
    entries = [
        (place, column, value)
        for place, (row, sign, _) in enumerate(ends)
        for column, value in [
            *((names[name], sign * factor) for name, factor in row.terms.items()),
            (len(names), -1.0 if row.sources else 0.0),
        ]
    ]
    places, columns = (np.array([one[part] for one in entries], dtype=int) for part in (0, 1))
    values = np.array([value for _, _, value in entries], dtype=float)
    return _Inequalities(
        csr_array((values, (places, columns)), shape=(len(ends), len(names) + 1)),
        np.array([sign * end for _, sign, end in ends]),
        [row for row, _, _ in ends],
        names,
    )


def _ends(row: Row) -> list[tuple[float, float]]:
    return [(sign, end) for sign, end in ((-1.0, row.low), (1.0, row.high)) if isfinite(end)]
