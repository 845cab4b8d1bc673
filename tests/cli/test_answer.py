"""What a run prints: ladders, ranges, verdicts, problems, from a fabricated store."""

from __future__ import annotations

from typing import Any

import polars as pl
import pytest

from ridelab.cli.answer import print_ladders, print_problems

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
    "count_probability": None,
    "rollout_is_measured": True,
}
PROBLEM = dict.fromkeys(("path", "stage", "severity", "message", "vehicle"), pl.String())
RIDE = {"vehicle": "heron", "path": "rides/one.fit"}


def warning(path: str, message: str, stage: str = "measure") -> dict[str, Any]:
    """A row of ``problems``."""
    return dict(zip(PROBLEM, (path, stage, "warning", message, "heron"), strict=True))


class Shelf:
    """A store that holds what it is given."""

    def __init__(self, **relations: list[dict[str, Any]]) -> None:
        self.relations = relations

    def frame(self, relation: str, /) -> pl.DataFrame:
        """Return a relation; one that was not given is empty."""
        rows = self.relations.get(relation, [])
        if relation == "problems":
            return pl.DataFrame(rows, schema=PROBLEM, orient="row")
        return pl.DataFrame(rows)


@pytest.fixture(autouse=True)
def eighty_columns(monkeypatch: pytest.MonkeyPatch) -> None:
    """The width of a terminal that nobody made wider."""
    monkeypatch.setenv("COLUMNS", "80")


def answer(capsys: pytest.CaptureFixture[str], **relations: list[dict[str, Any]]) -> str:
    """What is printed for a store with these relations."""
    shelf = Shelf(**relations)
    print_ladders(shelf, "metric")
    print_problems(shelf)
    printed = capsys.readouterr().out
    assert max(map(len, printed.splitlines()), default=0) <= 80
    return printed


