"""The report: one page of HTML that opens from a file, reads the store and computes nothing new.

Each name is loaded when first asked for: a run that changes nothing draws nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ridelab.report.diagnosis import diagnose, illustrate
    from ridelab.report.page import write_report

_HOME = {"diagnose": "diagnosis", "illustrate": "diagnosis", "write_report": "page"}

__all__ = ["diagnose", "illustrate", "write_report"]


def __getattr__(name: str) -> object:
    """Load a name from the file it lives in."""
    if name not in _HOME:
        raise AttributeError(f"module 'ridelab.report' has no attribute {name!r}")
    return getattr(import_module(f"ridelab.report.{_HOME[name]}"), name)
