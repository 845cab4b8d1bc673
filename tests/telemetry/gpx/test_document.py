"""XML as it is found: encodings, markup that is no element, damage, and what is refused."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridelab.errors import DamagedFile
from ridelab.telemetry import gpx
from ridelab.telemetry.gpx.document import root_name, well_formed
from ridelab.telemetry.gpx.tags import Tags
from ridelab.telemetry.notes import Notes
from tests.telemetry.gpxtext import gpx as whole
from tests.telemetry.gpxtext import one_track, point, ride, segment, track

if TYPE_CHECKING:
    from ridelab.telemetry.ride import Ride

_PATH = Path("ride.gpx")


def read(content: str | bytes) -> Ride:
    """Read a GPX file of that content."""
    return gpx.read(_PATH, content.encode() if isinstance(content, str) else content)


def told(found: Ride) -> list[str]:
    """Texts of the problems."""
    return [problem.message for problem in found.problems]


@pytest.mark.parametrize(
    "content",
    [
        b"<gpx/>",
        b"\xef\xbb\xbf \n<?xml version='1.0'?>\n<!-- <kml> -->\n<?style x?><gpx version='1.1'>",
        b"<!DOCTYPE gpx [<!ENTITY a 'b'>]><gpx>",
        b"<n0:gpx xmlns:n0='urn:x'>",
        "<?xml version='1.0' encoding='UTF-16'?><gpx>".encode("utf-16"),
        "<gpx>".encode("utf-16-be"),
    ],
)
def test_a_file_is_known_by_its_root_element(content: bytes) -> None:
    """Whatever stands before it, in whatever encoding."""
    assert gpx.sniff(content)


@pytest.mark.parametrize(
    "content",
    [b"", b"gpx", b"<kml><gpx/></kml>", b"<!-- <gpx> -->", b"<gpxx>", b"\0\1\2.FIT", b"<?gpx?>"],
)
def test_other_files_are_left_to_other_readers(content: bytes) -> None:
    """A mention of the name makes no GPX file."""
    assert not gpx.sniff(content)


def test_the_root_is_found_in_linear_time() -> None:
    """A hundred thousand openings of a comment that never ends."""
    assert root_name(b"<?a?>" * 10_000 + b"<!--" * 100_000) == ""


ENCODINGS = ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "iso-8859-1", "cp1252"]


@pytest.mark.parametrize("encoding", ENCODINGS)
def test_encodings_read_the_same(encoding: str) -> None:
    """With a byte order mark, or told by the declaration, or by the zero bytes."""
    name = encoding.removesuffix("-sig").removesuffix("-le").removesuffix("-be")
    declaration = f'<?xml version="1.0" encoding="{name}"?>'
    content = whole(track(segment(ride())), declaration=declaration).replace("invented", "Mühle")
    found = read(content.encode(encoding))
    assert found.problems == read(one_track(ride())).problems
    assert found.samples.equals(read(one_track(ride())).samples)


def test_an_encoding_that_nobody_knows_is_told() -> None:
    """With what would be accepted."""
    declaration = '<?xml version="1.0" encoding="x-private"?>'
    with pytest.raises(DamagedFile, match="encoding 'x-private' is not known; accepted: UTF-8"):
        read(whole(track(segment(ride())), declaration=declaration))


def test_signs_of_another_encoding_cost_nothing_but_themselves() -> None:
    """A name in ISO-8859-1 in a file that says UTF-8."""
    found = read(one_track(ride()).replace("invented", "Mühle").encode("iso-8859-1"))
    assert len(found.samples) == 5
    assert any(text == "not UTF-8 throughout: 1 sign replaced" for text in told(found))


def test_space_before_the_declaration_is_no_damage() -> None:
    """Seen where a server writes an empty line first."""
    assert read("\n \n" + one_track(ride())).problems == read(one_track(ride())).problems


def test_comments_instructions_and_sections_are_no_elements() -> None:
    """Tags in them are text, a value in a CDATA section is a value."""
    odd = point(
        1,
        5.0,
        "<!-- <ele>1</ele> <trkpt> -->",
        "<?pi <ele>2</ele> ?>",
        "<ele><![CDATA[3]]></ele><desc><![CDATA[<ele>4</ele>]]></desc>",
    )
    found = read(one_track(point(0), odd, point(2, 10.0)))
    assert found.samples["altitude_m"].to_list() == [None, 3.0, None]


def test_character_references_are_resolved() -> None:
    """XML 1.0, 4.1: in values and attributes alike."""
    found = read(one_track(point(0, 0.0, "<ele>&#49;2&#x2e;5</ele>")).replace("0.0", "&#48;"))
    assert found.samples["altitude_m"].to_list() == [12.5]
    assert found.samples["lon_deg"].to_list() == [0.0]


def test_brackets_in_attributes_and_text_end_no_tag() -> None:
    """``>`` may stand in both (XML 1.0, 2.4)."""
    odd = point(1, 5.0, "<ele>7</ele>").replace("<trkpt", "<trkpt note='a/>b' more=\"c'>\"")
    content = one_track(point(0), odd, point(2, 10.0)).replace("invented", "there > back")
    assert read(content).samples["altitude_m"].to_list() == [None, 7.0, None]


BOMB = """<!DOCTYPE lolz [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">
<!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;&b;&b;">]>"""
OUTSIDE = '<!DOCTYPE gpx [<!ENTITY out SYSTEM "file:///etc/passwd">]>'


@pytest.mark.parametrize("doctype", [BOMB, OUTSIDE, '<!DOCTYPE gpx SYSTEM "http://x.invalid/d">'])
def test_a_doctype_is_refused(doctype: str) -> None:
    """Entities that expand without end, or fetch files (OWASP: XML external entities)."""
    with pytest.raises(DamagedFile, match=r"ride.gpx: it declares a DOCTYPE.*accepted: GPX"):
        read(one_track(ride()).replace("<gpx", f"{doctype}<gpx", 1))


def test_deep_nesting_is_read() -> None:
    """A hundred thousand elements, one inside the other, outside the points."""
    deep = "<a>" * 100_000 + "</a>" * 100_000
    assert len(read(whole(f"<extensions>{deep}</extensions>", track(segment(ride())))).samples) == 5


def test_a_file_cut_at_any_byte_keeps_every_complete_point() -> None:
    """And says in which line it breaks off; without a complete point it is damaged."""
    content = one_track(ride(3)).encode()
    ends = [
        i + len(b"</trkpt>") for i in range(len(content)) if content[i:].startswith(b"</trkpt>")
    ]
    for cut in range(40, len(content) - 1):
        complete = sum(end <= cut for end in ends)
        if not complete:
            with pytest.raises(DamagedFile):
                read(content[:cut])
            continue
        found = read(content[:cut])
        assert len(found.samples) == complete
        assert f"at line {content.count(bytes([10]), 0, cut) + 1}, column " in told(found)[0]
        assert "breaks off" in told(found)[0]


@pytest.mark.parametrize("broken", ["Fish & chips", "&nbsp;", "a < b", "\x00\x01\x02"])
def test_a_name_that_is_no_xml_costs_no_point(broken: str) -> None:
    """Reading goes on at the next element that holds a track."""
    found = read(one_track(ride()).replace("invented", broken))
    assert len(found.samples) == 5
    assert "not XML (" in told(found)[0]
    assert "skipped" in told(found)[0]


def test_points_on_either_side_of_a_damage_are_kept() -> None:
    """Zeros in the middle of a file: the points they touch are lost, and no others."""
    content = bytearray(one_track(ride(20)).encode())
    at = content.index(point(9, 45.0, cad=60).encode())
    content[at + 20 : at + 40] = bytes(20)
    found = read(bytes(content))
    assert found.samples["t_s"].to_list() == [float(t) for t in range(20) if t != 9]
    assert "1 point without an end: left out" in told(found)


def test_files_strung_together_are_one_ride() -> None:
    """A second declaration and root behind the first."""
    found = read(one_track(ride()) + one_track(ride(start_s=10)))
    assert found.samples["t_s"].to_list() == [0.0, 1.0, 2.0, 3.0, 4.0, 10.0, 11.0, 12.0, 13.0, 14.0]


def test_a_file_full_of_damage_is_told_in_few_lines() -> None:
    """The first three, and how much the others cost."""
    content = one_track(*(point(t, 5.0 * t) + "<a>&b</a>" for t in range(50)))
    found = read(content)
    assert len(found.samples) == 50
    assert len(found.problems) < 8
    assert any("47 more breaks of that kind" in text for text in told(found))


SIGNS = st.characters(exclude_categories=["Cs"], exclude_characters="\0")
TEXT = st.text(st.sampled_from("ab <>&'\"/!?-[]=;#x1\n") | SIGNS, max_size=12)


@given(st.lists(st.sampled_from(["<a>", "</a>", "<b c='d>'/>", "<!-- x -->", "&amp;"]) | TEXT))
def test_markup_left_over_is_what_the_parser_accepts(parts: list[str]) -> None:
    """Of a file that is well-formed, against ElementTree: the same elements in the same order."""
    content = f"<r>{''.join(parts)}</r>"
    try:
        tree = ElementTree.fromstring(content)  # noqa: S314 - written by this test
        theirs = [one.tag for one in tree.iter()]
    except ElementTree.ParseError:
        return
    notes = Notes(_PATH)
    tags = Tags(well_formed(_PATH, content.encode(), notes))
    every = np.arange(len(tags.closing))
    ours = tags.inner(every[~tags.closing]).to_list()
    assert not notes.problems
    assert [tag.split()[0].rstrip("/") for tag in ours] == theirs
    assert tags.depth[-1] == 0
