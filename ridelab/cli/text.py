"""Plain text tables that fit the width they are given."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from rich.cells import cell_len, chop_cells

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

GAP = "  "
NO_BREAK = "\N{NO-BREAK SPACE}"
NARROWEST_TEXT = 24  # columns of running text are not squeezed below this,
SQUEEZED_TEXT = 16  # but for a table that would fall apart otherwise


@dataclass(frozen=True)
class Column:
    """One column of a table: its name, the unit below it, and its cells, all as text.

    ``wraps``: running text that may break into several lines. ``right``: numbers, set to the right.
    """

    name: str
    cells: Sequence[str]
    unit: str = ""
    right: bool = False
    wraps: bool = False

    @property
    def header(self) -> list[str]:
        """The name over as many lines as keep it no wider than it has to be."""
        widest_word = max(map(cell_len, self.name.split()), default=1)
        room = max([widest_word, *map(cell_len, self.cells)])
        return wrapped(self.name, room)

    @property
    def width(self) -> int:
        """Characters that it takes without breaking a cell."""
        return max(map(cell_len, [*self.header, self.unit, *self.cells]))

    def narrowest(self, text: int) -> int:
        """Characters that it can do with; ``text``: those that running text can."""
        return min(self.width, text) if self.wraps else self.width


def layout(columns: Sequence[Column], width: int) -> str:
    """Return the table as text no wider than ``width``, if its single columns allow that.

    Running text is broken into lines, and so is a column of text that alone is wider, whose longest
    cells are cut in the middle. What is still too wide is set as several tables, one below the
    other, each with the first column again.
    """
    columns = [_tamed(column, width) for column in columns]
    gaps = len(GAP) * (len(columns) - 1)
    squeezed = sum(column.narrowest(SQUEEZED_TEXT) for column in columns) + gaps
    usual = sum(column.narrowest(NARROWEST_TEXT) for column in columns) + gaps
    text = SQUEEZED_TEXT if squeezed <= width < usual else NARROWEST_TEXT
    return "\n\n".join(_one_table(block, width, text) for block in _blocks(columns, width, text))


def printable(text: str) -> str:
    r"""Return text from files with what would steer a terminal, or turn its text around, shown.

    Control and format characters become ``\x1b`` and the like; line ends become spaces.
    """
    if text.isprintable():
        return text
    return "".join(_shown(char) for char in text)


def wrapped(text: str, width: int) -> list[str]:
    """Break text at its spaces, and within words that are wider than a line; at least one line.

    A no-break space holds a number and its unit together. Widths are counted as a terminal shows
    them: some characters take two cells.
    """
    lines = [""]
    for word in filter(None, text.split(" ")):
        for piece in chop_cells(word, width):
            joined = f"{lines[-1]} {piece}" if lines[-1] else piece
            if cell_len(joined) <= width:
                lines[-1] = joined
            else:
                lines.append(piece)
    return lines


def counted(number: int, thing: str) -> str:
    """Return "1 ride file", "2 ride files" or "no ride file"."""
    return f"{number or 'no'} {thing}" + ("s" if number > 1 else "")


def _tamed(column: Column, width: int) -> Column:
    if column.wraps or column.right or column.width <= width:
        return column
    return replace(column, cells=[_cut(cell, width) for cell in column.cells], wraps=True)


def _cut(cell: str, most: int) -> str:
    half = most // 2 - 2
    return cell if len(cell) <= most else f"{cell[:half]} … {cell[-half:]}"


def _shown(char: str) -> str:
    if char in "\r\n\t":
        return " "
    if unicodedata.category(char) in {"Cc", "Cf", "Cs", "Zl", "Zp"}:
        return char.encode("unicode_escape").decode()
    return char


def _blocks(columns: Sequence[Column], width: int, text: int) -> list[list[Column]]:
    """Split columns so that each block fits; the first column leads every block."""
    if not columns:
        return []
    key, *others = columns
    blocks, used = [[key]], key.narrowest(text)
    for column in others:
        needed = len(GAP) + column.narrowest(text)
        if used + needed > width and len(blocks[-1]) > 1:
            blocks.append([key])
            used = key.narrowest(text)
        blocks[-1].append(column)
        used += needed
    return blocks


def _one_table(columns: Sequence[Column], width: int, text: int) -> str:
    widths = _widths(columns, width, text)
    heads = [column.header for column in columns]
    depth = max(map(len, heads))
    lines = [
        _line(columns, widths, [([""] * (depth - len(head)) + head)[n] for head in heads])
        for n in range(depth)
    ]
    if any(column.unit for column in columns):
        lines.append(_line(columns, widths, [column.unit for column in columns]))
    lines.append("-" * (sum(widths) + len(GAP) * (len(widths) - 1)))
    for cells in zip(*(column.cells for column in columns), strict=True):
        lines += _row(columns, widths, cells)
    return "\n".join(lines)


def _widths(columns: Sequence[Column], width: int, text: int) -> list[int]:
    """Share the room that is left among running texts, evenly, but to none more than it needs."""
    widths = [column.narrowest(text) for column in columns]
    spare = width - len(GAP) * (len(columns) - 1) - sum(widths)
    modest_first = sorted(range(len(columns)), key=lambda n: columns[n].width - widths[n])
    for served, n in enumerate(modest_first):
        more = min(columns[n].width - widths[n], max(0, spare) // (len(columns) - served))
        widths[n] += more
        spare -= more
    return widths


def _row(columns: Sequence[Column], widths: Sequence[int], cells: Iterable[str]) -> list[str]:
    broken = [
        wrapped(cell, width) if column.wraps else [cell]
        for column, width, cell in zip(columns, widths, cells, strict=True)
    ]
    depth = max(map(len, broken))
    return [
        _line(columns, widths, [part[n] if n < len(part) else "" for part in broken])
        for n in range(depth)
    ]


def _line(columns: Sequence[Column], widths: Sequence[int], texts: Iterable[str]) -> str:
    padded = []
    for column, width, text in zip(columns, widths, texts, strict=True):
        space = " " * (width - cell_len(text))
        padded.append(space + text if column.right else text + space)
    return GAP.join(padded).rstrip()
