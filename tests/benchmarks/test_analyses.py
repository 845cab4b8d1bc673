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
    loop = plain.Shifts({"heron": {1: 1.0, 2: 1.25, 3: 1.5, 5: 2.0}})
    told = ((0.0, 1, 80.0), (1.0, 2, 70.0), (2.0, 3, 60.0), (25.0, 5, 50.0))
    rows = [(t, gear, True, 5.0, 5.0, rpm, None, 0.01) for t, gear, rpm in told]
    loop.add("a", "heron", rows)
    found, often = loop.result()
    assert found == [("a", 1.0, 1, 3, 0.5, 5.0, 80.0, 60.0, None, 0.01, False)]
    assert often == {"heron": 50.0}
