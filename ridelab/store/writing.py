"""Relations written to files, as Parquet for programs and as CSV for spreadsheets.

DuckDB writes them itself, row by row, so that no relation has to fit into memory.

A spreadsheet takes text that begins with =, +, -, @, a tab or a line end for a formula, and runs
it. In CSV such text gets an apostrophe in front, and every text is quoted (OWASP Application
Security Verification Standard 5.0, 1.2.10, which adds NUL, and RFC 4180; the carriage return and
the line feed after OWASP's page on CSV injection). Numbers stay numbers, also negative ones.
"""

from __future__ import annotations

import hashlib
import re
from typing import TYPE_CHECKING

from ridelab.store.database import literal, quoted

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

    from ridelab.store.database import Database

#: Types that a spreadsheet takes as they are; whatever else there is becomes text.
_PLAIN = re.compile(
    r"BOOLEAN|U?(TINY|SMALL|BIG|HUGE)?INT(EGER)?|DECIMAL\(.*\)|DATE|TIME|TIMESTAMP.*|FLOAT|DOUBLE"
)
#: Letters of a file's name, without its ending; file systems take 255 bytes, some programs fewer.
_LONGEST_STEM, _DIGEST = 100, 16
_REAL = frozenset({"FLOAT", "DOUBLE"})
#: Types that Parquet, or those who read it, have no counterpart for.
_FOREIGN = ("INTERVAL", "TIME WITH TIME ZONE", "UNION", "BIGNUM", "BIT", "VARIANT")
#: What begins a formula; spreadsheets take the wide signs for the narrow ones.
_RISKY = "=+-@\t\r\n\0＝＋－＠"


def file_stem(relation: str) -> str:
    """Return a name for the files of a relation that every file system takes.

    Two relations have two names; all but small letters, digits and _ is written as %XX. A long one
    is cut, and told apart by its SHA-256, behind a hyphen that no other has.
    """
    stem = "".join(
        char if char.isascii() and (char.islower() or char.isdigit() or char == "_") else _hex(char)
        for char in relation
    )
    if len(stem) <= _LONGEST_STEM:
        return stem
    digest = hashlib.sha256(relation.encode("utf-8", "surrogatepass")).hexdigest()
    return f"{stem[: _LONGEST_STEM - _DIGEST - 1]}-{digest[:_DIGEST]}"


def harmless(text: str) -> str:
    """Return text that no spreadsheet takes for a formula."""
    return f"'{text}" if text[:1] and text[0] in _RISKY else text


def write_parquet(
    database: Database, relation: str, columns: Sequence[tuple[str, str]], file: Path
) -> None:
    """Write a relation as Parquet; ``columns``: name and type of each."""
    chosen = ", ".join(
        f"cast({quoted(name)} as varchar) as {quoted(name)}"
        if any(word in kind for word in _FOREIGN)
        else quoted(name)
        for name, kind in columns
    )
    _copy(database, relation, chosen, columns, f"{literal(str(file))} (format parquet)")


def write_csv(
    database: Database, relation: str, columns: Sequence[tuple[str, str]], file: Path
) -> None:
    """Write a relation as CSV for spreadsheets; what is not a finite number is left empty."""
    chosen = ", ".join(
        f"{_cell(quoted(name), kind)} as {quoted(harmless(name))}" for name, kind in columns
    )
    texts = ", ".join(quoted(harmless(name)) for name, kind in columns if not _is_plain(kind))
    force = f", force_quote ({texts})" if texts else ""
    _copy(database, relation, chosen, columns, f"{literal(str(file))} (format csv, header{force})")


def _copy(
    database: Database,
    relation: str,
    chosen: str,
    columns: Sequence[tuple[str, str]],
    target: str,
) -> None:
    order = _order(name for name, _ in columns)
    rows = f"select {chosen} from {quoted(relation)} order by {order}"  # noqa: S608 - quoted
    database.execute(f"copy ({rows}) to {target}")


def _order(columns: Iterable[str]) -> str:
    """Return what makes the order of rows that of their content; of samples their key does."""
    return "ride, n" if {"ride", "n"} <= set(columns) else "all"


def _cell(name: str, kind: str) -> str:
    if kind in _REAL:
        return f"case when isfinite({name}) then {name} end"
    if _is_plain(kind):
        return name
    text = f"hex({name})" if kind == "BLOB" else f"cast({name} as varchar)"
    risky = " or ".join(f"starts_with({text}, chr({ord(char)}))" for char in _RISKY)
    return f"case when {risky} then chr(39) || {text} else {text} end"


def _is_plain(kind: str) -> bool:
    return _PLAIN.fullmatch(kind) is not None


def _hex(char: str) -> str:
    return "".join(f"%{byte:02X}" for byte in char.encode("utf-8", "surrogatepass"))
