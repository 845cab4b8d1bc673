"""The page as written: whole, offline, in order, and the same every time."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import TYPE_CHECKING

import pytest

from ridelab.report import illustrate, write_report
from ridelab.report.closing import set_aside_section
from ridelab.report.findings import read_findings
from ridelab.report.runtime import chart_runtime
from tests.report import fabricated
from tests.report.conftest import TITLE
from tests.report.parsed import parse

if TYPE_CHECKING:
    from pathlib import Path

    from tests.report.fabricated import FabricatedStore
    from tests.report.parsed import Element


def test_the_page_is_one_file(page_path: Path) -> None:
    """Nothing else is left in the folder, not even the file it was written to first."""
    assert [one.name for one in page_path.parent.iterdir()] == ["index.html"]


def test_the_same_store_gives_the_same_page(
    store: FabricatedStore, page_path: Path, tmp_path: Path
) -> None:
    """No date, no counter, no order that differs: a second run changes nothing."""
    again = write_report(store, tmp_path / "made" / "on the way", TITLE)
    assert again.read_bytes() == page_path.read_bytes()


def test_a_page_that_cannot_be_made_leaves_the_old_one(
    store: FabricatedStore, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Readers see the old page or the new one, never half of one."""
    written = write_report(store, tmp_path, "old")
    before = written.read_bytes()

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("ridelab.report.page.Path.replace", full)
    with pytest.raises(OSError, match="No space left"):
        write_report(store, tmp_path, "new")
    assert written.read_bytes() == before
    assert [one.name for one in tmp_path.iterdir()] == ["index.html"]


def test_the_page_allows_itself_no_network(page: Element) -> None:
    """Its own policy forbids every address, and no element names one."""
    (policy,) = (
        one.attributes["content"]
        for one in page.all("meta")
        if one.attributes.get("http-equiv") == "Content-Security-Policy"
    )
    assert policy.startswith("default-src 'none'")
    assert "connect-src 'none'" in policy
    assert "unsafe-eval" not in policy
    for element in page.everything():
        for attribute in ("src", "href", "action", "srcset"):
            target = element.attributes.get(attribute, "#")
            assert target.startswith(("#", "data:")), element


def test_the_chart_runtime_cannot_end_its_element() -> None:
    """The page puts it into a script element as it is."""
    assert not re.search(r"</script|<!--", chart_runtime(), re.IGNORECASE)


def test_every_link_leads_somewhere(page: Element) -> None:
    """Ids are unique; each vehicle, claim and ride has one to be linked to."""
    ids = [one.attributes["id"] for one in page.everything() if "id" in one.attributes]
    assert len(ids) == len(set(ids))
    assert {one.attributes["href"][1:] for one in page.all("a")} <= set(ids)
    kinds = [one.partition("-")[0] for one in ids]
    assert [kinds.count(kind) for kind in ("vehicle", "claim", "ride")] == [5, 4, 6]


def test_the_page_has_every_illustration_and_no_other(
    store: FabricatedStore, page: Element
) -> None:
    """A chart that is in the page and not in the list would be missing where charts are asked for.

    Each is named by its vehicle and what it shows.
    """
    drawn = [one.attributes["id"] for one in page.all("figure")]
    listed = [one.id for one in illustrate(store)]
    assert len(listed) == len(set(listed))
    assert sorted(drawn) == sorted(listed)
    assert {"chart-claims", "chart-heron.residuals-by-speed", "chart-tern.ladder"} <= set(drawn)


