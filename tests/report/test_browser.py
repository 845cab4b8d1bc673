"""The page in a real browser: what is drawn, what is asked for, what hostile names do."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from selenium.webdriver.common.keys import Keys

from ridelab.report import write_report
from ridelab.report.palette import PALETTE
from tests.report import fabricated
from tests.report.hostile import HOSTILE

if TYPE_CHECKING:
    from pathlib import Path

    from tests.report.browser import Browser

DRAWN = """
const marks = '.mark-symbol path, .mark-area path, .mark-rect path, .mark-rule line';
return [...document.querySelectorAll('figure')].map((figure) => {
  const charts = figure.querySelectorAll('[role=graphics-document]');
  const words = charts[0].getAttribute('aria-label') || '';
  return [charts.length, figure.querySelectorAll(marks).length, words.length];
});
"""
COLOURS_USED = """
const marks = [...document.querySelectorAll('.chart svg *')];
const painted = (mark, paint) => mark.getAttribute(paint) && getComputedStyle(mark)[paint];
const colours = marks.flatMap((mark) => ['fill', 'stroke'].map((paint) => painted(mark, paint)));
return [...new Set(colours)].filter((colour) => colour && colour !== 'none');
"""


def rgb(colour: str) -> str:
    """Return a colour as a browser names it."""
    red, green, blue = (int(colour[place : place + 2], 16) for place in (1, 3, 5))
    return f"rgb({red}, {green}, {blue})"


def test_every_chart_is_drawn(browser: Browser, page_path: Path) -> None:
    """Each figure holds one drawing that has marks and says in words what it shows."""
    browser.open(page_path)
    browser.unfold()
    drawn = browser.run(DRAWN)
    assert len(drawn) == browser.run("return window.READY")
    assert len(drawn) > 10
    assert all(charts == 1 and marks > 0 and words > 10 for charts, marks, words in drawn)


def test_nothing_is_fetched_and_nothing_fails(browser: Browser, page_path: Path) -> None:
    """The only addresses asked for are the file itself and data in it; the console stays empty."""
    browser.open(page_path)
    browser.unfold()
    foreign = [
        url for url in browser.requested() if not url.startswith(("file:", "data:", "about:"))
    ]
    assert foreign == []
    assert browser.complaints() == []


def test_marks_say_what_they_show(browser: Browser, page_path: Path) -> None:
    """A gear's mark can be read out with its departure and the digits of the table."""
    browser.open(page_path)
    labels = browser.run(
        "return [...document.querySelectorAll('#vehicle-heron .mark-symbol path[aria-label]')]"
        ".map((mark) => mark.getAttribute('aria-label'))"
    )
    assert "gear 4: departs, +2.3 ± 0.3 %" in [label.replace("\u00a0", " ") for label in labels]


@pytest.mark.parametrize(("theme", "width"), [("light", 1200), ("dark", 400)])
def test_no_barrier_of_levels_a_and_aa(
    browser: Browser, page_path: Path, theme: str, width: int
) -> None:
    """By the rules of axe-core for WCAG 2.0 and 2.1, all that is folded open."""
    browser.open(page_path, width=width, theme=theme)
    browser.unfold()
    assert browser.barriers() == []


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_charts_follow_the_theme(browser: Browser, page_path: Path, theme: str) -> None:
    """All that charts paint is of the palette's colours for the theme in use."""
    browser.open(page_path, theme=theme)
    browser.unfold()
    ours = {rgb(pair[theme == "dark"]) for pair in PALETTE.values()}
    unanswered = set(browser.run(COLOURS_USED)) - ours - {"rgba(0, 0, 0, 0)"}
    assert unanswered == set()


@pytest.mark.parametrize("width", [320, 400, 1200])
def test_page_is_no_wider_than_the_screen(browser: Browser, page_path: Path, width: int) -> None:
    """Tables scroll in their own boxes; 320 px is the width of WCAG 2.2, criterion 1.4.10."""
    browser.open(page_path, width=width)
    assert browser.run("return document.documentElement.scrollWidth") <= width
    browser.unfold()
    assert browser.run("return document.documentElement.scrollWidth") <= width


def test_a_folded_chart_is_drawn_once_it_is_unfolded(browser: Browser, page_path: Path) -> None:
    """As wide as the page is then, not as narrow as a folded box."""
    browser.open(page_path, width=600)
    folded = "return [...document.querySelectorAll('details .chart')]"
    assert set(browser.run(f"{folded}.map((one) => one.childElementCount)")) == {0}
    browser.unfold()
    widths = browser.run(f"{folded}.map((one) => one.querySelector('svg').clientWidth)")
    assert min(widths) > 500


def test_an_unfolded_chart_follows_the_width_of_the_page(browser: Browser, page_path: Path) -> None:
    """Also where the page grew narrower while it was folded away again."""
    browser.open(page_path, width=900)
    browser.unfold()
    fold = "document.querySelectorAll('details').forEach((one) => { one.open = %s; })"
    browser.run(fold % "false")
    browser.resize(420)
    browser.run(fold % "true")
    browser.wait_for(
        "return [...document.querySelectorAll('details .chart svg')]"
        ".every((one) => one.clientWidth > 300 && one.clientWidth < 420)"
    )


