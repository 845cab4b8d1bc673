"""The fabricated campaign as a page, and a real browser to open it in."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING

import pytest

import ridelab
from ridelab.cli.place import of_campaign
from ridelab.pipeline import load
from ridelab.report import write_report
from ridelab.simulate.demo import write_demo
from tests.report.browser import Browser
from tests.report.fabricated import harbour
from tests.report.parsed import parse

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from tests.report.fabricated import FabricatedStore
    from tests.report.parsed import Element

#: Where this run wrote screenshots.
SCREENS: list[Path] = []
TITLE = "Harbour loop, invented"


@pytest.fixture(scope="session")
def store() -> FabricatedStore:
    """Return the fabricated store; tests that change one make their own."""
    return harbour()


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the campaign file of the demo after a run."""
    file = write_demo(tmp_path_factory.mktemp("demo"))
    place = of_campaign(file)
    ridelab.run(load("fleet"), place.campaign, place.store, place.report)
    return file


@pytest.fixture(scope="session")
def page_path(store: FabricatedStore, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the path of the page of the fabricated store."""
    return write_report(store, tmp_path_factory.mktemp("report"), TITLE)


@pytest.fixture(scope="session")
def page(page_path: Path) -> Element:
    """Return that page, parsed."""
    return parse(page_path.read_text("utf-8"))


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Return a headless browser that cannot resolve any host name."""
    chromium, driver = shutil.which("chromium"), shutil.which("chromedriver")
    if chromium is None or driver is None:
        pytest.skip("no chromium and chromedriver on this machine: pages are not opened")
    with Browser(chromium, driver) as opened:
        yield opened


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say where the screenshots are, for a person to look at."""
    for folder in SCREENS:
        terminalreporter.write_line(f"screenshots of the report: {folder}")
