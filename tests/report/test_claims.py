"""The table of claims: claims in words, figures in the units of their kind."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import polars as pl
import pytest

from ridelab.report.claims import (
    claim_in_words,
    claims_table,
    contradictions,
    measured,
    of_claims,
    tally,
    tolerance,
)
from ridelab.report.digits import Printer
from ridelab.report.findings import read_findings
from ridelab.report.first_screen import claims_section
from ridelab.report.markup import NOTHING
from tests.report import fabricated
from tests.report.judged import fleet, pooled
from tests.report.parsed import parse

if TYPE_CHECKING:
    from tests.report.fabricated import FabricatedStore

NOTHING_SAID = {"gear": None, "which": None, "at_cadence_rpm": None}


@pytest.mark.parametrize(
    ("claim", "words"),
    [
        ({"quantity": "range"}, "range"),
        ({"quantity": "gears"}, "number of distinct gears"),
        ({"quantity": "ratio", "gear": "7"}, "ratio of gear 7"),
        ({"quantity": "development", "gear": "highest"}, "development of the highest gear"),
        (
            {"quantity": "speed", "gear": "lowest", "at_cadence_rpm": 60.0},
            "speed in the lowest gear at 60\N{NO-BREAK SPACE}rpm",
        ),
        ({"quantity": "step"}, "mean step"),
        ({"quantity": "step", "which": "largest"}, "largest step"),
        ({"quantity": "step", "gear": "4"}, "step from the gear below to gear 4"),
    ],
)
def test_a_claim_reads_as_a_person_would_say_it(claim: dict[str, Any], words: str) -> None:
    """Each quantity of a campaign file, with what it names."""
    assert claim_in_words(NOTHING_SAID | claim) == words


@pytest.mark.parametrize(
    ("quantity", "figures", "shown"),
    [
        ("range", (5.388, 5.37, 5.406), "539 % (537 to 541 %)"),
        ("gears", (8.0, 8.0, 9.0), "8 (8 to 9)"),
        ("gears", (9.0, 9.0, 9.0), "9"),
        ("step", (0.1362, 0.1302, 0.1422), "13.6 % (13.0 to 14.2 %)"),
        ("speed", (10.0, 9.8, 10.2), "36.0 km/h (35.3 to 36.7 km/h)"),
        ("ratio", (None, None, None), "–"),
    ],
)
def test_what_was_measured_is_shown_in_the_unit_of_its_kind(
    quantity: str, figures: tuple[float | None, ...], shown: str
) -> None:
    """Ten metres a second are 36 km/h."""
    names = ("measured", "measured_low", "measured_high")
    row = {"quantity": quantity} | dict(zip(names, figures, strict=True))
    assert measured(row, Printer("metric")).replace("\u00a0", " ") == shown


@pytest.mark.parametrize(
    ("quantity", "value", "allowed", "shown"),
    [
        ("range", 5.26, 0.02, "± 2 %"),
        ("gears", 14, 0.5 / 14, "exact"),
        ("gears", 60, 0.05, "± 5 %"),
    ],
)
def test_tolerance(quantity: str, value: float, allowed: float, shown: str) -> None:
    """Half a gear more or less is no tolerance."""
    row = {"quantity": quantity, "value": value, "tolerance": allowed}
    assert tolerance(row).replace("\u00a0", " ") == shown


def test_what_fails_comes_first(store: FabricatedStore) -> None:
    """Then what is undecided, holds, and cannot be tested; the tally counts the same."""
    verdicts = read_findings(store).verdicts
    assert verdicts["verdict"].to_list() == ["fails", "undecided", "holds", "untestable"]
    assert tally(verdicts) == "1 fails, 1 undecided, 1 holds, 1 untestable"


def test_claims_are_counted_in_words() -> None:
    """Each word once, worst first, one alone in the singular."""
    said = of_claims(["holds", "fails", "undecided", "holds", "untestable", "undecided"])
    assert said == "Of 6 claims 1 fails, 2 are undecided, 2 hold, 1 is untestable"
    assert of_claims(["holds"]) == "Of 1 claim 1 holds"


def test_heading_counts_claims_and_not_vehicles() -> None:
    """As the terminal does; how many verdicts stand below is said where they are more."""
    store = fleet()
    pooled(store, "c1", "range", "undecided", vehicles=2, each={"heron": "holds", "tern": "fails"})
    section = claims_section(read_findings(store), Printer("metric"))
    said = parse(section).text.replace("\u00a0", " ")
    assert "Of 1 claim 1 is undecided" in parse(section).all("h2")[0].text
    assert "2 verdicts on single vehicles: 1 fails, 1 holds." in said
    alone = fleet()
    pooled(alone, "c1", "range", "holds")
    assert "on single vehicles" not in claims_section(read_findings(alone), Printer("metric"))


def test_a_verdict_is_a_word_with_a_sign(store: FabricatedStore) -> None:
    """Its meaning stands in the word; the sign is not read out."""
    page = parse(claims_table(read_findings(store).verdicts, Printer("metric")))
    cells = [row.all("td")[0] for row in page.all("tr")[1:]]
    assert [cell.all("span")[0].text.strip() for cell in cells] == [
        "fails", "undecided", "holds", "untestable",
    ]  # fmt: skip
    assert all(cell.all("svg")[0].attributes["aria-hidden"] == "true" for cell in cells)
    assert len({cell.all("path")[0].attributes["d"] for cell in cells}) == 4


def test_a_claim_on_a_drivetrain_that_nobody_rode_has_no_vehicle() -> None:
    """It is told all the same."""
    store = fabricated.FabricatedStore()
    fabricated.claim(store, "c1", {"verdict": "undecided", "vehicle": None})
    page = parse(claims_table(read_findings(store).verdicts, Printer("metric")))
    assert "none" in page.all("tr")[1].text
    assert [one.attributes["href"] for one in page.all("a")] == ["#claim-c1"]


def test_a_claim_is_told_once_a_vehicle() -> None:
    """Also where the relation lists the claim for each vehicle."""
    store = fabricated.FabricatedStore()
    fabricated.claim(store, "c1", {"verdict": "holds"})
    store.run("insert into claims select * from claims")
    assert len(read_findings(store).verdicts) == 1


def test_contradictions_on_paper_stand_above_the_verdicts() -> None:
    """Each in a sentence; other problems are told elsewhere."""
    problems = pl.DataFrame(
        {"stage": ["paper", "read"], "message": ["c1 <b> stands for 5", "a damaged file"]}
    )
    told = str(contradictions(problems))
    assert "c1 &lt;b&gt; stands for 5" in told
    assert "damaged" not in told
    assert contradictions(problems.tail(1)) == NOTHING


@pytest.mark.parametrize(
    ("printed", "shown"), [("28 mph", "27.6 mph (27.5 to 27.7 mph)"), ("44 km/h", "44.4 km/h")]
)
def test_what_was_measured_stands_in_the_unit_of_the_claim(printed: str, shown: str) -> None:
    """12.34 m/s are 27.6 mph and 44.4 km/h, whatever the campaign's own units."""
    row = {"quantity": "speed", "printed": printed, "measured": 12.34}
    row |= {"measured_low": 12.29, "measured_high": 12.39}
    for printer in (Printer("metric"), Printer("imperial")):
        assert measured(row, printer).replace("\u00a0", " ").startswith(shown)
