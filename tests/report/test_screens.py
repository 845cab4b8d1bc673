"""The demo's report as its three readers meet it: drawn, quiet, and pictured for a person to judge.

Screenshots are written to pytest's cache, which git ignores; the end of the run tells the path.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from ridelab.cli.place import of_campaign
from ridelab.report import write_report
from ridelab.store import Store
from tests.report.conftest import SCREENS
from tests.report.test_browser import DRAWN

if TYPE_CHECKING:
    from ridelab.report.page import First
    from tests.report.browser import Browser

READERS: tuple[First, ...] = ("fleet", "claims", "use")
#: Name, width in pixels, theme.
SCREENS_OF_EACH = (("light", 1200, "light"), ("dark", 1200, "dark"), ("phone", 360, "light"))


@pytest.fixture(scope="module")
def pages(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[First, Path]:
    """Return the demo's page for a shop, a reviewer, a rider, in a folder that URLs must escape."""
    folder = tmp_path_factory.mktemp("pages") / "Fähre & Söhne, 100 % #1? ☂"
    place = of_campaign(demo)
    with Store.open(place.store, read_only=True) as store:
        return {
            first: write_report(store, folder / first, place.campaign.name, "metric", first)
            for first in READERS
        }


@pytest.fixture(scope="module")
def screens(request: pytest.FixtureRequest) -> Path:
    """Return the folder for screenshots, emptied."""
    cache = request.config.cache
    assert cache is not None
    folder = Path(cache.mkdir("report-screens"))
    for old in folder.iterdir():
        old.unlink()
    SCREENS.append(folder)
    return folder


@pytest.mark.parametrize("first", READERS)
def test_first_screens_are_pictured(
    browser: Browser, pages: dict[First, Path], screens: Path, first: First
) -> None:
    """Light, dark, on a phone and on paper: what was asked for first, no wider than the screen."""
    for name, width, theme in SCREENS_OF_EACH:
        browser.open(pages[first], width=width, theme=theme)
        browser.screen(screens / f"{first}-{name}.png")
        top = "return document.getElementById(arguments[0]).getBoundingClientRect().top"
        assert browser.run(top, first) < 400
        assert browser.run("return document.documentElement.scrollWidth") <= width
    browser.paper(screens / f"{first}-paper.pdf")
    assert len(list(screens.glob(f"{first}-*"))) == 4
    assert browser.complaints() == []


def test_every_chart_of_the_demo_is_drawn(browser: Browser, pages: dict[First, Path]) -> None:
    """From a path with blanks, signs and other scripts, without a request or a complaint."""
    browser.open(pages["fleet"], width=360, theme="dark")
    browser.unfold()
    drawn = browser.run(DRAWN)
    assert len(drawn) > 50
    assert all(charts == 1 and marks > 0 and words > 40 for charts, marks, words in drawn)
    asked = browser.requested()
    assert [url for url in asked if not url.startswith(("file:", "data:", "about:"))] == []
    assert len([url for url in asked if url.startswith("file:")]) == 1
    assert browser.complaints() == []


def test_nothing_in_a_chart_of_the_demo_is_cut_off(
    browser: Browser, pages: dict[First, Path]
) -> None:
    """On a phone every word and mark lies within its drawing; half a pixel is a matter of fonts."""
    browser.open(pages["fleet"], width=360)
    browser.unfold()
    cut = browser.run(
        "return [...document.querySelectorAll('.chart svg')].flatMap((svg) => {"
        " const box = svg.getBoundingClientRect();"
        " const words = [...svg.querySelectorAll('text')].filter((one) => one.textContent);"
        " return words.filter((one) => {"
        "  const own = one.getBoundingClientRect();"
        "  return own.left < box.left - 2 || own.right > box.right + 2; })"
        " .map((one) => svg.closest('figure').id + ': ' + one.textContent); })"
    )
    assert not cut, cut
