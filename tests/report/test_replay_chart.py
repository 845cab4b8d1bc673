"""All candidates in one picture: what tells differences apart, and which line is whose."""

from __future__ import annotations

from typing import Any

from ridelab.analysis.replay.words import Told
from ridelab.report.digits import Printer
from ridelab.report.replay_chart import replay_chart
from ridelab.report.replay_rows import groups
from tests.report.replays import differences, rows


def drawn(told: Told) -> dict[str, Any]:
    """Return the picture of these replays."""
    return replay_chart(groups(told, Printer("metric"))).to_dict()


def test_each_figure_has_a_line_for_each_drivetrain_below_its_heading() -> None:
    """The ridden one first, in every figure but that of the range beyond it."""
    spec = drawn(Told.of(rows(), differences()))
    order = tuple(spec["layer"][0]["encoding"]["y"]["scale"]["domain"])
    assert order[:4] == ("0|", "0|nine", "0|four", "0|twelve")
    assert order[4:8] == ("1|", "1|nine", "1|four", "1|twelve")


def test_a_difference_is_told_by_shape_and_dashes_as_well() -> None:
    """No colour alone: ring and broken bar where rides cannot tell."""
    spec = drawn(Told.of(rows(), differences()))
    (shapes,) = {
        tuple(layer["encoding"]["shape"]["scale"]["range"])
        for layer in spec["layer"]
        if "shape" in layer["encoding"]
    }
    assert len(set(shapes)) == 4
    dashes = [
        tuple(layer["mark"]["strokeDash"])
        for layer in spec["layer"]
        if layer["mark"]["type"] == "rule"
    ]
    assert len(dashes) == 3
    assert len(set(dashes)) == 2


def test_a_name_with_the_separator_keeps_its_own() -> None:
    """Lines are known as "0|name": only the first stroke is cut off."""
    spec = drawn(Told.of(rows(names=("a|b",)), differences(names=("a|b",))))
    labels = spec["layer"][0]["encoding"]["y"]["axis"]["labelExpr"]
    assert labels == "slice(datum.label, indexof(datum.label, '|') + 1)"
    assert "0|a|b" in spec["layer"][0]["encoding"]["y"]["scale"]["domain"]
