"""The page on paper: what is printed, how wide charts are, what is said of the rest."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from ridelab.report.palette import PALETTE
from tests.report.test_browser import rgb

if TYPE_CHECKING:
    from pathlib import Path

    from tests.report.browser import Browser

#: Of an A4 page between margins of 15 mm, at 96 px an inch.
PAPER_PX = 680
SEEN = (
    "return [...document.querySelectorAll(arguments[0])]"
    ".filter((one) => one.checkVisibility()).length"
)
BREAKS = "return getComputedStyle(document.querySelector(arguments[0])).breakInside"


def test_paper_carries_no_navigation(browser: Browser, page_path: Path) -> None:
    """Printed, tables fit the width of a page, nothing scrolls, and no link asks to be clicked."""
    browser.open(page_path, width=PAPER_PX, media="print")
    assert browser.run(SEEN, "nav, .skip, .here, button, .behind") == 0
    overflow = "return getComputedStyle(document.querySelector('.scroll')).overflowX"
    assert browser.run(overflow) == "visible"
    assert browser.run("return document.documentElement.scrollWidth") <= PAPER_PX


def test_what_is_folded_away_is_said_to_be_left_out(browser: Browser, page_path: Path) -> None:
    """Once for all tables behind charts; of all else the line that unfolds it says so."""
    browser.open(page_path, media="print")
    assert browser.run(SEEN, ".on-paper-only") == 1
    folds = browser.run(SEEN, "details")
    assert folds > 3
    said = browser.run(
        "return [...document.querySelectorAll('details:not(.behind) > summary')]"
        ".map((one) => getComputedStyle(one, '::after').content)"
    )
    assert len(said) == folds
    assert all("left out here" in one for one in said)
    browser.open(page_path)
    assert browser.run(SEEN, ".on-paper-only") == 0


def test_what_is_unfolded_is_printed(browser: Browser, page_path: Path, tmp_path: Path) -> None:
    """One button unfolds everything, by keyboard, too: more pages; a second time folds it away."""
    browser.open(page_path)
    browser.paper(tmp_path / "folded.pdf")
    browser.run("document.getElementById('unfold').focus()")
    browser.press("\n")
    browser.wait_for("return window.READY === document.querySelectorAll('figure').length")
    assert browser.run("return document.querySelectorAll('details:not([open])').length") == 0
    browser.paper(tmp_path / "unfolded.pdf")
    assert pages(tmp_path / "unfolded.pdf") > 1.5 * pages(tmp_path / "folded.pdf")
    browser.press("\n")
    assert browser.run("return document.querySelectorAll('details[open]').length") == 0


@pytest.mark.parametrize("width", [360, 1200])
def test_charts_are_drawn_as_wide_as_paper(browser: Browser, page_path: Path, width: int) -> None:
    """Not shrunk or stretched with their letters, whatever the screen; as before on screen."""
    browser.open(page_path, width=width)
    drawn = (
        "return [...document.querySelectorAll('.chart svg')].filter((one) => one.checkVisibility())"
        ".map((one) => Number(one.getAttribute('width')))"
    )
    before = browser.run(drawn)
    browser.run("window.dispatchEvent(new Event('beforeprint'))")
    assert {round(one) for one in browser.run(drawn)} == {PAPER_PX}
    browser.run("window.dispatchEvent(new Event('afterprint'))")
    assert browser.run(drawn) == before


@pytest.mark.parametrize("whole", ["figure", "tr", ".answers li"])
def test_nothing_is_cut_in_two(browser: Browser, page_path: Path, whole: str) -> None:
    """A chart, a row, an answer stands on one page."""
    browser.open(page_path, media="print")
    assert browser.run(BREAKS, whole) == "avoid"


def test_paper_is_light_whatever_the_screen_is(browser: Browser, page_path: Path) -> None:
    """Printed from a dark screen, neither ground nor charts are dark."""
    browser.open(page_path, theme="dark", media="print")
    ground = "return getComputedStyle(document.body).backgroundColor"
    assert browser.run(ground) == rgb(PALETTE["page"][0])
    ink = "return getComputedStyle(document.querySelector('.chart svg text')).fill"
    assert browser.run(ink) in {rgb(light) for light, _ in PALETTE.values()}


def pages(file: Path) -> int:
    """Return the number of pages of a PDF, as its own tree of pages counts them."""
    return file.read_bytes().count(b"/Type /Page\n")
