"""A headless browser, and what a test asks of it."""

from __future__ import annotations

import json
from base64 import b64decode
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from selenium import webdriver
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.support.ui import WebDriverWait

if TYPE_CHECKING:
    from pathlib import Path
    from typing import Self

_PATIENCE_S = 60
_AXE_S = 300
_AXE = """
const done = arguments[arguments.length - 1];
const rules = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa'];
axe.run(document, {resultTypes: ['violations'], runOnly: rules}).then((found) => done(
  found.violations.flatMap((one) => one.nodes.map((node) => `${one.id}: ${node.html}`))));
"""


class Browser:
    """Opens pages from files; everything that it was asked to fetch or complained of is kept."""

    def __init__(self, chromium: str, chromedriver: str) -> None:
        options = webdriver.ChromeOptions()
        options.binary_location = chromium
        for argument in (
            "--headless=new",
            "--no-sandbox",
            "--disable-dev-shm-usage",
            "--host-resolver-rules=MAP * ~NOTFOUND",
            "--window-size=1200,1000",
        ):
            options.add_argument(argument)
        options.set_capability("goog:loggingPrefs", {"performance": "ALL", "browser": "ALL"})
        self.driver = webdriver.Chrome(service=Service(chromedriver), options=options)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.driver.quit()

    def open(
        self,
        page: Path,
        width: int = 1200,
        theme: str = "light",
        media: str = "",
        at: str = "",
    ) -> None:
        """Open a page from its file, at an anchor, and wait until its charts are drawn."""
        for kind in ("performance", "browser"):
            self._log(kind)
        scheme = {"name": "prefers-color-scheme", "value": theme}
        self.resize(width)
        self._devtools("Emulation.setEmulatedMedia", {"media": media, "features": [scheme]})
        self.driver.get("about:blank")
        self.driver.get(f"{page.as_uri()}#{at}" if at else page.as_uri())
        self.wait_for("return window.READY >= 0")

    def press(self, *keys: str) -> None:
        """Press keys one after the other, whatever has the focus."""
        ActionChains(self.driver).send_keys(*keys).perform()

    def screen(self, picture: Path, whole: bool = False) -> None:
        """Write what is in sight, or the whole page, as a PNG."""
        clip: dict[str, Any] = {}
        if whole:
            size = self._devtools("Page.getLayoutMetrics", {})["cssContentSize"]
            clip = {"captureBeyondViewport": True, "clip": size | {"scale": 1}}
        shown = self._devtools("Page.captureScreenshot", clip)
        picture.write_bytes(b64decode(shown["data"]))

    def paper(self, file: Path) -> None:
        """Print the page as a PDF, on A4."""
        a4 = {"paperWidth": 8.27, "paperHeight": 11.69, "preferCSSPageSize": True}
        file.write_bytes(b64decode(self._devtools("Page.printToPDF", a4)["data"]))

    def resize(self, width: int) -> None:
        """Make the page as wide as this, in CSS pixels."""
        screen = {"width": width, "height": 1000, "deviceScaleFactor": 1, "mobile": width < 600}
        self._devtools("Emulation.setDeviceMetricsOverride", screen)

    def wait_for(self, script: str) -> None:
        """Wait until a script returns true."""
        WebDriverWait(self.driver, _PATIENCE_S).until(lambda _: self.run(script))

    def unfold(self) -> None:
        """Open all that is folded, and wait until the charts in it are drawn, too."""
        self.run("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
        self.wait_for("return window.READY === document.querySelectorAll('figure').length")

    def run(self, script: str, *arguments: object) -> Any:  # noqa: ANN401 - whatever the script says
        """Run a script in the page and return what it returns."""
        return self.driver.execute_script(script, *arguments)

    def requested(self) -> list[str]:
        """Return every address asked for since the page was opened."""
        entries = (json.loads(one["message"])["message"] for one in self._log("performance"))
        return [
            entry["params"]["request"]["url"]
            for entry in entries
            if entry["method"] == "Network.requestWillBeSent"
        ]

    def complaints(self) -> list[str]:
        """Return the warnings and errors of the console since the page was opened."""
        return [one["message"] for one in self._log("browser") if one["level"] != "INFO"]

    def barriers(self) -> list[str]:
        """Return what axe-core finds against WCAG 2.0 and 2.1, levels A and AA, a line each."""
        self.run(files("axe_core_python").joinpath("axe.min.js").read_text("utf-8"))
        self.driver.set_script_timeout(_AXE_S)
        return list(self.driver.execute_async_script(_AXE))

    def _log(self, kind: str) -> list[dict[str, Any]]:
        return list(self.driver.get_log(kind))  # type: ignore[no-untyped-call]

    def _devtools(self, command: str, arguments: dict[str, Any]) -> dict[str, Any]:
        return dict(self.driver.execute_cdp_cmd(command, arguments))
