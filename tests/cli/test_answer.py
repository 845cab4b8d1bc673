"""What a run prints: ladders, ranges, verdicts, problems, from a fabricated store."""

from __future__ import annotations

from typing import Any

import polars as pl
import pytest

from ridelab.cli.answer import print_answer

GEARS = [
    {
        "vehicle": "heron",
        "gear": gear,
        "label": str(gear),
        "ratio": ratio,
        "ratio_low": ratio - 0.003,
        "ratio_high": ratio + 0.003,
        "development_m": 1.5 * ratio,
        "development_low_m": 1.5 * ratio - 0.02,
        "development_high_m": 1.5 * ratio + 0.02,
        "published_ratio": published,
        "deviation": ratio / published - 1,
        "seconds": seconds,
    }
    for gear, ratio, published, seconds in [
        (1, 0.734, 0.733, 250.0),
        (2, 0.9071, 0.907, 3725.0),
    ]
]
RANGE = {
    "vehicle": "heron",
    "low_gear": 1,
    "high_gear": 2,
    "range": 1.2358,
    "range_low": 1.2308,
    "range_high": 1.2408,
    "published_range": 1.528,
    "complete": False,
}
VEHICLE = {
    "vehicle": "heron",
    "kind": "trike",
    "drivetrain": "three",
    "stated_rollout_m": 1.563,
    "effective_rollout_m": 1.551,
    "effective_rollout_low_m": 1.549,
    "effective_rollout_high_m": 1.553,
}
CLAIM = {
    "claim": "c1",
    "drivetrain": "three",
    "quantity": "range",
    "printed": "153 %",
    "gear": None,
    "which": None,
    "at_cadence_rpm": None,
}
VERDICT = {
    "claim": "c1",
    "vehicle": "heron",
    "verdict": "undecided",
    "measured": 1.2358,
    "measured_low": 1.2308,
    "measured_high": 1.2408,
    "reason": "gear 3 was never engaged long enough: ride 60 s of steady pedalling in it",
}


class Shelf:
    """A store that holds what it is given."""

    def __init__(self, **relations: list[dict[str, Any]]) -> None:
        self.relations = relations

    def frame(self, relation: str, /) -> pl.DataFrame:
        """Return a relation; one that was not given is empty."""
        empty = {"severity": pl.String} if relation == "problems" else None
        return pl.DataFrame(self.relations.get(relation, []), schema=empty)


@pytest.fixture(autouse=True)
def eighty_columns(monkeypatch: pytest.MonkeyPatch) -> None:
    """The width of a terminal that nobody made wider."""
    monkeypatch.setenv("COLUMNS", "80")


def answer(capsys: pytest.CaptureFixture[str], **relations: list[dict[str, Any]]) -> str:
    """What is printed for a store with these relations."""
    print_answer(Shelf(**relations), "metric")
    printed = capsys.readouterr().out
    assert max(map(len, printed.splitlines()), default=0) <= 80
    return printed


def test_ladder_beside_the_published_one(capsys: pytest.CaptureFixture[str]) -> None:
    """Digits as far as the interval supports; a label that is the gear's number is left out."""
    published = [{"drivetrain": "three", "gear": gear} for gear in (1, 2, 3)]
    printed = answer(
        capsys,
        vehicles=[VEHICLE],
        measured_gears=GEARS,
        measured_range=[RANGE],
        published_gears=published,
    )
    assert printed.splitlines() == [
        "heron (trike, three)",
        "rollout 1.551 ± 0.002 m as ridden, 1.563 m as stated",
        "gear  published       measured   off  development   ridden",
        "                                   %            m    h:m:s",
        "----------------------------------------------------------",
        "   1      0.733  0.734 ± 0.003  +0.1  1.10 ± 0.02  0:04:10",
        "   2      0.907  0.907 ± 0.003   0.0  1.36 ± 0.02  1:02:05",
        "not ridden long enough to measure: gear 3",
        "range 123.6 ± 0.5 %, gear 1 to 2, not the whole ladder; published 153 %",
        "",
    ]


def test_labels_are_shown_where_they_say_more(capsys: pytest.CaptureFixture[str]) -> None:
    """Two combinations that share a gear, by their teeth."""
    gears = [GEARS[0] | {"label": "38/18 = 34/16"}, GEARS[1] | {"label": "38/15"}]
    printed = answer(capsys, vehicles=[VEHICLE], measured_gears=gears)
    assert "38/18 = 34/16" in printed


def test_without_drivetrain_nothing_published_is_shown(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Columns that hold nothing are left out."""
    gears = [gear | {"published_ratio": None, "deviation": None} for gear in GEARS]
    span = RANGE | {"published_range": None, "complete": None}
    printed = answer(
        capsys,
        vehicles=[VEHICLE | {"drivetrain": None}],
        measured_gears=gears,
        measured_range=[span],
    )
    assert "published" not in printed.splitlines()[2]
    assert "off" not in printed
    assert printed.splitlines()[-2] == "range 123.6 ± 0.5 %, gear 1 to 2"


def test_vehicle_that_named_no_gear(capsys: pytest.CaptureFixture[str]) -> None:
    """It is there all the same, and says that it has nothing to say."""
    idle = VEHICLE | dict.fromkeys(k for k in VEHICLE if k.startswith("effective"))
    printed = answer(capsys, vehicles=[idle])
    assert printed.splitlines() == [
        "heron (trike, three)",
        "rollout 1.563 m as stated",
        "no range: fewer than two gears were measured",
        "",
    ]


def test_verdicts_say_what_was_claimed_and_why(capsys: pytest.CaptureFixture[str]) -> None:
    """One row a claim and vehicle, with the measured value and its interval."""
    printed = answer(capsys, claims=[CLAIM], verdicts=[VERDICT])
    assert printed.splitlines() == [
        "verdict    vehicle  claim            measured, and why",
        "-" * 80,
        "undecided  heron    c1: range 153 %  123.6 % (123.1 to 124.1 %): gear 3 was",
        "                                     never engaged long enough: ride 60 s of",
        "                                     steady pedalling in it",
        "",
    ]


def test_problems_are_counted(capsys: pytest.CaptureFixture[str]) -> None:
    """Errors first; a person knows where to look."""
    problems = [{"severity": word} for word in ("note", "error", "note")]
    assert answer(capsys, problems=problems) == (
        "problems: 1 error, 2 notes\n  ridelab show problems\n"
    )
