"""What a person should know about an input: every room hands these up beside its result."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Severity = Literal["note", "warning", "error"]

#: How a message ends that costs a ride its gears.
NO_GEAR = ": no gear can be named"


@dataclass(frozen=True)
class Problem:
    """A row of the relation ``problems``.

    ``severity`` is ``note`` (nothing lost), ``warning`` (used, but something was lost or is
    doubtful) or ``error`` (the file was set aside).
    """

    path: str
    stage: str
    severity: Severity
    message: str
