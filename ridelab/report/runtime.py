"""The script that draws charts, made once for each version of the package that it comes out of.

To put it together takes a second, as long as all else that a page of ten vehicles takes; so it is
kept where this person's programs keep what can be made again.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
from contextlib import suppress
from importlib.metadata import version
from pathlib import Path

from ridelab.report.pictures import GRAMMAR

_PACKAGE = "vl-convert-python"
_SNIPPET = "window.vegaEmbed = vegaEmbed;"
#: Of the SHA-256 in the name: tells a file that is not whole.
_DIGITS = 16


def chart_runtime() -> str:
    """Return the script that draws charts, as one piece that needs nothing else.

    It comes out of an installed package; nothing is fetched. Where it cannot be kept, it is made
    anew each time.
    """
    stem = f"charts-{version(_PACKAGE)}-{GRAMMAR}"
    folder = _folder()
    kept = _kept(folder, stem)
    if kept is not None:
        return kept
    made = _made()
    with suppress(OSError):
        _keep(folder, stem, made)
    return made


def _made() -> str:
    import vl_convert

    return str(vl_convert.javascript_bundle(_SNIPPET, vl_version=GRAMMAR))


def _folder() -> Path:
    """Return where this person's programs keep what can be made again (XDG, or Windows' place)."""
    stated = os.environ.get("XDG_CACHE_HOME") or os.environ.get("LOCALAPPDATA")
    return (Path(stated) if stated else Path("~/.cache").expanduser()) / "ridelab"


def _kept(folder: Path, stem: str) -> str | None:
    """Return what was kept, None where there is none, or not all of it."""
    with suppress(OSError, UnicodeDecodeError):
        for file in sorted(folder.glob(f"{stem}-*.js")):
            script = file.read_bytes().decode()
            if file.name == _name(stem, script):
                return script
    return None


def _keep(folder: Path, stem: str, script: str) -> None:
    """Write beside and rename: who reads meanwhile finds all of it or nothing.

    Raises:
        OSError: it cannot be written.
    """
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    handle, beside = tempfile.mkstemp(dir=folder, prefix=f".{stem}-", suffix=".js")
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
            file.write(script)
        Path(beside).replace(folder / _name(stem, script))
    finally:
        Path(beside).unlink(missing_ok=True)


def _name(stem: str, script: str) -> str:
    return f"{stem}-{hashlib.sha256(script.encode()).hexdigest()[:_DIGITS]}.js"
