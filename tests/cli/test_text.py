"""Text tables: aligned, within the width, and safe to print."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from ridelab.cli.text import NARROWEST_TEXT, Column, counted, layout, printable


def test_table_is_aligned_under_its_header() -> None:
    """Text to the left, numbers to the right, unit below the name."""
    table = layout(
        [
            Column("vehicle", ["heron", "egret"]),
            Column("speed", ["7.0", "12.5"], unit="km/h", right=True),
        ],
        80,
    )
    assert table.splitlines() == [
        "vehicle  speed",
        "          km/h",
        "--------------",
        "heron      7.0",
        "egret     12.5",
    ]


def test_long_names_break_above_narrow_columns() -> None:
    """A column of short numbers stays narrow whatever its name."""
    table = layout([Column("cadence before", ["80"], right=True)], 80)
    assert table.splitlines() == ["cadence", " before", "-------", "     80"]


def test_running_text_is_broken_to_fit() -> None:
    """A long reason takes several lines beside its verdict."""
    reason = "gear 9 was not ridden long enough: ride 60 s of steady pedalling in it"
    table = layout([Column("verdict", ["undecided"]), Column("reason", [reason], wraps=True)], 60)
    assert max(map(len, table.splitlines())) <= 60
    assert " ".join(line[11:] for line in table.splitlines()[2:]) == reason


def test_wide_relations_become_several_tables() -> None:
    """What does not fit goes below, led by the first column again."""
    columns = [Column(f"c{n}", ["x" * 20]) for n in range(8)]
    blocks = layout(columns, 80).split("\n\n")
    assert [block.splitlines()[0].split() for block in blocks] == [
        ["c0", "c1", "c2"],
        ["c0", "c3", "c4"],
        ["c0", "c5", "c6"],
        ["c0", "c7"],
    ]


def test_no_rows_still_have_a_header() -> None:
    """An empty relation shows what it would hold."""
    assert layout([Column("gear", []), Column("ratio", [])], 80).splitlines()[0] == "gear  ratio"


words = st.text(st.characters(categories=("L", "N", "P", "Zs")), max_size=60)


def test_text_is_squeezed_further_before_a_table_falls_apart() -> None:
    """Beside 57 characters and a gap 21 of 80 are left; beside 66 too few for any text."""
    label = "gearbox 1 · hub 6 = gearbox 4 · hub 1"

    def table(*digits: int) -> str:
        numbers = (Column("n", ["1" * wide], right=True) for wide in digits)
        return layout([Column("label", [label], wraps=True), *numbers], 80)

    lines = table(27, 28).splitlines()
    assert [line[:21].rstrip() for line in lines[2:]] == [
        "gearbox 1 · hub 6 =",
        "gearbox 4 · hub 1",
    ]
    assert "\n\n" not in table(27, 28)
    apart = table(32, 32).split("\n\n")
    assert [one.splitlines()[2][:37] for one in apart] == [label, label]


@given(
    st.lists(st.tuples(words, words, st.integers(0, 10**6)), min_size=1, max_size=5),
    st.integers(60, 120),
)
def test_no_line_is_wider_than_asked(rows: list[tuple[str, str, int]], width: int) -> None:
    """Whatever the text, counting characters that take two cells."""
    first, second, numbers = zip(*rows, strict=True)
    table = layout(
        [
            Column("one", first, wraps=True),
            Column("two", second, wraps=True),
            Column("n", list(map(str, numbers)), right=True),
        ],
        width,
    )
    assert max(map(cell_len, table.splitlines())) <= max(width, 2 * NARROWEST_TEXT)


@pytest.mark.parametrize(
    ("text", "safe"),
    [
        ("harbour loop, ±5 %", "harbour loop, ±5 %"),
        ("\x1b[31mred", r"\x1b[31mred"),
        ("two\nlines\tand tab", "two lines and tab"),
        ("left\u202eright", r"left\u202eright"),
        ("bell\x07", r"bell\x07"),
        ("half \ud800", r"half \ud800"),
    ],
)
def test_control_characters_are_shown_not_sent(text: str, safe: str) -> None:
    """A file name cannot steer the terminal."""
    assert printable(text) == safe


@pytest.mark.parametrize(
    ("number", "text"), [(0, "no ride file"), (1, "1 ride file"), (12, "12 ride files")]
)
def test_counted(number: int, text: str) -> None:
    """Singular, plural, none."""
    assert counted(number, "ride file") == text


def test_a_name_longer_than_the_line_is_broken_and_cut() -> None:
    """Its ends are kept; what fits on a line is not touched."""
    name = "first" + "x" * 10_000 + "last"
    long, short = Column("vehicle", [name, "heron"]), Column("kind", ["trike", "bicycle"])
    lines = layout([long, short], 80).splitlines()
    assert max(map(len, lines)) <= 80
    assert len(lines) < 12
    said = " ".join(line.split("  ")[0] for line in lines)
    assert "first" in said
    assert "last" in said
    assert "f" * 64 in layout([Column("hash", ["f" * 64, "0"]), short], 80)
