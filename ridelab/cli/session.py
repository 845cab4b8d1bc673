"""What holds for one run of the command line, whatever the command."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass
class Session:
    """``debug``: show the traceback of any error."""

    debug: bool = False
