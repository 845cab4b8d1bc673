"""Tyre designation -> rollout: metres travelled for one turn of the driven wheel."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from ridelab.errors import NotAccepted

#: Where the true rollout may lie beside a stated one, relative, least and most. Nominal: a loaded
#: tyre flattens and rolls 1 to 3 % less, give or take 1 % for its tread and section. Measured with
#: the rider aboard: what pressure, warmth and the tape leave open. Common practice, no source.
ROLLOUT_SPAN = {"nominal": (-0.04, 0.01), "measured": (-0.005, 0.005)}

_DESIGNATION = re.compile(r"([0-9]{2,3})-([0-9]{3})", re.ASCII)
_SECTION_MM = (10, 120)
_BEAD_SEAT_MM = (100, 700)
_ACCEPTED = (
    "the ISO 5775 designation on the tyre's side, section width and bead seat diameter in mm, such "
    f"as '47-622' ({_SECTION_MM[0]}–{_SECTION_MM[1]} and {_BEAD_SEAT_MM[0]}–{_BEAD_SEAT_MM[1]} mm)"
)


@dataclass(frozen=True)
class Tyre:
    """An ISO 5775 designation such as 47-622: section width and bead seat diameter, millimetres."""

    section_mm: float
    bead_seat_mm: float

    @classmethod
    def parse(cls, designation: str) -> Tyre:
        """Read "47-622". A bead seat diameter outside the standard's list is taken as it stands.

        Raises:
            NotAccepted: another form, or a tyre that no cycle runs on.
        """
        match = _DESIGNATION.fullmatch(designation.strip())
        if match is None:
            raise NotAccepted(repr(designation[:40]), _ACCEPTED)
        section_mm, bead_seat_mm = int(match[1]), int(match[2])
        if not (
            _SECTION_MM[0] <= section_mm <= _SECTION_MM[1]
            and _BEAD_SEAT_MM[0] <= bead_seat_mm <= _BEAD_SEAT_MM[1]
        ):
            raise NotAccepted(f"{designation!r}, a tyre that no cycle runs on", _ACCEPTED)
        return cls(section_mm, bead_seat_mm)

    @property
    def designation(self) -> str:
        """The ISO 5775 designation, as in ``Tyre.parse``."""
        return f"{self.section_mm:.0f}-{self.bead_seat_mm:.0f}"

    @property
    def nominal_rollout_m(self) -> float:
        """Metres for one turn of the unloaded wheel: π × (bead seat diameter + 2 × section width).

        The section height is taken to equal its width. A loaded tyre rolls less, and a rim
        narrower or wider than the tyre's own changes its section (``ROLLOUT_SPAN``); a measured
        rollout beats this value.
        """
        return math.pi * (self.bead_seat_mm + 2 * self.section_mm) / 1000


def accepted_rollout_m(stated_m: float, is_measured: bool) -> tuple[float, float]:
    """Return the least and the most, in metres, that a wheel of this stated rollout may roll."""
    least, most = ROLLOUT_SPAN["measured" if is_measured else "nominal"]
    return stated_m * (1 + least), stated_m * (1 + most)