def test_a_ladder_that_nobody_published_says_how_surely_it_was_counted(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """The probability of the count stands below the ladder; of a published one there is none."""
    printed = answer(
        capsys,
        vehicles=[VEHICLE | {"drivetrain": None, "count_probability": 0.997}],
        measured_gears=[gear | {"published_ratio": None, "deviation": None} for gear in GEARS],
    )
    assert "2 gears were ridden (probability > 99 %); of others" in printed
    assert "probability" not in answer(capsys, vehicles=[VEHICLE], measured_gears=GEARS)


def test_a_nominal_rollout_that_no_ride_shows_says_how_far_all_ratios_may_move(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """4 % down to 1 % up, as for any tyre by its name; intervals of ratios do not hold that."""
    alone = IDLE | {"drivetrain": None, "rollout_is_measured": False}
    printed = answer(capsys, vehicles=[alone], measured_gears=GEARS)
    assert "rollout 1.563 m nominal: it may be 1.500 to 1.579 m, and all ratios move with it" in (
        " ".join(printed.split())
    )


def test_what_is_overloaded_is_said(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """A caution is no doubt about the figures; a unit set to another wheel is."""
    printed = answer(
        capsys,
        vehicles=[VEHICLE],
        measured_gears=GEARS,
        problems=[
            warning("heron", "hub: 300 N·m at its input, stated limit 200 N·m", "torque"),
            warning("heron", "its recording unit is set to another wheel", "wheel"),
        ],
    )
    lines = printed.splitlines()
    assert "caution: hub: 300 N·m at its input, stated limit 200 N·m" in lines
    assert "in doubt: its recording unit is set to another wheel" in lines


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
        "not ridden long enough: gear 3",
        "range 123.6 ± 0.5 % (gears 1 and 2); published 153 % (all 3)",
        "",
    ]


def test_teeth_that_would_explain_the_ladder_are_told(capsys: pytest.CaptureFixture[str]) -> None:
    """In a sentence below the range."""
    row = {"vehicle": "heron", "ring": 1, "chainring": 50, "ring_ratio": 1.0, "by_chance": 0.005}
    teeth = [row | {"gear": gear, "sprocket": teeth} for gear, teeth in ((1, 25), (2, 23))]
    printed = answer(
        capsys, vehicles=[VEHICLE], measured_gears=GEARS, measured_range=[RANGE],
        suggested_teeth=teeth,
    )  # fmt: skip
    assert "one chainring (about 50 teeth by the stated rollout)" in " ".join(printed.split())


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
    assert printed.splitlines()[-2] == "range 123.6 ± 0.5 % (gears 1 and 2)"


IDLE = VEHICLE | dict.fromkeys(key for key in VEHICLE if key.startswith("effective"))


def test_vehicle_without_a_ride(capsys: pytest.CaptureFixture[str]) -> None:
    """It is there all the same, and says that it has nothing to say."""
    printed = answer(capsys, vehicles=[IDLE])
    assert printed.splitlines() == [
        "heron (trike, three)",
        "rollout 1.563 m as stated",
        "no gear can be named: no ride of it was read",
        "",
    ]


@pytest.mark.parametrize(
    ("problems", "said"),
    [
        (
            [
                warning("rides/one.fit", "no speed: no gear can be named"),
                warning("heron", "no ride of this vehicle names a gear"),
            ],
            "no gear can be named: no speed",
        ),
        (
            [warning("heron", "development varies without steps, as with a slipping clutch")],
            "no gear can be named: development varies without steps, as with a slipping\n  clutch",
        ),
        ([], "no gear can be named"),
        (
            [warning("rides/one.fit", f"reason {number}") for number in range(5)],
            "no gear can be named: reason 0; reason 1; reason 2; and 2 more reasons",
        ),
    ],
    ids=["of a ride", "of the vehicle", "unknown", "many"],
)
def test_vehicle_without_gears_says_why(
    capsys: pytest.CaptureFixture[str], problems: list[dict[str, Any]], said: str
) -> None:
    """The reasons that measuring gave, not that there are too few gears for a range."""
    printed = answer(capsys, vehicles=[IDLE], rides=[RIDE], problems=problems)
    assert f"\n{said}\n" in printed
    assert "fewer than two" not in printed


def test_one_gear_makes_no_range(capsys: pytest.CaptureFixture[str]) -> None:
    """Here it is the number of gears."""
    printed = answer(capsys, vehicles=[VEHICLE], rides=[RIDE], measured_gears=GEARS[:1])
    assert "no range: fewer than two gears were measured" in printed


def test_doubts_stand_under_the_vehicle(capsys: pytest.CaptureFixture[str]) -> None:
    """A wrong wheel, a ride that disagrees with the others; three at most, then how many more."""
    problems = [
        warning("heron", "the wheel rolls 1.7 m a turn"),
        warning("rides/one.fit", "its speeds are +3.0 % off"),
        warning("rides/one.fit", "no cadence: no gear can be named"),
        warning("rides/one.fit", "12 records went back in time", "read"),
        *(warning("heron", f"doubt {number}") for number in range(3)),
    ]
    printed = answer(
        capsys,
        vehicles=[VEHICLE],
        rides=[RIDE],
        measured_gears=GEARS,
        measured_range=[RANGE],
        problems=problems,
    )
    assert [line for line in printed.splitlines() if line.startswith("in doubt")] == [
        "in doubt: the wheel rolls 1.7 m a turn",
        "in doubt: rides/one.fit: its speeds are +3.0 % off",
        "in doubt: doubt 0",
        "in doubt: … and 2 more reasons",
    ]


def test_problems_are_counted(capsys: pytest.CaptureFixture[str]) -> None:
    """Errors first; a person knows where to look."""
    problems = [{"severity": word} for word in ("note", "error", "note")]
    assert answer(capsys, problems=problems) == (
        "problems: 1 error, 2 notes\n  ridelab show problems\n"
    )
