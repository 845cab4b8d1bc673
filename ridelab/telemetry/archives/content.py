"""What one file, or one member of an archive, holds."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from ridelab.problems import Problem


@dataclass(frozen=True)
class Content:
    """Bytes to be read as a ride, or why there are none.

    Attributes:
        path: of the file; inside an archive ``rides.zip/monday.fit``, a place for display only.
        data: the bytes, unpacked; empty where ``refusal`` says why they cannot be had.
        inside: the part of ``path`` that is inside an archive, empty for a file of its own.
        problems: what was odd about unpacking it.
        refusal: why it cannot be had, in words without the path; empty otherwise.
    """

    path: Path
    data: bytes
    inside: str = ""
    problems: tuple[Problem, ...] = ()
    refusal: str = ""

    @cached_property
    def sha256(self) -> str:
        """SHA-256 of the bytes in hexadecimal."""
        return hashlib.sha256(self.data).hexdigest()
