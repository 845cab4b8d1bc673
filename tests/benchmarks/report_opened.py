"""A page opened in a headless browser: when what stands on it, and what is wrong with it."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING, NamedTuple

from tests.report.browser import Browser

if TYPE_CHECKING:
    from pathlib import Path

#: Notes in the page, before its own scripts run, when it says how many charts are drawn.
_WATCH = """
let told;
window.DRAWN = { first: null, all: null };
Object.defineProperty(window, 'READY', {
  get() { return told; },
  set(value) { told = value; window.DRAWN.all = performance.now(); },
});
const look = setInterval(() => {
  if (!document.querySelector('figure svg')) return;
  window.DRAWN.first = performance.now();
  clearInterval(look);
}, 10);
"""
_PAINT = "return performance.getEntriesByName('first-contentful-paint')[0].startTime"
_IN_SIGHT = "[...document.querySelectorAll('figure')].filter((one) => one.checkVisibility())"
#: Vehicles that stay when barriers are looked for: axe-core takes minutes for what repeats.
_KEPT = ("avocet", "bittern", "egret", "fulmar", "quail")
_LEAVE = """
const others = [...document.querySelectorAll('[id^="vehicle-"], [id^="use-"], [id^="evidence-"]')]
  .filter((one) => !arguments[0].includes(one.id.replace(/^[a-z]+-/, '')));
others.forEach((one) => one.remove());
"""
#: Seconds that one answer of the browser may take: axe-core thinks for minutes on a busy machine.
_PATIENCE_S = 900


class Opened(NamedTuple):
    """Seconds by the clock since the page was asked for, or since it was unfolded; counts."""

    content_s: float
    first_chart_s: float
    drawn_s: float
    charts: int
    processor_s: float
    unfolded_s: float
    all_charts: int
    unfolding_processor_s: float
    complaints: int
    requests: int
    barriers: list[str]


def browser() -> Browser | None:
    """Return a browser, None where this machine has none."""
    chromium, driver = shutil.which("chromium"), shutil.which("chromedriver")
    if chromium is None or driver is None:
        return None
    opened = Browser(chromium, driver)
    opened.driver.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": _WATCH})
    opened.driver.command_executor.client_config.timeout = _PATIENCE_S  # type: ignore[union-attr]
    opened.driver.execute_cdp_cmd("Performance.enable", {})
    return opened


def opened(browser: Browser, page: Path, theme: str, width: int) -> Opened:
    """Open a page, wait for its charts, unfold everything, and look for barriers.

    These in all but the sections of vehicles, and in those of one of each kind.
    """
    before = _processor_s(browser)
    browser.open(page, width=width, theme=theme)
    charts = int(browser.run(f"return {_IN_SIGHT}.length"))
    content, drawn = browser.run(_PAINT), browser.run("return window.DRAWN")
    processor_s = _processor_s(browser) - before
    began = browser.run("return performance.now()")
    browser.unfold()
    unfolded = browser.run("return window.DRAWN.all") - began
    unfolding_s = _processor_s(browser) - before - processor_s
    foreign = [
        url for url in browser.requested() if not url.startswith(("file:", "data:", "about:"))
    ]
    complaints = len(browser.complaints())
    browser.run(_LEAVE, _KEPT)
    return Opened(
        content_s=content / 1e3,
        first_chart_s=drawn["first"] / 1e3,
        drawn_s=drawn["all"] / 1e3,
        charts=charts,
        processor_s=processor_s,
        unfolded_s=unfolded / 1e3,
        all_charts=int(browser.run("return window.READY")),
        unfolding_processor_s=unfolding_s,
        complaints=complaints,
        requests=len(foreign),
        barriers=browser.barriers(),
    )


def _processor_s(browser: Browser) -> float:
    """Return what the process that shows the page has taken of the processor so far."""
    told = browser.driver.execute_cdp_cmd("Performance.getMetrics", {})["metrics"]
    return float(next(one["value"] for one in told if one["name"] == "ProcessTime"))
