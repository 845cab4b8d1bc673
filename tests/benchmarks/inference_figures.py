"""Counts -> the figures of the benchmark, each with its goal, and the peers' beside it."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from tests.benchmarks import scoring

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from tests.benchmarks.inference_campaigns import Tally
    from tests.benchmarks.inference_counts import Counts

OURS = "ridelab"
#: The median absolute error of a normal distribution times this is its standard deviation.
_TO_SD = 1.4826
#: Ends of the groups in which stated probabilities of a count are held against what is right.
_SURE = (0.0, 0.7, 0.9, 0.98, 1.01)
#: Method -> its counts.
Methods = dict[str, "Counts"]


class Figure(NamedTuple):
    """One line of the result; ``goal`` and ``met`` are None for a figure that informs only.

    ``beside``: the same figure for every other method.
    """

    figure: str
    value: float | None
    goal: str | None
    met: bool | None
    beside: dict[str, float | None]

    def as_json(self) -> dict[str, Any]:
        """Return the object that --json prints."""
        return self._asdict()


def at_most(
    figure: str, value: float | None, goal: float, beside: dict[str, float | None] | None = None
) -> Figure:
    """A figure that should be small."""
    met = value is not None and value <= goal
    return Figure(figure, value, f"<= {goal:.4g}", met, beside or {})


def at_least(
    figure: str, value: float | None, goal: float, beside: dict[str, float | None] | None = None
) -> Figure:
    """A figure that should be large."""
    met = value is not None and value >= goal
    return Figure(figure, value, f">= {goal:.4g}", met, beside or {})


def told(figure: str, value: float | None, beside: dict[str, float | None] | None = None) -> Figure:
    """A figure without a goal."""
    return Figure(figure, value, None, None, beside or {})


def share(part: float, whole: float) -> float | None:
    """Return part over whole, None of nothing."""
    return part / whole if whole else None


def right_away(counts: Counts) -> float | None:
    """Samples right among those driven throughout their second, away from shifts."""
    return share(counts.away_right, counts.away)


def right_coupled(counts: Counts) -> float | None:
    """Samples right among all at whose instant the crank drove."""
    return share(counts.coupled_right, counts.coupled)


def shifts_f1(counts: Counts) -> float | None:
    """Harmonic mean of shifts found and shifts true."""
    return scoring.f1(counts.hits, counts.true_shifts, counts.found_shifts)


def ladder_median(counts: Counts) -> float | None:
    """Median error of the ratios of gears driven for a minute."""
    return float(np.median(np.abs(counts.errors))) if counts.errors else None


def ladder_worst(counts: Counts) -> float | None:
    """Worst error of them."""
    return float(np.abs(counts.errors).max()) if counts.errors else None


def loose_named(counts: Counts) -> float | None:
    """Seconds without any drive that were given a gear as coupled."""
    return share(counts.loose_named, counts.loose)


def case_figures(wheel: Methods, satellite: Methods) -> list[Figure]:
    """Return the figures that the cases give; each pool has the counts of every method."""
    found = []
    for name, pool, right, f1, median, worst in (
        ("wheel sensor", wheel, 0.995, 0.95, 0.002, 0.006),
        ("satellite", satellite, 0.97, 0.88, 0.005, 0.015),
    ):
        if not pool:
            continue
        away = scoring.AWAY_S
        found += [
            _high(
                f"{name}: samples right, coupled, {away:g} s from shifts", pool, right_away, right
            ),
            _told(
                f"{name}: the same at instants",
                pool,
                lambda c: share(c.coupled_away_right, c.coupled_away),
            ),
            _told(f"{name}: samples right, all coupled", pool, right_coupled),
            _told(f"{name}: selected gear right, all", pool, lambda c: share(c.right, c.records)),
            _high(f"{name}: shifts found, F1 within {scoring.MATCH_S:g} s", pool, shifts_f1, f1),
            _told(
                f"{name}: shifts found, of all that the hand made",
                pool,
                lambda c: scoring.f1(c.made_hits, c.made_shifts, c.found_shifts),
            ),
            _low(f"{name}: ladder error, median", pool, ladder_median, median),
            _low(f"{name}: ladder error, worst", pool, ladder_worst, worst),
            _low(f"{name}: gears of 60 s not measured", pool, lambda c: float(c.unmeasured), 0.0),
            _low(f"{name}: gears measured, never driven", pool, lambda c: float(c.phantoms), 0.0),
        ]
    both = {method: wheel[method] + counts for method, counts in satellite.items()} or wheel
    return [
        *found,
        _low("decoupled given a gear: whole seconds", both, loose_named, 0.03),
        _low(
            "decoupled given a gear: in spells of 2 s and more",
            both,
            lambda c: share(c.loose_long_named, c.loose_long),
            0.03,
        ),
        _low(
            "decoupled given a gear: instants",
            both,
            lambda c: share(c.loose_instants_named, c.loose_instants),
            0.03,
        ),
        _told(
            "decoupled given a gear: instants, moving",
            both,
            lambda c: share(c.loose_moving_named, c.loose_moving),
        ),
    ]


def _beside(pool: Methods, measure: Callable[[Counts], float | None]) -> dict[str, float | None]:
    return {method: measure(counts) for method, counts in pool.items() if method != OURS}


def _high(
    figure: str, pool: Methods, measure: Callable[[Counts], float | None], goal: float
) -> Figure:
    return at_least(figure, measure(pool[OURS]), goal, _beside(pool, measure))


def _low(
    figure: str, pool: Methods, measure: Callable[[Counts], float | None], goal: float
) -> Figure:
    return at_most(figure, measure(pool[OURS]), goal, _beside(pool, measure))


def _told(figure: str, pool: Methods, measure: Callable[[Counts], float | None]) -> Figure:
    return told(figure, measure(pool[OURS]), _beside(pool, measure))


def campaign_figures(tally: Tally) -> list[Figure]:
    """Return the figures that the drawn campaigns give."""
    found = []
    for name in ("wheel sensor", "satellite"):
        errors = np.array([(a, b) for speed, a, b in tally.errors if speed == name])
        stated = [error for speed, error in tally.stated_errors if speed == name]
        if len(errors):
            half, most = (np.quantile(np.abs(errors), q, axis=0) for q in (0.5, 0.95))
            said = float(np.median(stated)) / (_TO_SD * float(half[0])) if stated else None
            found += [
                at_most(f"{name}: error of a ratio over the oracle's, median", _over(half), 1.3),
                told(f"{name}: the same, of the one in twenty that is worst", _over(most)),
                told(f"{name}: stated standard error over true", said),
            ]
    for name, held in (
        ("ratios", tally.ratios), ("ranges", tally.ranges), ("steps", tally.steps),
    ):  # fmt: skip
        value = share(sum(held), len(held))
        met = value is not None and 0.93 <= value <= 0.97
        found.append(Figure(f"95 % intervals that hold the truth: {name}", value, "0.93 to 0.97",
                            met, {}))  # fmt: skip
    return [
        *found,
        at_least("gears counted right, nothing published", share(sum(tally.counted),
                 len(tally.counted)), 0.95),
        *_sureness(tally),
        at_most("stepless given gears", float(tally.as_gears), 0.0),
        at_most("gears called stepless", float(tally.as_stepless), 0.0),
        told("chain drives suggested teeth, nothing published", share(sum(tally.chains),
             len(tally.chains))),
        told("sprockets suggested right", share(sum(tally.teeth), len(tally.teeth))),
        at_most("others suggested teeth", float(tally.as_chains), 0.0),
        at_most("ladders slid, vehicles ridden some ten hours", float(tally.placed.count(False)),
                0.0),
        at_most("verdicts false, of those given", share(len(tally.false), tally.decided), 0.01),
        told("claims decided", share(tally.decided, tally.claims)),
    ]  # fmt: skip


def _sureness(tally: Tally) -> list[Figure]:
    """How often counts are right that are said to be as sure as that."""
    sure, right = np.array(tally.sure), np.array(tally.counted, dtype=bool)
    found = [told("the same, as stated", share(float(sure.sum()), len(sure)))]
    for low, high in pairwise(_SURE):
        inside = (sure >= low) & (sure < high)
        name = f"counted right, of {inside.sum()} stated as {low:.0%} to {min(high, 1.0):.0%}"
        found.append(told(name, share(float(right[inside].sum()), int(inside.sum()))))
    return found


def _over(pair: np.ndarray) -> float:
    return float(pair[0] / pair[1])


def lines(figures: Sequence[Figure], methods: Sequence[str]) -> list[str]:
    """Return the table: figure, ours, goal, met, and every other method's."""
    heads = ["figure", OURS, "goal", "", *methods]
    rows = [heads]
    rows += [
        [
            figure.figure,
            _shown(figure.value),
            figure.goal or "",
            "" if figure.met is None else "met" if figure.met else "NOT MET",
            *(_shown(figure.beside[m]) if m in figure.beside else "" for m in methods),
        ]
        for figure in figures
    ]
    return aligned(rows)


