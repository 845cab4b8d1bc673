"""Track points out of markup: which values are whose, whatever the prefixes."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridelab.telemetry.gpx.document import well_formed
from ridelab.telemetry.gpx.points import VALUES, Points, read_points
from ridelab.telemetry.notes import Notes
from tests.telemetry.gpxtext import gpx, point, segment, track


def points(content: str) -> Points:
    """The points of a file."""
    path = Path("ride.gpx")
    return read_points(well_formed(path, content.encode(), Notes(path)))


def row(*children: str) -> dict[str, object]:
    """The one point of a file, with such children."""
    return points(gpx(track(segment(point("T", 0.0, *children))))).table.row(0, named=True)


@pytest.mark.parametrize(
    ("element", "column", "value"),
    [
        ("<ele>12.5</ele>", "altitude", "12.5"),
        ("<ele>\n 12.5 </ele>", "altitude", "12.5"),
        ("<ele></ele>", "altitude", None),
        ("<ele/>", "altitude", None),
        ("<speed>5.5</speed>", "speed", "5.5"),
        ("<extensions><q:speed>5.5</q:speed></extensions>", "speed", "5.5"),
        ("<extensions><power>200</power></extensions>", "power", "200"),
        ("<extensions><p:PowerInWatts>201</p:PowerInWatts></extensions>", "power", "201"),
        ("<extensions><a><b:cad unit='rpm'>80</b:cad></a></extensions>", "cadence", "80"),
        ("<extensions><c:cadence>81</c:cadence></extensions>", "cadence", "81"),
        ("<extensions><hr>120</hr></extensions>", "cadence", None),
        ("<course>81</course>", "speed", None),
        ("<extensions><cad>80</cad><cadence>90</cadence></extensions>", "cadence", "80"),
        ("<extensions><ele>9</ele><time>1</time></extensions>", "altitude", None),
        ("<extensions><cad>1<b/>2</cad></extensions>", "cadence", None),
    ],
)
def test_values_are_found_by_local_name(element: str, column: str, value: str | None) -> None:
    """GPX 1.0 and 1.1 as children of the point, anything else in extensions; the first counts."""
    assert row(element)[column] == value


def test_the_time_of_the_point_is_its_own_child() -> None:
    """Not one deeper in an extension that stands before it."""
    content = gpx(track(segment(point(None, 0.0, "<extensions><time>X</time></extensions>"))))
    assert points(content).table["time"].to_list() == [None]
    content = content.replace("</extensions>", "</extensions><time>T</time>")
    assert points(content).table["time"].to_list() == ["T"]


@pytest.mark.parametrize(
    "tag",
    [
        '<trkpt lat="1.5" lon="-2.5">',
        "<trkpt lon='-2.5' lat='1.5'>",
        '<trkpt\n\tlat = "1.5"\n lon=" -2.5 " dilat="9" xlon="8">',
    ],
)
def test_positions_are_found_in_any_order_and_quotes(tag: str) -> None:
    """XML 1.0, 3.1: space and order of attributes mean nothing."""
    content = gpx(track(segment(f"{tag}<time>T</time></trkpt>")))
    assert points(content).table.select("lat", "lon").rows() == [("1.5", "-2.5")]


def test_prefixes_of_the_format_itself_mean_nothing() -> None:
    """Some units write a prefix on every element."""
    content = gpx(track(segment(point(0, cad=60), point(1, cad=61))))
    for name in ("gpx", "trk", "trkseg", "trkpt", "time"):
        content = content.replace(f"<{name}", f"<n0:{name}").replace(f"</{name}", f"</n0:{name}")
    assert points(content).table["cadence"].to_list() == ["60", "61"]


def test_tracks_and_segments_are_numbered_through_the_file() -> None:
    """And the types of the tracks are theirs, not those of anything else."""
    content = gpx(
        "<metadata><type>no</type></metadata>",
        track(segment(point(0)), segment(), segment(point(1), point(2)), kind="ride &amp; rest"),
        track(segment(point(3)), kind="running"),
        track(segment(point(4, 0.0, "<type>no</type>"))),
    )
    found = points(content)
    assert found.table["track"].to_list() == [1, 1, 1, 2, 3]
    assert found.table["segment"].to_list() == [1, 3, 3, 4, 5]
    assert found.types == {1: "ride & rest", 2: "running"}


def test_other_points_are_counted_and_not_mixed_in() -> None:
    """Routes and single points have the same children."""
    other = "<ele>1</ele><time>T</time>"
    content = gpx(
        f'<wpt lat="1" lon="1">{other}</wpt>',
        f'<rte><rtept lat="1" lon="1">{other}</rtept><rtept lat="2" lon="1">{other}</rtept></rte>',
        track(segment(point(0))),
    )
    found = points(content)
    assert (len(found.table), found.route_points, found.waypoints) == (1, 2, 1)
    assert found.table["altitude"].to_list() == [None]


def test_a_point_that_is_one_tag_has_no_values() -> None:
    """``<trkpt …/>``, and the values of the next are not its own."""
    content = gpx(track(segment('<trkpt lat="1" lon="2"/>', point(1, 0.0, "<ele>3</ele>"))))
    assert points(content).table["altitude"].to_list() == [None, "3"]


def test_a_file_without_points_is_empty() -> None:
    """With all columns."""
    found = points(gpx())
    assert found.table.is_empty()
    assert set(VALUES) < set(found.table.columns)


LEAF = st.builds(
    lambda prefix, name, text: f"<{prefix}{name}>{text}</{prefix}{name}>",
    st.sampled_from(["", "a:", "b:"]),
    st.sampled_from(["ele", "time", "cad", "speed", "power", "hr", "desc"]),
    st.sampled_from(["", "1", "2.5", " 3\n", "x"]),
)
NODE = st.recursive(
    LEAF,
    lambda inner: st.lists(inner, max_size=3).map(
        lambda parts: f"<extensions>{''.join(parts)}</extensions>"
    ),
    max_leaves=8,
)


@given(st.lists(st.lists(NODE, max_size=4).map("".join), max_size=5))
def test_every_value_is_the_one_a_tree_gives(insides: list[str]) -> None:
    """Against ElementTree, element by element."""
    body = "".join(f'<trkpt lat="1" lon="2">{inside}</trkpt>' for inside in insides)
    content = f'<gpx xmlns:a="urn:a" xmlns:b="urn:b"><trk><trkseg>{body}</trkseg></trk></gpx>'
    tree = ElementTree.fromstring(content)  # noqa: S314 - written by this test
    table = points(content).table
    for column, where in VALUES.items():
        theirs = []
        for one in tree.iter("trkpt"):
            among = list(one) if where.own else one.iter()
            texts = [
                (leaf.text or "").strip()
                for leaf in among
                if leaf.tag.rpartition("}")[2] in where.names and not len(leaf)
            ]
            theirs.append(next(iter(texts), "") or None)
        assert table[column].to_list() == theirs
