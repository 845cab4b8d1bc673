"""The road below the stair: its heights, where it is broken, and that none were recorded."""

from __future__ import annotations

from math import sin
from typing import TYPE_CHECKING, Any

import polars as pl
import pytest

from ridelab.report.digits import Printer
from ridelab.report.markup import text
from ridelab.report.stretch import sentence, stretch_of_ride, stretch_table
from ridelab.report.stretch_profile import PROFILE_PX, has_profile, profile_sentence
from tests.report.parsed import parse
from tests.report.test_stretch import LADDER, found, held, tern

if TYPE_CHECKING:
    from tests.report.fabricated import FabricatedStore

METRIC = Printer("metric")


def on_road(*heights: float | None, source: str | None = "barometric") -> pl.DataFrame:
    """Return a stretch in one gear over these heights, a second each."""
    stretch = held((2, "driving", len(heights)))
    return stretch.with_columns(
        altitude_m=pl.Series(heights, dtype=pl.Float64),
        altitude_source=pl.lit(source, pl.String),
    )


def road(stretch: pl.DataFrame) -> list[dict[str, Any]]:
    """Return the parts of the road that are drawn."""
    sets = stretch_of_ride(stretch, LADDER, METRIC).to_dict()["datasets"].values()
    return [row for rows in sets for row in rows if "part" in row]


def test_the_road_fills_its_room_from_the_lowest_to_the_highest() -> None:
    """30 m of height over 60 s: its ends are as far apart as the room is high."""
    (part,) = road(on_road(*(100.0 + second / 2 for second in range(61))))
    assert part["height"][0] - part["height"][-1] == pytest.approx(PROFILE_PX)
    assert part["height"][0] == part["foot"]
    assert part["minute"] == [round(4 * n / 60, 2) for n in range(16)]


def test_a_flat_road_looks_flat() -> None:
    """Half a metre of noise is a fortieth of the room, and not all of it."""
    (part,) = road(on_road(*(50.0 + 0.25 * sin(second) for second in range(60))))
    assert max(part["height"]) - min(part["height"]) < PROFILE_PX / 39


def test_the_road_is_broken_where_no_altitude_was_recorded() -> None:
    """Twenty seconds without one are told, and nothing is drawn across them."""
    stretch = on_road(*[60.0] * 20, *[None] * 20, *[70.0] * 20)
    assert [row["part"] for row in road(stretch)] == ["0", "1"]
    said = profile_sentence(stretch, METRIC).replace("\u00a0", " ")
    assert said == (
        "Below the stair lies the height of the road, 60 m to 70 m, by barometer. For 33 % of the "
        "time no altitude was recorded."
    )


def test_a_ride_without_altitudes_says_so_and_has_no_room_for_them() -> None:
    """A single one makes no road, either."""
    for stretch in (held((2, "driving", 9)), on_road(50.0, *[None] * 8)):
        assert not has_profile(stretch)
        assert road(stretch) == []
        assert sentence(stretch, METRIC).endswith("the road has no profile here.")
    plain, hilly = (
        stretch_of_ride(one, LADDER, METRIC).to_dict()["height"]
        for one in (held((2, "driving", 9)), on_road(*[50.0] * 9))
    )
    assert hilly > plain + PROFILE_PX


def test_heights_are_told_in_the_units_of_the_campaign() -> None:
    """100 m are 328 ft (a foot is 0.3048 m, NIST SP 811), in sentence and table."""
    stretch, printer = on_road(*[100.0] * 9), Printer("imperial")
    assert "328\u00a0ft to 328\u00a0ft" in profile_sentence(stretch, printer)
    page = parse(stretch_table(stretch, printer, text("Ten minutes")))
    assert [row.children[-1].text for row in page.all("tr")] == ["Height, ft", "328"]


@pytest.mark.parametrize(
    ("source", "said"),
    [
        ("satellite", "by satellite, so roughly"),
        ("unknown", "by what the file does not say"),
        (None, "by what the file does not say"),
    ],
)
def test_what_measured_the_heights_is_told(source: str | None, said: str) -> None:
    """A pipeline without the stage that looks at altitudes leaves it null."""
    assert f"{said}." in profile_sentence(on_road(50.0, 60.0, source=source), METRIC)


def test_the_query_has_altitudes_as_recorded_and_their_source() -> None:
    """Of the ride that the stretch lies in."""
    store: FabricatedStore = tern()
    assert found(store).stretch["altitude_m"].count() == 0
    store.run("update recorded_samples set altitude_m = 40 + t_s / 100")
    ride = store.frame("recorded_rides")["ride"][0]
    store.add("ride_profiles", {"ride": ride, "altitude_source": "satellite"})
    stretch = found(store).stretch
    assert stretch["altitude_source"].unique().to_list() == ["satellite"]
    assert stretch["altitude_m"][0] == pytest.approx(40 + stretch["t_s"][0] / 100)


def test_a_hostile_file_name_is_text() -> None:
    """Neither markup nor direction; ten thousand characters are cut."""
    for hostile in ("<script>alert(1)</script>", "\u202egpj.fit", "bell\x07.fit", "x" * 10_000):
        stretch = on_road(50.0, 60.0).with_columns(path=pl.lit(f"rides/{hostile}"))
        said = sentence(stretch, METRIC)
        assert not set(said) & set("\u202e\x07")
        assert len(said) < 600