def aligned(rows: Sequence[Sequence[str]]) -> list[str]:
    """Return rows as lines with even columns, the first one to the left."""
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    return [
        "  ".join(
            cell.ljust(width) if i == 0 else cell.rjust(width)
            for i, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]


def _shown(value: float | None) -> str:
    return "–" if value is None else f"{value:.4f}"


CASE_HEADS = (
    "method", "right", "coupled", "all", "shifts F1", "true", "found", "ladder", "worst",
    "loose", "spells", "instants", "lacking", "phantom",
)  # fmt: skip


def case_lines(name: str, methods: Mapping[str, Counts]) -> list[str]:
    """Return the table of one case: a row a method."""
    rows = [list(CASE_HEADS)]
    for method, c in methods.items():
        rows.append(
            [
                method,
                _shown(right_away(c)),
                _shown(right_coupled(c)),
                _shown(share(c.right, c.records)),
                _shown(shifts_f1(c)),
                str(c.true_shifts),
                str(c.found_shifts),
                _shown(ladder_median(c)),
                _shown(ladder_worst(c)),
                _shown(loose_named(c)),
                _shown(share(c.loose_long_named, c.loose_long)),
                _shown(share(c.loose_instants_named, c.loose_instants)),
                str(c.unmeasured),
                str(c.phantoms),
            ]
        )
    return ["", name, *aligned(rows)]