def test_headings_follow_each_other(page: Element) -> None:
    """One first heading, and no level is left out on the way down."""
    levels = [int(one.tag[1]) for one in page.everything() if re.fullmatch("h[1-6]", one.tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(deeper - above <= 1 for above, deeper in pairwise(levels))


def test_the_answer_comes_first(page: Element) -> None:
    """Answer, claims, ladders, use, evidence, what was set aside, meaning: in this order."""
    (main,) = page.all("main")
    sections = [one.attributes["id"] for one in main.children if one.tag == "section"]
    assert sections == [
        "answer", "claims", "vehicles", "use", "evidence", "shifts", "set-aside", "meaning",
    ]  # fmt: skip
    header = main.children[0]
    assert header.all("h1")[0].text == TITLE
    said = header.all("p")[0].text.replace("\u00a0", " ")
    assert said == "5 vehicles, 6 rides, 43.8 km, 2 h 00 min recorded. 1 file was set aside."


def test_every_table_is_named(page: Element) -> None:
    """A caption, and heads that say which way they point."""
    tables = page.all("table")
    assert len(tables) > 10
    for table in tables:
        assert table.all("caption")[0].text
        assert all(head.attributes["scope"] in {"col", "row"} for head in table.all("th"))


def test_every_chart_has_its_words_and_its_table(page: Element) -> None:
    """A sentence that says what to see; the figures in a table of the same section or fold."""
    for figure in page.all("figure"):
        assert len(figure.all("figcaption")[0].text) > 40
        around = figure.parent
        while around is not None and not around.all("table"):
            around = around.parent
        assert around is not None
        assert around.tag in {"section", "details"}


def test_a_ladder_shows_what_departs_and_what_was_not_ridden(page: Element) -> None:
    """In words, with the digits that the intervals support."""
    (section,) = (one for one in page.all("section") if one.attributes["id"] == "vehicle-heron")
    rows = [[" ".join(cell.text.split()) for cell in row.children] for row in section.all("tr")[1:]]
    assert rows[3][:4] == ["4", "1.387", "1.419 ± 0.004", "+2.3 ± 0.3 departs"]
    assert rows[8][:3] == ["9", "3.960", "not ridden long enough"]


def test_a_campaign_without_claims_has_no_verdicts() -> None:
    """Nor a link to them."""
    store = fabricated.FabricatedStore()
    fabricated.vehicle(store, "tern")
    fabricated.ride(store, "tern", 1, {1: 1.0, 2: 1.3})
    page = _page(store)
    assert "claims" not in [one.attributes.get("id") for one in page.everything()]
    assert "What was set aside" in page.text
    assert "every file that was named could be used" in page.text


def test_an_empty_store_makes_a_page() -> None:
    """It says that there is nothing to tell."""
    page = _page(fabricated.FabricatedStore())
    assert "nothing to tell" in page.text
    assert page.all("figure") == []


def test_many_remarks_are_folded_away() -> None:
    """What was set aside stays in sight; remarks can be unfolded."""
    store = fabricated.FabricatedStore()
    for number in range(40):
        remark = {"path": f"{number}.fit", "stage": "read", "severity": "note", "message": "odd"}
        store.add("problems", remark)
    store.add(
        "problems", {"path": "a.fit", "stage": "read", "severity": "error", "message": "empty"}
    )
    section = parse(set_aside_section(read_findings(store)))
    (fold,) = section.all("details")
    assert len(fold.all("tr")) == 41
    assert "a.fit" not in fold.text
    assert "a.fit" in section.text


def test_units_reach_every_table_and_chart(store: FabricatedStore, tmp_path: Path) -> None:
    """In an imperial page no metre, kilometre or kilometre an hour is left in heads and titles."""
    page = parse(write_report(store, tmp_path, TITLE, "imperial").read_text("utf-8"))
    heads = {head.text for table in page.all("table") for head in table.all("th")}
    assert {"Development, ft", "Distance, mi", "Shifts per mi"} <= heads
    assert not [head for head in heads if head.endswith((", m", ", km", "per km"))]
    specs = [one.text for one in page.all("script") if one.attributes.get("type")]
    assert not [spec for spec in specs if "m a crank turn" in spec]


def _page(store: FabricatedStore) -> Element:
    from ridelab.report.digits import Printer
    from ridelab.report.page import render

    return parse(render(read_findings(store), TITLE, Printer("metric")))


def test_many_vehicles_have_an_index(tmp_path: Path) -> None:
    """Eight of them cannot be found by scrolling; of five a list stands in sight anyway."""
    store = fabricated.FabricatedStore()
    for number in range(8):
        fabricated.vehicle(store, f"wader-{number}", "nine")
    many = parse(write_report(store, tmp_path, TITLE).read_text("utf-8"))
    (index,) = [one for one in many.all("nav") if one.attributes["aria-label"] == "Vehicles"]
    assert [one.attributes["href"] for one in index.all("a")] == [
        f"#vehicle-wader-{number}" for number in range(8)
    ]
