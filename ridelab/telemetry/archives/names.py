"""Names inside an archive: for display only, so nothing in one can name a place outside it."""

from __future__ import annotations

import re

_LONGEST = 200  # characters; the end of a name tells more than its beginning
_UNPRINTABLE = "\N{REPLACEMENT CHARACTER}"
_DRIVE = re.compile(r"^[A-Za-z]:")


def shown_name(name: str, place: int) -> str:
    """Return a member's name as a relative path of printable characters without ``..``.

    ``place`` names a member whose name comes to nothing.
    """
    parts = _DRIVE.sub("", name.replace("\\", "/")).split("/")
    kept = "/".join(part for part in parts if part not in ("", ".", ".."))
    printable = "".join(
        sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in kept
    )
    return printable[-_LONGEST:].lstrip("/") or f"member {place}"


def leads_outside(name: str) -> bool:
    """Whether a name is absolute or climbs out of its folder: no honest archive has such names."""
    plain = name.replace("\\", "/")
    return plain.startswith("/") or bool(_DRIVE.match(plain)) or ".." in plain.split("/")


def is_hidden(name: str) -> bool:
    """Whether it is a hidden file, such as some systems put beside each real one when packing."""
    *folders, last = name.replace("\\", "/").split("/")
    return (last.startswith(".") and last.strip(".") != "") or "__MACOSX" in folders


def apart(name: str, taken: dict[str, int]) -> str:
    """Return the name, with a number behind it if it is taken, and take it.

    ``taken``: how often each name was asked for.
    """
    free = name
    while free in taken:
        taken[name] += 1
        free = f"{name} ({taken[name]})"
    taken[free] = 1
    return free
