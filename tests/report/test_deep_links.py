"""Links into the page, in a real browser: where they lead, what they unfold, who is taken along."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from selenium.webdriver.common.keys import Keys

from ridelab.report import write_report
from ridelab.report.markup import anchor
from tests.report import fabricated

if TYPE_CHECKING:
    from pathlib import Path

    from tests.report.browser import Browser

FOCUSED = "return document.activeElement.id || document.activeElement.parentElement.id"
TOP = "return document.getElementById(arguments[0]).getBoundingClientRect().top"
#: Three rides of the day; only the campaign tells them from those of another.
ODD = ("Heron 2", "heron-2", "reiher & söhne", "\u202eדרור", "x" * 10_000)


def in_sight(browser: Browser, target: str) -> bool:
    """Whether a target begins near the top of the screen, or as near as the page's end allows."""
    browser.wait_for("return scrollY > 0")
    end = "return scrollY + innerHeight >= document.documentElement.scrollHeight - 2"
    top = float(browser.run(TOP, target))
    return 0 <= top < 60 or (bool(browser.run(end)) and 0 <= top < 1000)


@pytest.mark.parametrize(
    "target",
    [
        "vehicle-otter",
        "claim-c3.heron",
        "ride-2031-04-05.6f747465722d",
        "chart-otter.density",
        "chart-heron.lags",
        "chart-heron.shift-pairs",
        "cautions",
    ],
)
def test_a_link_leads_there_on_arrival(browser: Browser, page_path: Path, target: str) -> None:
    """A vehicle, a claim, a ride, a chart, folded or not: unfolded, in sight, and focused."""
    browser.open(page_path, at=target)
    shown = "return document.getElementById(arguments[0]).checkVisibility()"
    assert browser.run(shown, target)
    assert browser.run(FOCUSED) == target
    assert in_sight(browser, target)


def test_what_a_link_does_not_lead_to_stays_folded(browser: Browser, page_path: Path) -> None:
    """One fold opens for a chart of the closer look; those of others do not."""
    browser.open(page_path, at="chart-heron.lags")
    opened = "return [...document.querySelectorAll('details[open]')].map((one) => one.textContent)"
    (fold,) = browser.run(opened)
    assert "How the lag was chosen" in fold
    browser.wait_for("return document.querySelector('[id=\"chart-heron.lags\"] svg') !== null")


def test_a_link_followed_in_the_page_leads_there_too(browser: Browser, page_path: Path) -> None:
    """By keyboard, again after folding away, and back with the browser's own way back."""
    browser.open(page_path)
    browser.run("location.hash = 'chart-heron.stretch'")
    browser.wait_for(f"{FOCUSED.replace('return', 'return (')}) === 'chart-heron.stretch'")
    browser.run("document.querySelectorAll('details').forEach((one) => { one.open = false; })")
    link = "document.querySelector('a[href=\"#chart-heron.stretch\"]')"
    browser.run(f"{link}.closest('details').open = true; {link}.focus()")
    browser.press(Keys.ENTER)
    assert browser.run(FOCUSED) == "chart-heron.stretch"
    browser.run("location.hash = 'vehicle-tern'")
    browser.wait_for(f"{FOCUSED.replace('return', 'return (')}) === 'vehicle-tern'")
    browser.run("history.back()")
    browser.wait_for(f"{FOCUSED.replace('return', 'return (')}) === 'chart-heron.stretch'")


def test_tabbing_goes_on_from_where_a_link_led(browser: Browser, page_path: Path) -> None:
    """The next stop is the link of that very heading."""
    browser.open(page_path, at="vehicle-otter")
    browser.press(Keys.TAB)
    assert browser.run("return document.activeElement.getAttribute('href')") == "#vehicle-otter"
    assert browser.run("return document.activeElement.checkVisibility()")


@pytest.mark.parametrize(
    ("part", "whole"),
    [
        ("claim-c3", "claim-c3.heron"),
        ("chart-otter", "chart-otter.ladder"),
        ("ride-2031-04-05", "ride-2031-04-05.6f747465722d"),
    ],
)
def test_the_first_part_of_an_anchor_is_enough(
    browser: Browser, page_path: Path, part: str, whole: str
) -> None:
    """A claim without its vehicle, a vehicle's charts, a day: the first there is."""
    browser.open(page_path, at=part)
    assert browser.run(FOCUSED) == whole


@pytest.mark.parametrize("nowhere", ["vehicle-unknown", "%", "%ff", "'\"]", "<b>", "x" * 5000])
def test_a_link_to_nowhere_shows_the_page(browser: Browser, page_path: Path, nowhere: str) -> None:
    """From its top, and without a complaint."""
    browser.open(page_path, at=nowhere)
    assert browser.complaints() == []
    assert browser.run("return scrollY") == 0


@pytest.fixture(scope="module")
def odd_page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the page of vehicles whose names no link could carry as they are."""
    store = fabricated.FabricatedStore()
    for number, name in enumerate(ODD):
        fabricated.vehicle(store, name)
        fabricated.ride(store, name[:40], number, {1: 1.0, 2: 1.4})
        fabricated.measured(store, name, {1: 1.0, 2: 1.4})
    return write_report(store, tmp_path_factory.mktemp("odd names"), "Odd names, invented")


@pytest.mark.parametrize("name", ODD)
def test_odd_names_can_be_linked_to(browser: Browser, odd_page: Path, name: str) -> None:
    """Blanks, other scripts, ten thousand characters: each leads to its own vehicle."""
    browser.open(odd_page, at=anchor("vehicle", name))
    heading = browser.run("return document.activeElement.querySelector('bdi').textContent")
    assert name.startswith(heading.partition(" … ")[0])
    assert browser.run("return location.hash").isascii()


def test_each_heading_has_a_link_to_copy(browser: Browser, page_path: Path) -> None:
    """In sight without a mouse, to its own section, with a name that says where it leads."""
    browser.open(page_path, width=360)
    browser.unfold()
    heads = browser.run(
        "return [...document.querySelectorAll('h2, h3, h4')].map((head) => {"
        " const link = head.querySelector('a.here');"
        " const target = link && document.getElementById(link.hash.slice(1));"
        " const next = head.nextElementSibling;"
        " return [link && link.checkVisibility() && link.getClientRects().length === 1,"
        "  target && (target.contains(head) || target === next), link && link.ariaLabel]; })"
    )
    assert len(heads) > 20
    assert [bool(seen) and bool(leads) for seen, leads, _ in heads] == [True] * len(heads)
    names = [said for _, _, said in heads]
    assert len(set(names)) == len(names)
    assert all(said.startswith("link to ") for said in names)
