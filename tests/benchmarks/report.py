"""The report of a season: ``python -m tests.benchmarks.report [--json] [--quick] [--keep FOLDER]``.

20 vehicles and 400 rides are simulated and run through the pipelines ``fleet``, ``usage`` and
``claims``; of each first screen the page is built in a process of its own and opened in a headless
Chromium. Processor time is told beside the clock: the machine may be busy with something else.
Peers in the same run: the same charts made as altair makes them, and their data written row by row.
``--keep`` keeps the campaign and its store in a folder, or takes what is there; ``--quick`` makes
two rides a vehicle. Where there is no browser, what it would tell is left out, and said to be.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
import time
from contextlib import nullcontext
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tests.benchmarks.inference_figures import Figure, at_most, lines, told
from tests.benchmarks.report_campaign import RIDES_EACH, write_campaign

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from ridelab.report.exhibit import Exhibit

#: First screens by the pipeline that asks for them, and how each is looked at.
SCREENS = {
    "fleet": ("fleet", "light", 1200),
    "usage": ("use", "dark", 400),
    "claims": ("claims", "light", 1200),
}
MOST_MB, MOST_BUILD_S, MOST_CONTENT_S, MOST_DRAWN_S = 6.0, 15.0, 1.5, 5.0
_DAY = date(2026, 10, 1)


def made(folder: Path, rides_each: int) -> Path:
    """Return the store of the campaign in a folder, which is made and run if it is not there."""
    from ridelab import pipeline
    from ridelab.campaign import load
    from ridelab.store import Store

    store = folder / "ridelab.duckdb"
    if not store.is_file():
        campaign = load(write_campaign(folder, rides_each))
        for name in SCREENS:
            pipeline.run(
                pipeline.load(name), campaign, store, folder / f"report-{name}", today=_DAY
            )
    with Store.open(store) as kept:  # views may have changed since it was made
        kept.lay()
    return store


def figures(store: Path) -> Iterator[Figure]:
    """Yield what is measured of each first screen, then the peers."""
    pages = {}
    for name, (first, *_) in SCREENS.items():
        pages[name] = store.parent / f"report-{name}"
        yield from _built(name, store, pages[name], first)
    yield from _opened({name: folder / "index.html" for name, folder in pages.items()})
    yield from _peers(store)


def _built(name: str, store: Path, folder: Path, first: str) -> Iterator[Figure]:
    asked = [sys.executable, "-m", "tests.benchmarks.report_build", str(store), str(folder), first]
    done = subprocess.run(asked, check=True, capture_output=True)
    spent = json.loads(done.stdout)
    size = (folder / "index.html").stat().st_size
    yield at_most(f"{name}: size of the page, MB", size / 1e6, MOST_MB)
    yield at_most(f"{name}: building it, by the clock, s", spent.pop("clock"), MOST_BUILD_S)
    yield told(f"{name}: building it, processor, s", spent.pop("all"))
    for part, seconds in sorted(spent.items(), key=lambda one: -one[1]):
        yield told(f"{name}: of these {part}, s", seconds)


def _opened(pages: dict[str, Path]) -> Iterator[Figure]:
    from tests.benchmarks.report_opened import browser, opened

    shown = browser()
    if shown is None:
        sys.stderr.write("no chromium and chromedriver here: no page is opened\n")
        return
    with shown:
        for name, page in pages.items():
            _, theme, width = SCREENS[name]
            seen = opened(shown, page, theme, width)
            yield at_most(f"{name}: first content, s", seen.content_s, MOST_CONTENT_S)
            yield told(f"{name}: first chart, s", seen.first_chart_s)
            label = f"{name}: all {seen.charts} charts in sight or below drawn"
            yield at_most(f"{label}, by the clock, s", seen.drawn_s, MOST_DRAWN_S)
            yield told(f"{label}, processor, s", seen.processor_s)
            label = f"{name}: everything unfolded, {seen.all_charts} charts"
            yield at_most(f"{label}, by the clock, s", seen.unfolded_s, MOST_DRAWN_S)
            yield told(f"{label}, processor, s", seen.unfolding_processor_s)
            yield at_most(f"{name}: messages in the console", seen.complaints, 0)
            yield at_most(f"{name}: requests to a network", seen.requests, 0)
            barriers = len(seen.barriers)
            yield at_most(f"{name}: barriers of A and AA, {theme}, {width} px", barriers, 0)
            for barrier in seen.barriers[:10]:
                sys.stderr.write(f"{name}: {barrier[:200]}\n")


def _peers(store: Path) -> Iterator[Figure]:
    """Yield what the same charts take as altair makes them, and as rows of data."""
    from ridelab.report.drawing import unchecked
    from ridelab.report.figures import inert
    from ridelab.report.findings import read_findings
    from ridelab.store import Store

    with Store.open(store, read_only=True) as opened:
        findings = read_findings(opened)
    with unchecked():
        began = time.process_time()
        written = [json.loads(inert(one.chart)) for one in _exhibits(findings)]
        ours_s = time.process_time() - began
    began = time.process_time()
    for one in _exhibits(findings):
        one.chart.to_dict()
    theirs_s = time.process_time() - began
    yield told("all charts made and written, processor, s", ours_s)
    yield told("the same, each part held against the schema, s", theirs_s)
    yield told("their specifications, MB", sum(map(_size, written)) / 1e6)
    yield told(
        "the same with data row by row, MB", sum(_size(by_row(one)) for one in written) / 1e6
    )


def _exhibits(findings: Any) -> Iterator[Exhibit]:  # noqa: ANN401 - loaded when needed
    from ridelab.report.digits import Printer
    from ridelab.report.illustrations import illustrations

    return illustrations(findings, Printer("metric"))


def by_row(spec: dict[str, Any]) -> dict[str, Any]:
    """Return a specification with an object for each row of its data, as altair writes a frame."""
    sets = {
        name: [row for packed in rows for row in _unpacked(packed)]
        for name, rows in spec.get("datasets", {}).items()
    }
    return spec | {"datasets": sets}


def _unpacked(packed: dict[str, Any]) -> list[dict[str, Any]]:
    listed = {name: column for name, column in packed.items() if isinstance(column, list)}
    if not listed:
        return [packed]
    rest = {name: value for name, value in packed.items() if name not in listed}
    return [
        rest | dict(zip(listed, row, strict=True)) for row in zip(*listed.values(), strict=True)
    ]


def _size(spec: dict[str, Any]) -> int:
    return len(json.dumps(spec, ensure_ascii=False, separators=(",", ":")).encode())


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the figures; 0 if every goal is met."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.report")
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--quick", action="store_true", help="two rides a vehicle")
    parser.add_argument("--keep", type=Path, help="a folder to make the campaign in, or reuse")
    chosen = parser.parse_args(arguments)
    place = nullcontext(chosen.keep) if chosen.keep else tempfile.TemporaryDirectory()
    with place as folder:
        store = made(Path(folder), 2 if chosen.quick else RIDES_EACH)
        found = []
        for one in figures(store):
            sys.stderr.write(f"{one.figure}: {one.value:.4g}\n")
            found.append(one)
    if chosen.json:
        text = json.dumps([figure.as_json() for figure in found], indent=1, ensure_ascii=False)
    else:
        text = "\n".join(lines(found, ()))
    sys.stdout.write(text + "\n")
    return 0 if all(figure.met is not False for figure in found) else 1


if __name__ == "__main__":
    sys.exit(main())
