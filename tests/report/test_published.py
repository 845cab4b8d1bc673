"""The claims as a document to publish."""

from __future__ import annotations

from ridelab.report.published import claims_document
from tests.report.fabricated import harbour
from tests.report.judged import fleet, pooled


def cells(document: str, first: str) -> list[list[str]]:
    """The cells of every line of a table that begins so."""
    return [
        [cell.strip() for cell in line.strip("|").split(" | ")]
        for line in document.splitlines()
        if line.startswith(f"| {first}")
    ]


def test_each_claim_has_a_row_with_its_figure_and_verdict() -> None:
    """Published value and tolerance, measured value and interval, verdict, why."""
    store = fleet()
    pooled(store, "c1", "range", "holds")
    document = claims_document(store, "Harbour")
    assert document.startswith("# Harbour: claims and what rides say of them\n\n1 claim: 1 holds.")
    ((claim, drivetrain, published, measured, verdict, vehicles, why),) = cells(document, "c1")
    assert (claim, drivetrain) == ("c1: range (leaflet)", "nine")
    assert published.startswith("540 % ±")
    assert measured == "538 % (536 to 540 %)"
    assert (verdict, vehicles) == ("**holds**", "1")
    assert why == "within 2 % of the claim, uncertainty included"


def test_method_limits_and_what_was_ridden_are_stated() -> None:
    """Decision rule, error rates, the wheel's uncertainty, rides, hours and way."""
    document = claims_document(harbour(), "Harbour")
    for said in (
        "two one-sided tests at 2.5 % each",
        "any is judged wrongly in 2.5 % of cases at most",
        "−4 to +1 % of a nominal rollout (heron, otter",
    ):
        assert said in document
    ridden = {row[0]: row for row in cells(document, "heron")}["heron"]
    assert ridden[1:4] == ["trike", "nine", "2"]


def test_pooling_is_explained_where_it_was_done() -> None:
    """And the vehicles stand one by one below."""
    store = fleet()
    pooled(store, "c1", "range", "holds")
    assert "random-effects" not in claims_document(store, "Harbour")
    pooled(store, "c2", "range", "holds", vehicles=2, each={"heron": "holds", "otter": "holds"})
    document = claims_document(store, "Harbour")
    assert "random-effects mean" in document
    assert [row[1] for row in cells(document.partition("## Each vehicle")[2], "c2")] == [
        "heron",
        "otter",
    ]


def test_nothing_that_a_campaign_says_becomes_markup() -> None:
    """Bars, tags, links, emphasis and line ends of names and sources are text."""
    store = fleet()
    pooled(store, "c1", "range", "holds", source="<b>a|b</b> [x](y) *z*\nnext")
    document = claims_document(store, "Har|bour <script>")
    assert r"\<b\>a\|b\</b\> \[x\](y) \*z\* next" in document
    assert r"# Har\|bour \<script\>: claims" in document


def test_nobody_learns_where_and_when_was_ridden() -> None:
    """No path, no date, no device of any ride."""
    store = harbour()
    rides = store.frame("rides")
    document = claims_document(store, "Harbour")
    assert not [path for path in rides["path"] if path in document]
    assert str(rides["started_at"].dt.year().min()) not in document
    assert not [device for device in rides["device"].drop_nulls() if device in document]


def test_no_claim_is_told_so() -> None:
    """Instead of an empty table."""
    assert claims_document(fleet(), "Harbour").endswith("No claim was judged.\n")


def test_tables_have_as_many_cells_as_heads() -> None:
    """In every row of every table, bars that are text left aside."""
    store = harbour()
    pooled(store, "c9", "noise", "untestable", measured=None, source="a|b")
    lines = claims_document(store, "Harbour").splitlines()
    tables: list[list[int]] = [[]]
    for line in lines:
        if line.startswith("|"):
            tables[-1].append(line.replace(r"\|", "").count("|"))
        elif tables[-1]:
            tables.append([])
    assert all(len(set(table)) == 1 for table in tables if table)


def test_mean_that_says_less_than_its_vehicles_stands_in_the_method() -> None:
    """Beside "holds" stands what vehicles came to; 520 to 560 % is more than 540 ± 2 %."""
    store = fleet()
    pooled(store, "c1", "range", "holds", vehicles=2, each={"heron": "holds", "otter": "holds"})
    store.run("update verdicts set measured = 5.42 where vehicle = 'otter'")
    store.run("update pooled_claims set measured = 5.4, measured_low = 5.2, measured_high = 5.6")
    table, _, method = claims_document(store, "Harbour").partition("## Method")
    assert cells(table, "c1")[0][3] == "538 to 542 %"
    assert "(520 to 560 %)" not in table
    assert "The means are: c1 540 % (520 to 560 %)." in method
