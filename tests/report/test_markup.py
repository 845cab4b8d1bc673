"""Markup: what is text stays text, names stay themselves, tables can be read."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridelab.report.markup import (
    Column,
    Row,
    anchor,
    chart_name,
    join,
    name,
    shortened,
    slug,
    table,
    tag,
    text,
)
from tests.report.parsed import parse

# Control characters and lone surrogates are replaced; line ends are for the parser to normalise.
PRINTABLE = st.text(st.characters(exclude_categories=["Cs", "Cc"]))


@given(PRINTABLE)
def test_text_is_read_back_as_it_was(raw: str) -> None:
    """The standard library's HTML parser reads the same text out of an element."""
    read = parse(tag("p", text(raw)))
    assert read.text == raw
    assert [one.tag for one in read.everything()] == ["p"]


@given(PRINTABLE)
def test_an_attribute_is_read_back_as_it_was(raw: str) -> None:
    """No value ends its attribute, whatever quotes it holds."""
    (read,) = parse(tag("p", title=raw)).children
    assert read.attributes == {"title": raw}


@given(st.text(st.characters(codec="utf-8")))
def test_no_control_character_reaches_the_page(raw: str) -> None:
    """C0 and C1 controls, which HTML does not allow, are shown as replaced."""
    assert not {
        character for character in text(raw) if ord(character) in {*range(9), *range(11, 32)}
    }


def test_names_of_files_that_are_not_unicode_can_be_written() -> None:
    """A path with bytes that are no text arrives with lone surrogates."""
    assert name("ride-\udcff.fit").encode("utf-8")


def test_a_long_name_keeps_both_its_ends() -> None:
    """What was cut out of the middle stands in the tooltip."""
    raw = "rides/" + "a" * 500 + "/monday.fit"
    shown = shortened(raw)
    assert len(shown) < 100
    assert shown.startswith("rides/")
    assert shown.endswith("/monday.fit")
    (bdi,) = parse(name(raw)).children
    assert bdi.attributes["title"] == raw
    assert bdi.text == shown


NAMES = st.text(max_size=200) | st.text("ab.-_", max_size=4)


@given(st.lists(NAMES, max_size=3), st.lists(NAMES, max_size=3))
def test_two_names_never_share_an_anchor(some: list[str], others: list[str]) -> None:
    """Links go to the one claim of the one vehicle that was meant."""
    assert (anchor("claim", *some) == anchor("claim", *others)) == (some == others)


@given(st.text(max_size=20_000))
def test_an_anchor_is_one_short_plain_word(raw: str) -> None:
    """No character in it means anything to a link; a file can have such a name."""
    word = anchor("ride", raw)
    assert set(word) <= set("abcdefghijklmnopqrstuvwxyz0123456789-_")
    assert len(word) < 100


@pytest.mark.parametrize("device", ["con", "nul", "com1", "lpt9"])
def test_no_word_for_a_file_is_that_of_a_device(device: str) -> None:
    """Such a file could not be written on some systems (from memory: Windows' reserved names)."""
    assert slug(device, "rays").partition(".")[0] != device


@pytest.mark.parametrize("mark", ["\u202e", "\u2066", "\u200f", "\x1b", "\n"])
def test_a_chart_name_stays_in_its_place(mark: str) -> None:
    """Marks that reorder or break a line are replaced, and such a name is told from a plain one."""
    shown = chart_name(f"her{mark}on")
    assert mark not in shown
    assert shown != chart_name("her\ufffdon")
    assert shown != chart_name("her on")


def test_names_alike_at_both_ends_stay_apart_in_a_chart() -> None:
    """A chart groups by name: two vehicles must not become one."""
    one, other = ("x" * 60 + middle + "x" * 60 for middle in "ab")
    assert chart_name(one) != chart_name(other)


def test_a_table_names_its_rows_columns_and_itself() -> None:
    """Caption, scope and a box that can be focused (WCAG 2.2, criteria 1.3.1 and 2.1.1)."""
    columns = [Column("Gear"), Column("Ratio", "number")]
    page = parse(
        table(join([text("Ladder of "), name("a<b")]), columns, [Row([text(1), text(0.7)])])
    )
    (box,) = page.children
    assert box.attributes["tabindex"] == "0"
    assert box.attributes["aria-label"] == "Ladder of a<b"
    assert [head.attributes["scope"] for head in page.all("th")] == ["col", "col", "row"]
    assert page.all("caption")[0].text == "Ladder of a<b"
    assert [cell.text for cell in page.all("td")] == ["0.7"]
