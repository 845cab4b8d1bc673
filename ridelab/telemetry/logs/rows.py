"""Bytes of a CSV file -> one row a line: its number, its time as text, its values as numbers."""

from __future__ import annotations

import csv
from typing import TYPE_CHECKING

import polars as pl
from polars import col

from ridelab.telemetry.notes import counted

if TYPE_CHECKING:
    from ridelab.campaign.loggers import Channel, Logger
    from ridelab.telemetry.notes import Notes

#: The header is looked for in this much of the file, beyond the lines to skip.
_HEAD_BYTES = 1 << 16
_LONGEST_LINE = 1 << 20
_BOM = "\ufeff"
#: Least and greatest value that can be, in m/s, turns a minute and degrees.
_BOUNDS = {
    "speed": (0.0, 200.0),
    "wheel_rpm": (0.0, 10_000.0),
    "cadence": (0.0, 1_000.0),
    "latitude": (-90.0, 90.0),
    "longitude": (-180.0, 180.0),
}
_ANY = (-1e15, 1e15)


def header(content: bytes, logger: Logger) -> list[str]:
    """The names of the columns as this logger's files have them; empty where there is no line."""
    head = content[: _HEAD_BYTES + logger.skip_rows * 1024]
    lines = _lines(head.decode(logger.encoding, "replace")).split("\n", logger.skip_rows + 1)
    return _fields(lines[logger.skip_rows], logger) if len(lines) > logger.skip_rows else []


def read(content: bytes, logger: Logger, notes: Notes) -> pl.DataFrame:
    """Columns ``line`` (from 1), ``time`` (text) and one a channel, numbers in SI or turns.

    A value that is no number is null, rows that hold another number of fields than the header are
    left out; both are counted, with the line of the first.
    """
    text = pl.Series("text", [_lines(content.decode(logger.encoding, "replace"))])
    lines = text.str.split("\n").explode().to_frame().with_row_index("line", offset=1)
    lines = lines[logger.skip_rows :]
    names = _fields(lines["text"][0], logger)
    lines = lines[1:].filter(col("text").str.strip_chars() != "")
    lines = _whole(lines, len(names), logger, notes)
    cells = _cells(lines["text"], names, logger)
    wanted = {"time": logger.time.column} | {one.quantity: one.column for one in logger.channels}
    picked = cells.select(
        pl.nth(names.index(column)).alias(name) for name, column in wanted.items()
    )
    table = pl.concat([lines.select("line"), picked], how="horizontal")
    return _numbers(table, logger, notes)


def _lines(text: str) -> str:
    return text.removeprefix(_BOM).replace("\r\n", "\n").replace("\r", "\n")


def _fields(line: str, logger: Logger) -> list[str]:
    """The fields of one line; an empty last one, which many loggers leave, is kept."""
    try:
        fields = next(csv.reader([line[:_LONGEST_LINE]], delimiter=logger.delimiter), [])
    except csv.Error:
        return []
    return [field.strip() for field in fields]


def _whole(lines: pl.DataFrame, width: int, logger: Logger, notes: Notes) -> pl.DataFrame:
    """Leave out the lines with another number of fields; one empty field more is none."""
    unquoted = col("text").str.replace_all(r'"[^"]*"', "")
    fields = unquoted.str.count_matches(logger.delimiter, literal=True) + 1
    spare = (fields == width + 1) & col("text").str.strip_chars_end(" ").str.ends_with(
        logger.delimiter
    )
    odd = lines.filter((fields != width) & ~spare)
    if len(odd):
        notes.warn(
            f"{counted(len(odd), 'row')} without {width} fields, the first in line "
            f"{odd['line'][0]}: left out"
        )
        lines = lines.filter((fields == width) | spare)
    return lines


def _cells(lines: pl.Series, names: list[str], logger: Logger) -> pl.DataFrame:
    """Split lines into columns of text; of as many fields each as there are names."""
    fields = {f"{place}": pl.String() for place in range(len(names))}
    if lines.is_empty():
        return pl.DataFrame(schema=fields)
    content = lines.str.join("\n").item().encode()

    def parsed(quote: str | None) -> pl.DataFrame:
        return pl.read_csv(
            content,
            has_header=False,
            separator=logger.delimiter,
            quote_char=quote,
            schema=fields,
            extra_columns="ignore",
            missing_columns="insert",
        )

    if '"' in content.decode():
        try:
            cells = parsed('"')
        except pl.exceptions.PolarsError:
            cells = None
        if cells is not None and len(cells) == len(lines):
            return cells
    return parsed(None)


def _numbers(table: pl.DataFrame, logger: Logger, notes: Notes) -> pl.DataFrame:
    read = table.with_columns(_number(channel, logger) for channel in logger.channels)
    names = [channel.quantity for channel in logger.channels]
    told = {name: table[name].fill_null("").str.strip_chars() != "" for name in names}
    lost = [told[name] & read[name].is_null() for name in names]
    bad = pl.DataFrame(lost).select(pl.any_horizontal(pl.all())).to_series()
    if bad.any():
        number = sum(int(one.sum()) for one in lost)
        first = table["line"].filter(bad)[0]
        notes.warn(
            f"{counted(number, 'value')} that cannot be read or cannot be, the first in line "
            f"{first}: left out"
        )
    return read


def _number(channel: Channel, logger: Logger) -> pl.Expr:
    text = col(channel.quantity).str.strip_chars(' "')
    if logger.decimal == ",":
        text = text.str.replace(",", ".", literal=True)
    value = text.cast(pl.Float64, strict=False) * channel.si
    return pl.when(value.is_between(*_BOUNDS.get(channel.quantity, _ANY))).then(value)