def test_claims_are_three_lines_at_most_on_a_wide_screen(browser: Browser, page_path: Path) -> None:
    """And the table needs no sideways scrolling there."""
    browser.open(page_path)
    lines = browser.run(
        "return [...document.querySelectorAll('#claims tbody tr')].map((row) =>"
        " row.clientHeight / parseFloat(getComputedStyle(row).lineHeight))"
    )
    assert len(lines) == 4
    assert max(lines) < 4
    box = "const box = document.querySelector('#claims .scroll');"
    assert browser.run(f"{box} return box.scrollWidth - box.clientWidth") <= 0


def test_claims_are_cards_on_a_phone(browser: Browser, page_path: Path) -> None:
    """Measured value and reason of every claim lie within a screen of 400 px; values say which."""
    browser.open(page_path, width=400)
    right = browser.run(
        "return [...document.querySelectorAll('#claims tbody td')]"
        ".map((cell) => cell.getBoundingClientRect().right)"
    )
    assert len(right) == 20
    assert max(right) <= 400
    heads = browser.run(
        "return [...document.querySelectorAll('#claims tbody tr:first-child td.number')]"
        ".map((cell) => getComputedStyle(cell, '::before').content)"
    )
    assert len(heads) == 2
    assert "Published" in heads[0]
    assert "Measured" in heads[1]


def test_keyboard_reaches_links_boxes_and_folds(browser: Browser, page_path: Path) -> None:
    """The skip link comes first; every box that scrolls and every fold can be focused."""
    browser.open(page_path, width=400)
    order = browser.run(
        "return [...document.querySelectorAll('a, .scroll, summary')]"
        ".filter((one) => one.checkVisibility() && one.tabIndex >= 0)"
        ".map((one) => one.className || one.tagName)"
    )
    assert order[0] == "skip"
    stuck = browser.run(
        "return [...document.querySelectorAll('.scroll')]"
        ".filter((box) => box.scrollWidth > box.clientWidth && box.tabIndex < 0).length"
    )
    assert stuck == 0
    assert "SUMMARY" in order


def test_wide_tables_are_scrolled_with_arrow_keys(browser: Browser, page_path: Path) -> None:
    """Each that is wider than a phone, all that is folded open; and what is focused is marked."""
    browser.open(page_path, width=360)
    browser.unfold()
    wide = browser.run(
        "return [...document.querySelectorAll('.scroll')]"
        ".filter((box) => box.scrollWidth > box.clientWidth + 40).map((box) => box.ariaLabel)"
    )
    assert len(wide) > 10
    focused = "return document.activeElement"
    for label in wide[:3] + wide[-3:]:
        browser.run(
            "[...document.querySelectorAll('.scroll')]"
            ".find((box) => box.ariaLabel === arguments[0]).focus()",
            label,
        )
        browser.press(Keys.ARROW_RIGHT, Keys.ARROW_RIGHT)
        browser.wait_for(f"{focused}.scrollLeft > 0")
        assert browser.run("return getComputedStyle(document.activeElement).outlineStyle") != "none"


def test_hostile_names_are_text(browser: Browser, tmp_path: Path) -> None:
    """Names of vehicles, files and campaigns never become markup or script, in page or chart."""
    store = fabricated.FabricatedStore()
    for number, name in enumerate(HOSTILE):
        fabricated.vehicle(store, name, name)
        fabricated.published(store, name, fabricated.NINE)
        fabricated.measured(store, name, dict(enumerate(fabricated.NINE, 1)), fabricated.NINE)
        fabricated.ride(store, name, number, {1: 1.0, 2: 1.4}, path=f"rides/{name}")
        verdict = {"verdict": "holds", "vehicle": name, "reason": name, "measured": 5.4}
        interval = {"measured_low": 5.39, "measured_high": 5.41}
        claimed = {"drivetrain": name, "source": name, "printed": name}
        fabricated.claim(store, name, verdict | interval, **claimed)
        problem = {"path": name, "stage": name, "severity": "error", "message": name}
        store.add("problems", problem)
    written = write_report(store, tmp_path, HOSTILE[0])
    browser.open(written)
    assert browser.complaints() == []
    assert browser.run("return window.BROKEN") is None
    assert browser.run("return document.querySelectorAll('img, script').length") == 2 + browser.run(
        "return document.querySelectorAll('figure').length"
    )
    assert browser.run("return document.querySelector('h1').textContent") == HOSTILE[0]
    browser.unfold()
    assert browser.complaints() == []
    assert browser.run("return window.BROKEN") is None
    shown = browser.run(
        "return [...document.querySelectorAll('#vehicles h3 bdi')].map((h) => h.textContent)"
    )
    assert shown[:3] == list(HOSTILE[:3])
    browser.open(written, width=400)
    assert browser.run("return document.documentElement.scrollWidth") <= 400
