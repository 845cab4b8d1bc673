"""Packs small archives by the standard library, an implementation outside the project."""

from __future__ import annotations

import io
import zipfile
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping


def zip_of(members: Mapping[str, bytes], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    """A ZIP archive; a name that ends in / is a folder."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method) as archive:
        for name, content in members.items():
            archive.writestr(zipfile.ZipInfo(name), content, method)
    return out.getvalue()
