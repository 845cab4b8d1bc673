"""Charts as files: whole, well-formed, named without danger, in the colours of their ground."""

from __future__ import annotations

import csv
import io
import struct
from typing import TYPE_CHECKING
from xml.etree import ElementTree

import polars as pl
import pytest

from ridelab.report import illustrate
from ridelab.report.exhibit import Exhibit
from ridelab.report.palette import PALETTE, in_theme
from ridelab.report.pictures import Look, as_svg, write_pictures
from ridelab.report.sheet import as_sheet
from tests.report import fabricated
from tests.report.hostile import HOSTILE
from tests.report.parsed import parse

if TYPE_CHECKING:
    from pathlib import Path

    from tests.report.browser import Browser
    from tests.report.fabricated import FabricatedStore

SVG = "{http://www.w3.org/2000/svg}"
DRAWN = {
    f"{SVG}{one}"
    for one in ("svg", "g", "path", "text", "rect", "line", "tspan", "defs", "clipPath")
}
TITLE = "Harbour loop, invented"


@pytest.fixture(scope="module")
def folder(store: FabricatedStore, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder with all charts of the fabricated store."""
    folder = tmp_path_factory.mktemp("export") / "charts"
    write_pictures(illustrate(store), folder, TITLE, Look())
    return folder


def read(svg: str) -> ElementTree.Element:
    """Return the root of a drawing; a standard parser must read it."""
    return ElementTree.fromstring(svg)  # noqa: S314 - made here, and without a document type


def texts(svg: str) -> list[str]:
    """Return what a drawing says in letters."""
    return [" ".join(one.itertext()) for one in read(svg).iter(f"{SVG}text")]


def test_each_chart_of_the_page_is_there_three_times(store: FabricatedStore, folder: Path) -> None:
    """As SVG, PNG and CSV, by the name that its link in the page has; and an index."""
    names = {one.id.removeprefix("chart-") for one in illustrate(store)}
    expected = {f"{name}.{kind}" for name in names for kind in ("svg", "png", "csv")}
    assert {one.name for one in folder.iterdir()} == expected | {"index.html"}
    assert {"heron.deviations.svg", "claims.png", "wren.density.csv"} <= expected


def test_pictures_are_what_their_names_say(folder: Path) -> None:
    """SVG that an XML parser reads; PNG twice as wide and high as it, by its header."""
    for svg in folder.glob("*.svg"):
        root = read(svg.read_text("utf-8"))
        size = [float(root.attrib[side]) for side in ("width", "height")]
        png = svg.with_suffix(".png").read_bytes()
        assert png[:8] == b"\x89PNG\r\n\x1a\n"  # PNG specification, 5.2
        assert list(struct.unpack(">II", png[16:24])) == pytest.approx(
            [2 * one for one in size], abs=1
        )


def test_a_picture_stands_alone(folder: Path) -> None:
    """It says whose it is and what to see, on a ground of its own, in colours of the palette."""
    svg = (folder / "heron.deviations.svg").read_text("utf-8")
    said = " ".join(texts(svg))
    assert "heron: measured beside published ratios" in said
    assert "whole line is 0.3\u00a0% or more from what is published" in said
    ground = read(svg).find(f"{SVG}rect")
    assert ground is not None
    assert ground.attrib["fill"] == "white"
    fonts = {one.attrib["font-family"] for one in read(svg).iter(f"{SVG}text")}
    assert fonts == {"Arial, Liberation Sans, Arimo, sans-serif"}  # alike in width


def test_figures_behind_a_chart_are_in_full_and_in_si_units(
    store: FabricatedStore, folder: Path
) -> None:
    """The ladder's developments as the store has them, whatever is printed in the chart."""
    rows = list(csv.DictReader((folder / "heron.ladder.csv").read_text("utf-8").splitlines()))
    stored = store.frame("select * from measured_gears where vehicle = 'heron' order by gear")
    read = [float(row["development_m"]) for row in rows if row["development_m"]]
    assert read == stored["development_m"].to_list()
    assert rows[8]["development_m"] == ""


def test_the_index_shows_each_chart_with_its_files(folder: Path) -> None:
    """Every file of the folder is linked to or shown, each picture has words, each link a name."""
    page = parse((folder / "index.html").read_text("utf-8").replace("<!DOCTYPE html>", ""))
    linked = {one.attributes["href"] for one in page.all("a")}
    beside = {"columns.csv"}  # which the export writes, that knows the store
    assert linked == {one.name for one in folder.iterdir()} - {"index.html"} | beside
    pictures = page.all("img")
    assert all(one.attributes["src"] in linked and one.attributes["alt"] for one in pictures)
    names = [one.attributes["aria-label"] for one in page.all("a")]
    assert len(names) == len(set(names))
    assert TITLE in page.text


def test_the_index_shows_its_pictures_in_a_browser(browser: Browser, folder: Path) -> None:
    """Those in sight are loaded from beside it; no barrier of levels A and AA."""
    browser.driver.get((folder / "index.html").as_uri())
    loaded = "return [...document.images].slice(0, 2).every((one) => one.naturalWidth > 100)"
    browser.wait_for(loaded)
    assert browser.barriers() == []
    assert browser.run("return document.documentElement.scrollWidth <= innerWidth")


def test_the_same_charts_give_the_same_files(store: FabricatedStore, tmp_path: Path) -> None:
    """Drawn a second time, by another run of the drawing program's clock."""
    some = [one for one in illustrate(store) if one.key in {"claims", "rays"}]
    for folder in ("one", "two"):
        write_pictures(some, tmp_path / folder, TITLE, Look(width_px=400))
    for file in (tmp_path / "one").iterdir():
        assert file.read_bytes() == (tmp_path / "two" / file.name).read_bytes()


def test_a_dark_picture_has_the_dark_partners(store: FabricatedStore) -> None:
    """No light colour is left in its marks, and it is as wide as asked for."""
    (exhibit,) = (one for one in illustrate(store) if one.id == "chart-heron.deviations")
    svg = as_svg(exhibit.picture(520), "dark")
    assert read(svg).attrib["width"] == "520"
    painted = {one.attrib.get(paint) for one in read(svg).iter() for paint in ("fill", "stroke")}
    assert painted.isdisjoint({light for light, _ in PALETTE.values()} | {"white"})
    assert PALETTE["page"][1] in painted


def test_only_paint_changes_with_the_theme() -> None:
    """A vehicle may be called white, or by a colour's number."""
    light, dark = PALETTE["ink"]
    said = f'<text aria-label="fill=&quot;{light}&quot;" fill="{light}">fill="{light}" white</text>'
    expected = said.replace(f' fill="{light}"', f' fill="{dark}"')
    assert in_theme(said, "dark") == expected
    assert in_theme(said, "light") == said


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder with the charts of vehicles whose names attack page, path and sheet."""
    store = fabricated.FabricatedStore()
    for number, name in enumerate(HOSTILE):
        fabricated.vehicle(store, name, name)
        fabricated.published(store, name, fabricated.NINE)
        fabricated.measured(store, name, dict(enumerate(fabricated.NINE, 1)), fabricated.NINE)
        fabricated.ride(store, name, number, {1: 1.0, 2: 1.4}, path=f"rides/{name}")
    folder = tmp_path_factory.mktemp("hostile") / "charts"
    shown = [one for one in illustrate(store) if one.key in {"ladders", "ladder", "stretch"}]
    assert len(shown) == 1 + 2 * len(HOSTILE)
    write_pictures(shown, folder, HOSTILE[0], Look(width_px=400))
    return folder


def test_hostile_names_stay_in_the_folder(hostile: Path) -> None:
    """Short plain names, three files a chart, and nothing beside the folder."""
    files = [one.name for one in hostile.iterdir()]
    assert len(files) == 3 * (1 + 2 * len(HOSTILE)) + 1
    assert all(len(name) < 80 and name.isascii() for name in files)
    assert [one.name for one in hostile.parent.iterdir()] == ["charts"]


def test_hostile_names_are_text_in_pictures(hostile: Path) -> None:
    """Well-formed, without script or foreign address; the first of them can be read as it is."""
    for svg in hostile.glob("*.svg"):
        elements = {one.tag for one in read(svg.read_text("utf-8")).iter()}
        assert elements <= DRAWN
    said = [" ".join(texts(one.read_text("utf-8"))) for one in hostile.glob("script*.ladder.svg")]
    assert len(said) == 1
    assert HOSTILE[0] in said[0]


def test_hostile_names_are_text_in_the_index(hostile: Path) -> None:
    """No element that no builder made."""
    page = parse((hostile / "index.html").read_text("utf-8").replace("<!DOCTYPE html>", ""))
    assert page.all("script") == []
    assert len(page.all("img")) == 1 + 2 * len(HOSTILE)
    assert HOSTILE[0] in page.all("h1")[0].text


def test_hostile_names_are_no_formulas_in_sheets(hostile: Path) -> None:
    """No cell of text begins as a formula would."""
    cells = [
        cell
        for file in hostile.glob("*.csv")
        for row in csv.DictReader(io.StringIO(file.read_text("utf-8"), newline=""))
        for column, cell in row.items()
        if column in {"vehicle", "path", "label"}
    ]
    assert len(cells) > 100
    assert [cell for cell in cells if cell[:1] in set("=+-@\t\r\n\0")] == []


def test_sheets_keep_numbers_and_tame_text() -> None:
    """Negative numbers are numbers; text and heads that spreadsheets run get an apostrophe."""
    frame = pl.DataFrame(
        {"=x": ["=1+1", "-2", None, 'a "b", c'], "y": [-1.5, float("nan"), float("inf"), None]}
    )
    rows = list(csv.reader(io.StringIO(as_sheet(frame), newline="")))
    assert rows == [["'=x", "y"], ["'=1+1", "-1.5"], ["'-2", ""], ["", ""], ['a "b", c', ""]]


def test_long_sentences_are_broken_to_the_width() -> None:
    """A title's second line is no longer than the picture is wide; a figure keeps its sign."""
    import altair as alt

    chart = alt.Chart(pl.DataFrame({"x": [1]})).mark_point().encode(x="x:Q")
    exhibit = Exhibit("key", None, "A title", "every 95 % " * 30, chart, pl.DataFrame())
    lines = exhibit.picture(340).to_dict()["title"]["subtitle"]
    assert max(len(line) for line in lines) <= 50
    assert not [line for line in lines if line.startswith("%")]
