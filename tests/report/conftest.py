"""The fabricated campaign as a page, and a real browser to open it in."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING

import pytest

from ridelab.report import write_report
from tests.report.browser import Browser
from tests.report.fabricated import harbour
from tests.report.parsed import parse

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from tests.report.fabricated import FabricatedStore
    from tests.report.parsed import Element

TITLE = "Harbour loop, invented"


@pytest.fixture(scope="session")
def store() -> FabricatedStore:
    """Return the fabricated store; tests that change one make their own."""
    return harbour()


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
