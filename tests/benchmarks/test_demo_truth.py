"""The demo, inferred against true, end to end."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridelab.simulate.demo import DEMO_SEED
from tests.benchmarks.demo_truth import figures, measure

if TYPE_CHECKING:
    from pathlib import Path


def test_the_demo_is_measured_as_it_was_ridden(tmp_path: Path) -> None:
    """Ladders, ranges, engaged gears and shifts of all vehicles meet their goals."""
    found = figures(measure([DEMO_SEED], tmp_path))
    assert {figure.figure.partition(":")[0] for figure in found} == {
        "plover", "dunlin", "lapwing", "godwit", "turnstone", "whimbrel", "redshank", "all",
    }  # fmt: skip
    assert [figure for figure in found if not figure.met] == []
