"""Finds ``sql/`` and ``pipelines/``: beside the package in a checkout, inside it in a wheel."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable


def data_dir(name: str) -> Traversable:
    """Return the folder ``sql`` or ``pipelines`` of this installation.

    Raises:
        FileNotFoundError: the installation is incomplete.
    """
    packed = files("ridelab").joinpath(f"_{name}")
    if packed.is_dir():
        return packed
    beside = Path(__file__).resolve().parents[1] / name
    if beside.is_dir():
        return beside
    raise FileNotFoundError(f"{name}/ is neither in the package, {packed}, nor beside it, {beside}")
