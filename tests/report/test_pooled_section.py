"""Claims on several vehicles: what is the drivetrain's, who is odd, and names that are hostile."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from ridelab.report.digits import Printer
from ridelab.report.findings import read_findings
from ridelab.report.pooled_section import TOGETHER, pooled_exhibits, pooled_section
from ridelab.report.pooled_words import drivetrain_or_vehicle, tells_little
from tests.report.fabricated import FabricatedStore, vehicle
from tests.report.hostile import HOSTILE
from tests.report.parsed import parse

if TYPE_CHECKING:
    from collections.abc import Mapping

METRIC = Printer("metric")
#: A range of 540 % within 2 % was measured on three vehicles; tern is another.
APART = {"heron": 5.40, "otter": 5.41, "tern": 5.00}
ALIKE = {"heron": 5.40, "otter": 5.41, "tern": 5.39}


def judged(
    store: FabricatedStore,
    claim: str,
    each: Mapping[str, float],
    verdict: str,
    *,
    half: float | None = 0.05,
    **pooled: float | str | None,
) -> None:
    """Add a claim on "nine", what each vehicle measured, and what they come to."""
    for name in set(each) - set(store.frame("stated_vehicles")["vehicle"]):
        vehicle(store, name, "nine")
    claimed = {"quantity": "range", "value": 5.4, "tolerance": 0.02, "printed": "540 %"}
    store.add("claims", {"claim": claim, "drivetrain": "nine", "source": ""} | claimed)
    for name, value in each.items():
        ends = {"measured_low": value - 0.01, "measured_high": value + 0.01}
        word = "holds" if abs(value - 5.4) < 0.1 else "fails"
        row = {"claim": claim, "vehicle": name, "verdict": word, "reason": "ridden"}
        store.add("verdicts", row | {"measured": value} | ends)
    mean = None if half is None else sum(each.values()) / len(each)
    low, high = (mean and mean + side * (half or 0.0) for side in (-1, 1))
    known = {"measured": mean, "measured_low": low, "measured_high": high}
    told = {"drivetrain": "nine", "verdict": verdict, "reason": "ridden so"}
    counted = {"claim": claim, "vehicles": len(each), "left_out": 0}
    store.add("pooled_claims", counted | told | known | pooled)


@pytest.fixture
def store() -> FabricatedStore:
    """Return a store with nothing claimed yet."""
    return FabricatedStore()


def drawn(store: FabricatedStore) -> dict[str, dict[str, Any]]:
    """Return the marks of the picture by their lines, each with the ends of its bar."""
    (exhibit,) = pooled_exhibits(read_findings(store), METRIC)
    sets = exhibit.drawing.to_dict()["datasets"].values()
    ends = {row["line"]: row for rows in sets for row in rows if {"line", "high"} <= set(row)}
    marks = (row for rows in sets for row in rows if "at" in row)
    return {row["line"]: ends.get(row["line"], {}) | row for row in marks}


def test_each_vehicle_stands_beside_what_all_come_to(store: FabricatedStore) -> None:
    """By hand: 5.41 is 0.01 / 0.108 = 0.09 tolerances above the claim."""
    judged(store, "c1", ALIKE, "holds", half=0.01)
    marks = drawn(store)
    assert list(marks) == ["0|heron", "0|otter", "0|tern", f"0|{TOGETHER}"]
    assert marks["0|otter"]["at"] == pytest.approx(0.0926, abs=1e-3)
    assert marks[f"0|{TOGETHER}"]["high"] == pytest.approx(0.0926, abs=1e-3)
    assert "Holds on each of 3 vehicles: c1." in page(store).replace("\u00a0", " ")


def test_the_odd_vehicle_is_named_in_words_and_picture(store: FabricatedStore) -> None:
    """It is this vehicle's, and not the drivetrain's."""
    judged(store, "c1", APART, "undecided", half=0.6, odd_vehicle="tern", odd_by=-0.075)
    said = page(store).replace("\u00a0", " ")
    assert "c1: tern is 7.5 % below the other 2: this vehicle, not the drivetrain?" in said
    assert "Holds on" not in said
    mark = drawn(store)["0|tern, odd"]
    assert mark["verdict"] == "fails"
    assert mark["words"].endswith("fails, departs from the others")


def test_two_vehicles_alike_prove_nothing_of_a_kind(store: FabricatedStore) -> None:
    """It is said on how many a claim holds, and where they differ by more than chance would."""
    judged(store, "c1", {"heron": 5.4, "otter": 5.41}, "holds", q_p=0.3)
    judged(store, "c2", {"heron": 5.36, "otter": 5.44}, "holds", q_p=0.001)
    said = page(store).replace("\u00a0", " ")
    assert "Holds on both of 2 vehicles: c1, c2 (they differ by more than chance)." in said
    assert "stands apart" not in said


def test_of_three_vehicles_one_can_stand_apart(store: FabricatedStore) -> None:
    """Only there does the caption speak of one that does."""
    judged(store, "c1", ALIKE, "holds")
    assert "one that stands apart from the others speaks of itself" in page(store)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["fails"] * 4, "Fails on each of 4 vehicles: c1"),
        (["holds", "undecided", "holds"], "Holds on 2 of 3 vehicles: c1"),
        (["undecided"] * 3, "Holds for the mean of 3 vehicles, on none alone: c1"),
    ],
)
def test_it_is_said_on_how_many_vehicles(words: list[str], said: str) -> None:
    """Those that leave a claim open are counted, too."""
    verdict = "fails" if "fails" in words else "holds"
    whole = {"claim": "c1", "verdict": verdict, "vehicles": len(words), "q_p": None}
    own = [{"claim": "c1", "verdict": word} for word in words]
    (told,) = drivetrain_or_vehicle([whole | {"odd_vehicle": None}], own)
    assert told.replace("\u00a0", " ") == said


def test_vehicles_that_contradict_each_other_are_told_as_the_store_tells(
    store: FabricatedStore,
) -> None:
    """Of two nobody can say which is odd."""
    judged(store, "c1", {"heron": 5.4, "tern": 5.0}, "undecided")
    assert "c1: ridden so." in page(store)


def test_a_mean_that_tells_little_is_not_drawn(store: FabricatedStore) -> None:
    """Its interval is wider than twice what the vehicles differ by."""
    judged(store, "c1", ALIKE, "holds", half=0.05)
    assert f"0|{TOGETHER}" not in drawn(store)
    row = {"measured_low": 5.35, "measured_high": 5.45}
    assert tells_little(row, [5.39, 5.41])
    assert not tells_little(row, [5.2, 5.41])
    assert not tells_little(row, [5.4])


def test_mean_beyond_the_tolerance_is_not_shown_beside_holds(store: FabricatedStore) -> None:
    """The table gives the least and the greatest vehicle, as the terminal does."""
    judged(store, "c1", ALIKE, "holds", half=0.2)
    (exhibit,) = pooled_exhibits(read_findings(store), METRIC)
    row = parse(exhibit.table).all("tbody")[0].all("tr")[0]
    assert row.children[3].text.replace("\u00a0", " ").strip() == "539 to 541 %"


@pytest.mark.parametrize(
    ("verdict", "bound", "little"),
    [
        ("holds", "about", True),
        ("holds", None, True),
        ("holds", "at least", False),
        ("holds", "at most", True),
        ("undecided", "about", False),
    ],
)
def test_mean_beside_holds_tells_little_beyond_the_edge(
    verdict: str, bound: str | None, little: bool
) -> None:
    """By hand: 5.52 is beyond 5.4 × 1.02 = 5.508, which "at least" does not limit."""
    row = {"measured_low": 5.3, "measured_high": 5.52, "value": 5.4, "tolerance": 0.02}
    assert tells_little(row | {"verdict": verdict, "bound": bound}, [5.3, 5.5]) is little


def test_vehicles_that_are_compared_one_by_one_have_no_mean(store: FabricatedStore) -> None:
    """As the largest of several steps."""
    judged(store, "c1", ALIKE, "holds", half=None)
    assert list(drawn(store)) == ["0|heron", "0|otter", "0|tern"]


def test_of_many_vehicles_only_those_that_stand_apart_have_a_line(store: FabricatedStore) -> None:
    """Twenty vehicles are four lines: the odd one, the two furthest from the middle, the others."""
    each = {f"v{n}": 5.4 + n / 1000 for n in range(19)} | {"tern": 5.0}
    judged(store, "c1", each, "undecided", half=0.6, odd_vehicle="tern", odd_by=-0.075)
    (exhibit,) = pooled_exhibits(read_findings(store), METRIC)
    spec = exhibit.drawing.to_dict()
    lines = tuple(spec["layer"][1]["encoding"]["y"]["scale"]["domain"])
    assert lines == ("0|", "0|tern, odd", "0|v0", "0|v18", "0|17 others\u00a0")
    marks = [row for rows in spec["datasets"].values() for row in rows if "verdict" in row]
    assert sum(row["line"] == "0|17 others\u00a0" for row in marks) >= 17


def test_of_many_claims_ten_are_drawn_and_the_others_counted(store: FabricatedStore) -> None:
    """The table has them all."""
    for number in range(12):
        judged(store, f"c{number}", ALIKE, "holds", half=None)
    (exhibit,) = pooled_exhibits(read_findings(store), METRIC)
    assert len({mark.partition("|")[0] for mark in drawn(store)}) == 10
    assert exhibit.said.replace("\u00a0", " ").endswith("2 more claims stand in the table.")
    assert len(parse(exhibit.table).all("tbody")[0].all("tr")) == 12


def test_a_claim_on_one_vehicle_is_not_compared(store: FabricatedStore) -> None:
    """One alone does not tell whether it is the drivetrain."""
    judged(store, "c1", {"heron": 5.4}, "holds")
    assert pooled_section(read_findings(store), METRIC) == ""
    assert list(pooled_exhibits(read_findings(store), METRIC)) == []


def test_what_nobody_measured_is_told_without_a_picture(store: FabricatedStore) -> None:
    """The table stands in sight instead."""
    judged(store, "c1", ALIKE, "undecided", half=None)
    store.run("update verdicts set measured = null, verdict = 'undecided'")
    part = parse(pooled_section(read_findings(store), METRIC))
    assert not part.all("figure")
    assert len(part.all("tbody")[0].all("tr")) == 1
    assert "Vehicles leave open what the drivetrain does: c1." in part.text


def test_the_table_tells_how_much_vehicles_differ(store: FabricatedStore) -> None:
    """Spread, and how often vehicles that are alike would differ as much."""
    judged(
        store, "c1", APART, "undecided", spread=0.04, q_p=0.003, odd_vehicle="tern", odd_by=-0.075,
        left_out=1,
    )  # fmt: skip
    part = parse(pooled_section(read_findings(store), METRIC))
    cells = [
        cell.text.replace("\u00a0", " ").strip()
        for cell in part.all("tbody")[0].all("tr")[0].children
    ]
    assert cells[1:3] == ["undecided", "3 of 4"]
    assert cells[4:7] == ["4.0 %", "< 1 %", "tern"]


@pytest.mark.parametrize(
    "hostile",
    [
        *HOSTILE,
        "all together\u00a0",
        "all together",
    ],
)
def test_hostile_names_are_text(store: FabricatedStore, hostile: str) -> None:
    """Of vehicle and claim: neither markup, nor somebody else's line."""
    judged(
        store, hostile, {"heron": 5.4, "otter": 5.41, hostile: 5.0}, "undecided",
        odd_vehicle=hostile, odd_by=-0.075,
    )  # fmt: skip
    written = pooled_section(read_findings(store), METRIC)
    page = parse(written)
    assert {one.attributes.get("type") for one in page.all("script")} == {"application/json"}
    assert not page.all("img")
    (figure,) = page.all("figure")
    assert not set(figure.text) & set("\x07\x1b\u202e\u2066")
    assert len(drawn(store)) == 4


def page(store: FabricatedStore) -> str:
    """Return the text of the part."""
    return parse(pooled_section(read_findings(store), METRIC)).text
