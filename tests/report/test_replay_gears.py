"""Time in each gear of each candidate: which replay is shown, how tall, and what is not needed."""

from __future__ import annotations

from typing import Any

import polars as pl
import pytest

from ridelab.report.digits import Printer
from ridelab.report.markup import text
from ridelab.report.replay_gears import (
    replay_gears_chart,
    replay_gears_sentence,
    replay_gears_table,
    shown_use,
)
from tests.report.parsed import parse
from tests.report.replays import gear_use

METRIC = Printer("metric")
SPEED = "speed as ridden"


def use(*without: str, own: str | None = "nine") -> pl.DataFrame:
    """Return rows of ``replayed_gear_use``; drivetrains ``without`` habits."""
    rows = [
        row
        for row in gear_use(own)
        if row["policy"] != "by habit" or row["drivetrain"] not in without
    ]
    return pl.DataFrame(rows)


def test_one_replay_of_each_drivetrain_is_shown_beside_what_was_ridden() -> None:
    """By habit where there is one, else looking ahead."""
    shown = shown_use(use("four"), SPEED)
    ways = shown.select("drivetrain", "policy").unique(maintain_order=True).rows()
    assert ways == [
        ("nine", "as ridden"),
        ("nine", "by habit"),
        ("four", "looking ahead"),
        ("twelve", "by habit"),
    ]


def test_a_ridden_ladder_that_nobody_published_is_shown_as_well() -> None:
    """Its drivetrain is null."""
    shown = shown_use(use(own=None), SPEED)
    assert shown["policy"].to_list()[:3] == ["as ridden"] * 3
    assert "ridden" in replay_gears_sentence(shown)


def test_sticks_are_as_tall_as_their_share_and_idle_gears_are_rings() -> None:
    """75 and 25 % and all in one gear; two of four gears of four are never needed."""
    shown = shown_use(use(), SPEED)
    spec = replay_gears_chart(shown, METRIC).to_dict()
    packed: list[dict[str, Any]] = [
        row for rows in spec["datasets"].values() for row in rows if "state" in row
    ]
    (driven,) = (row for row in packed if row["state"] == "driven")
    tall = {
        words.partition(", ")[0]: round(top - foot, 3)
        for words, top, foot in zip(driven["words"], driven["top"], driven["foot"], strict=True)
        if "gear 2" in words
    }
    assert tall["four"] == pytest.approx(0.75 * tall["twelve"], abs=1e-3)
    (idle,) = (row for row in packed if row["state"] == "not needed")
    assert sum("four" in words for words in idle["words"]) == 2
    assert "2 of 4 on four, by habit" in replay_gears_sentence(shown)


def test_the_table_has_a_row_for_each_gear() -> None:
    """Drivetrain, way, gear, development, time and share."""
    shown = shown_use(use(), SPEED)
    page = parse(replay_gears_table(shown, METRIC, text("Time")))
    rows = [[cell.text for cell in row.children] for row in page.all("tr")[1:]]
    assert len(rows) == len(shown)
    assert rows[1][:5] == ["nine", "as ridden", "2", "3.92", "45\u00a0min"]
