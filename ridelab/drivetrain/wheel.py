"""Tyre designation -> rollout: metres travelled for one turn of the driven wheel."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Tyre:
    """An ISO 5775 designation such as 47-622: section width and bead seat diameter, millimetres."""

    section_mm: float
    bead_seat_mm: float
