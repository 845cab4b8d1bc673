"""The answer in words: what each vehicle's sentences say, and what they leave out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from ridelab.report.answers import first_warnings, headline, rollout, sentences, warnings
from ridelab.report.digits import Printer
from ridelab.report.findings import VehicleFindings, read_findings
from ridelab.report.ladder_table import ladder_table
from tests.report import fabricated
from tests.report.parsed import parse

if TYPE_CHECKING:
    from ridelab.report.markup import Markup
    from tests.report.fabricated import FabricatedStore

METRIC = Printer("metric")


def said(markup: Markup) -> str:
    """Return the text of some markup with ordinary spaces."""
    return parse(markup).text.replace("\u00a0", " ")


def vehicle(store: FabricatedStore, name: str) -> VehicleFindings:
    """Return one vehicle of a store."""
    return next(one for one in read_findings(store).vehicles if one.name == name)


ANSWERS = {
    "heron": """
        Gears 1 to 8, as ridden, span 438 % (95 % interval 436 to 440 %); the whole ladder is
        published as 540 %. 8 of 9 gears were measured; not ridden long enough: gear 9.
        One departs from its published ratio: gear 4 by +2.3 ± 0.3 %.""",
    "otter": """
        Measured from end to end, the range is 527 % (95 % interval 524 to 529 %); published
        as 526 %. All 14 gears were measured. None departs from its published ratio.""",
    "wren": """
        As ridden, the range is 331 % (95 % interval 329 to 333 %); published as 380 %.
        Stepless: there are no gears to count.""",
    "tern": """
        Gears 1 to 3, as ridden, span 185.0 % (95 % interval 184.1 to 186.0 %).
        3 gears were ridden (probability 97 %); of others that it may have the rides do
        not tell.""",
    "mole": "No gear can be named: no ride has both speed and cadence.",
}


@pytest.mark.parametrize("name", ANSWERS)
def test_each_vehicle_is_answered(store: FabricatedStore, name: str) -> None:
    """Ridden in part, in full, stepless, without a published ladder, and not at all."""
    assert said(sentences(vehicle(store, name), METRIC)) == " ".join(ANSWERS[name].split())


@pytest.mark.parametrize(
    ("name", "figure"),
    [
        ("heron", "438 % (gears 1 to 8); published 540 % (all 9)"),
        ("otter", "527 % published 526 %"),
        ("wren", "331 % published 380 %"),
        ("tern", "185.0 %"),
        ("mole", "no range"),
    ],
)
def test_the_large_figure_says_what_it_stands_against(
    store: FabricatedStore, name: str, figure: str
) -> None:
    """A part of a ladder is never shown as if it were the whole."""
    assert said(headline(vehicle(store, name), METRIC)) == figure


def test_a_wrong_wheel_shows_as_a_rollout(store: FabricatedStore) -> None:
    """The rides show 1.5 % less than was stated; without a published ladder they show nothing."""
    heron, tern = (vehicle(store, name) for name in ("heron", "tern"))
    assert said(rollout(heron, METRIC)) == (
        "Effective rollout 1.550 ± 0.002 m a wheel turn, −1.50 % from the nominal 1.574 m."
    )
    alone = said(rollout(tern, METRIC))
    assert "Nominal rollout 2.200 m a wheel turn" in alone
    assert "It may be 2.112 to 2.222 m, and all ratios move with it" in alone
    assert " in a wheel turn" in said(rollout(heron, Printer("imperial")))


def test_most_departures_are_counted_and_the_largest_named() -> None:
    """A ladder that is wrong all over does not make an endless sentence."""
    store = fabricated.FabricatedStore()
    fabricated.vehicle(store, "heron", "nine")
    fabricated.published(store, "nine", fabricated.NINE)
    wrong = {n: ratio * (1 + 0.01 * n) for n, ratio in enumerate(fabricated.NINE, 1)}
    fabricated.measured(store, "heron", wrong, fabricated.NINE)
    words = said(sentences(vehicle(store, "heron"), METRIC))
    assert "9 depart from their published ratios: gear 9 by +9.0 ± 0.3 %, gear 8" in words
    assert words.endswith(", 6 others by less.")


def test_a_vehicle_that_was_not_ridden_says_so() -> None:
    """Nothing is claimed of a vehicle without a ride."""
    store = fabricated.FabricatedStore()
    fabricated.vehicle(store, "heron", "nine")
    fabricated.published(store, "nine", fabricated.NINE)
    assert said(sentences(vehicle(store, "heron"), METRIC)) == (
        "None of 9 published gears could be measured. No ride of it was read."
    )


def test_reasons_are_those_that_measuring_gave() -> None:
    """Not what reading found odd; and what the sentence says already is not said twice."""
    store = fabricated.FabricatedStore()
    fabricated.vehicle(store, "heron")
    fabricated.ride(store, "heron", 1)
    of_ride = {"path": "rides/heron/day-1.fit", "severity": "warning"}
    store.add(
        "problems",
        of_ride | {"stage": "read", "message": "two records at one time"},
        of_ride | {"stage": "measure", "message": "no speed: no gear can be named"},
        of_ride | {"path": "heron", "stage": "measure", "message": "no ride names a gear"},
    )
    assert said(sentences(vehicle(store, "heron"), METRIC)) == "No gear can be named: no speed."


def test_what_casts_doubt_on_a_measured_vehicle_stands_beside_its_answer() -> None:
    """A wheel that rolls too far is told where its figures are, not only at the end."""
    store = fabricated.FabricatedStore()
    fabricated.vehicle(store, "heron")
    fabricated.measured(store, "heron", {1: 1.0, 2: 1.3})
    fabricated.span(store, "heron", 1.3, (1, 2))
    doubt = {"path": "heron", "stage": "measure", "message": "check the <tyre>"}
    store.add("problems", doubt | {"severity": "warning"}, doubt | {"severity": "note"})
    heron = vehicle(store, "heron")
    assert " ".join(said(warnings(heron)).split()) == "in doubt: check the <tyre>"
    assert said(headline(heron, METRIC)).split() == ["130.0", "%", "in", "doubt"]


def test_a_ride_without_gears_says_nothing_against_the_others() -> None:
    """A ride that disagrees with them does; what only reading found odd does not."""
    store = fabricated.FabricatedStore()
    fabricated.vehicle(store, "heron")
    fabricated.measured(store, "heron", {1: 1.0, 2: 1.3})
    fabricated.ride(store, "heron", 1)
    of_ride = {"path": "rides/heron/day-1.fit", "severity": "warning", "vehicle": "heron"}
    store.add(
        "problems",
        of_ride | {"stage": "measure", "message": "no cadence: no gear can be named"},
        of_ride | {"stage": "read", "message": "12 records went back in time"},
    )
    assert said(warnings(vehicle(store, "heron"))) == ""
    store.add("problems", of_ride | {"stage": "measure", "message": "its speeds are +3.0 % off"})
    shown = " ".join(said(warnings(vehicle(store, "heron"))).split())
    assert shown == "in doubt: rides/heron/day-1.fit: its speeds are +3.0 % off"


def test_many_doubts_do_not_push_the_other_answers_off_the_first_screen() -> None:
    """Three of them stand there, the others behind a link to where all stand."""
    store = fabricated.FabricatedStore()
    fabricated.vehicle(store, "heron")
    fabricated.measured(store, "heron", {1: 1.0, 2: 1.3})
    doubt = {"path": "heron", "stage": "measure", "severity": "warning"}
    store.add("problems", *(doubt | {"message": f"doubt {number}"} for number in range(5)))
    heron = vehicle(store, "heron")
    shown = parse(first_warnings(heron))
    assert [one.text.strip() for one in shown.all("p")][-1] == "and 2\N{NO-BREAK SPACE}more reasons"
    assert len(shown.all("p")) == 4
    assert shown.all("a")[0].attributes["href"] == "#vehicle-heron"
    assert len(parse(warnings(heron)).all("p")) == 5


def test_gears_outside_the_published_ladder_are_not_counted_among_its_own() -> None:
    """A tenth gear of nine is told as what it is, in the sentence and in the table."""
    store = fabricated.FabricatedStore()
    fabricated.vehicle(store, "heron", "nine")
    fabricated.published(store, "nine", fabricated.NINE)
    fabricated.measured(store, "heron", {1: 0.7333, 2: 0.9067}, fabricated.NINE)
    fabricated.measured(store, "heron", {10: 5.0})
    store.run("update measured_gears set label = 'outside the published ladder' where gear = 10")
    heron = vehicle(store, "heron")
    assert said(sentences(heron, METRIC)).startswith(
        "2 of 9 gears were measured; not ridden long enough: gears 3 to 9; "
        "ridden outside the published ladder: gear 10."
    )
    rows = parse(ladder_table(heron, METRIC)).all("tr")
    assert "outside the published ladder" in rows[10].text
    assert "not ridden" not in rows[10].text


def test_reasons_that_reading_gave_count_where_measuring_did_not_repeat_them() -> None:
    """One fact stands in one row of ``problems``, and is the reason all the same."""
    store = fabricated.FabricatedStore()
    fabricated.vehicle(store, "heron")
    fabricated.ride(store, "heron", 1)
    store.add(
        "problems",
        {"path": "rides/heron/day-1.fit", "severity": "warning", "stage": "read",
         "message": "no cadence: no gear can be named"},
        {"path": "heron", "severity": "warning", "stage": "measure", "vehicle": "heron",
         "message": "no ride of this vehicle names a gear"},
    )  # fmt: skip
    assert said(sentences(vehicle(store, "heron"), METRIC)) == "No gear can be named: no cadence."
