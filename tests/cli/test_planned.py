"""What a rider is told to ride."""

from __future__ import annotations

import polars as pl
import pytest

from ridelab.analysis.plan import PLAN_SCHEMA
from ridelab.cli.planned import print_plan

_ROW = {
    "vehicle": "heron", "gear": 9, "seconds": 60.0, "spells": 2, "speed_low_mps": 5.0,
    "speed_high_mps": 7.0, "cadence_low_rpm": 70.0, "cadence_high_rpm": 90.0, "claims": "c1, c2",
    "instruction": "gear 9: 2 times 30 s of steady pedalling",
}  # fmt: skip


def test_plan_names_gears_spells_speeds_and_the_cautions(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """In display units, at 80 columns, with what a rider must mind."""
    plan = pl.DataFrame([_ROW], schema=PLAN_SCHEMA)
    print_plan(plan, pl.DataFrame({"verdict": ["undecided"]}), "metric")
    out = capsys.readouterr().out
    assert "heron: 1 min of steady pedalling, for c1, c2" in out
    assert "2 spells of 30 s" in " ".join(out.split())
    assert "70 to 90" in out
    assert "18 to 25" in out
    for word in ("closed or quiet road", "brakes", "Local law", "manual", "mechanic"):
        assert word in " ".join(out.split())
    assert max(map(len, out.splitlines())) <= 80


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "no claim was judged"),
        (["holds"], "nothing is left to ride"),
        (["undecided"], "1 claim undecided, none that riding would likely decide"),
    ],
)
def test_without_a_plan_it_says_why(
    words: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nothing judged, nothing open, or nothing that riding decides."""
    verdicts = pl.DataFrame({"verdict": words}, schema={"verdict": pl.String()})
    print_plan(PLAN_SCHEMA.to_frame(), verdicts, "metric")
    assert said in capsys.readouterr().out
