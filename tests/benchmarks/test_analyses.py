"""The benchmark of analyses: its loops and the queries agree, and a difference would be seen."""

from __future__ import annotations

from tests.benchmarks import analyses_plain as plain
from tests.benchmarks.analyses import figures


def test_queries_and_loops_agree_on_a_few_rides() -> None:
    """Four analyses, each the same result both ways."""
    same = [one for one in figures(4) if str(one["figure"]).endswith("the same (1: yes)")]
    assert len(same) == 4
    assert all(one["met"] for one in same)


def test_loop_counts_a_sweep_once_and_nothing_across_silence() -> None:
    """Gears 1 2 3 in two seconds are one shift; twenty seconds of silence hide another."""
    loop = plain.Shifts()
    rows = [(0.0, 1, True, 5.0), (1.0, 2, True, 5.0), (2.0, 3, True, 5.0), (25.0, 5, True, 5.0)]
    loop.add("a", "heron", rows)
    found, often = loop.result()
    assert found == [("a", 1.0, 1, 3)]
    assert often == {"heron": 50.0}
