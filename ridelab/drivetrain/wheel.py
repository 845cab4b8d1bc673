"""Tyre designation -> rollout: metres travelled for one turn of the driven wheel."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from ridelab.drivetrain.tyre_names import LISTED_BEAD_SEATS_MM, common_names, read_name
from ridelab.errors import NotAccepted

#: How much less than its nominal rollout a tyre rolls under its load, relative, least and most.
#: Common practice, no source.
LOADED_LESS = (0.01, 0.03)

#: Where the true rollout may lie beside a stated one, relative, least and most. Nominal: a loaded
#: tyre flattens and rolls 1 to 3 % less, give or take 1 % for its tread and section. Measured with
#: the rider aboard: what pressure, warmth and the tape leave open. Common practice, no source.
ROLLOUT_SPAN = {"nominal": (-0.04, 0.01), "measured": (-0.005, 0.005)}

_DESIGNATION = re.compile(r"([0-9]{2,3})\s*([-–x×])\s*([0-9]{3})", re.ASCII | re.IGNORECASE)
_TURNED_ROUND = re.compile(r"([0-9]{3})\s*[-–x×]\s*([0-9]{2})", re.ASCII | re.IGNORECASE)
_SECTION_MM = (10, 120)
_BEAD_SEAT_MM = (100, 700)
_LONGEST = 40  # characters; no name is longer
_ACCEPTED = (
    "the ISO 5775 designation on the tyre's side, section width and bead seat diameter in mm, such "
    f"as '47-622' ({_SECTION_MM[0]}–{_SECTION_MM[1]} and {_BEAD_SEAT_MM[0]}–{_BEAD_SEAT_MM[1]} mm) "
    "or a name that means one rim, such as '26 × 1.75', '20 × 1 3/8' or '700 × 25C'"
)


@dataclass(frozen=True)
class Tyre:
    """An ISO 5775 designation such as 47-622: section width and bead seat diameter, millimetres."""

    section_mm: float
    bead_seat_mm: float

    @classmethod
    def parse(cls, designation: str) -> Tyre:
        """Read "47-622", or an older name that means one rim: "26 × 1.75", "700 × 25C".

        Dash and spaces of a designation are free, and × is taken for the dash before a bead seat
        diameter of the standard's list. With the dash, one outside the list is taken as it stands.

        Raises:
            NotAccepted: another form, a name of several rims, or a tyre that no cycle runs on.
        """
        text = designation.strip()
        match = _DESIGNATION.fullmatch(text)
        if match and (match[2] in "-–" or int(match[3]) in LISTED_BEAD_SEATS_MM):
            section_mm, bead_seat_mm = int(match[1]), int(match[3])
        else:
            section_mm, bead_seat_mm = _by_name(designation)
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
    def names(self) -> tuple[str, ...]:
        """Older names of this tyre that mean no other rim, such as "26 × 1.75"; often none."""
        return common_names(self.section_mm, self.bead_seat_mm)

    @property
    def nearest_listed_mm(self) -> int | None:
        """The nearest bead seat diameter in use, None where its own is in use."""
        if self.bead_seat_mm in LISTED_BEAD_SEATS_MM:
            return None
        return min(LISTED_BEAD_SEATS_MM, key=lambda listed: abs(listed - self.bead_seat_mm))

    @property
    def nominal_rollout_m(self) -> float:
        """Metres for one turn of the unloaded wheel: π × (bead seat diameter + 2 × section width).

        The section height is taken to equal its width. A loaded tyre rolls less, and a rim
        narrower or wider than the tyre's own changes its section (``ROLLOUT_SPAN``); a measured
        rollout beats this value.
        """
        return math.pi * (self.bead_seat_mm + 2 * self.section_mm) / 1000

    @property
    def loaded_rollout_m(self) -> tuple[float, float]:
        """Between which rollouts, in metres, the loaded wheel lies as a rule (``LOADED_LESS``)."""
        least, most = LOADED_LESS
        return self.nominal_rollout_m * (1 - most), self.nominal_rollout_m * (1 - least)


def _by_name(text: str) -> tuple[int, int]:
    """Read an older name; what is none is refused, told if turned round."""
    found = read_name(text) if len(text) <= _LONGEST else None
    if found is not None:
        return found
    turned = _TURNED_ROUND.fullmatch(text.strip())
    meant = f"did you mean '{turned[2]}-{turned[1]}'? " if turned else ""
    raise NotAccepted(repr(text[:_LONGEST]), meant + _ACCEPTED)


def accepted_rollout_m(stated_m: float, is_measured: bool) -> tuple[float, float]:
    """Return the least and the most, in metres, that a wheel of this stated rollout may roll."""
    least, most = ROLLOUT_SPAN["measured" if is_measured else "nominal"]
    return stated_m * (1 + least), stated_m * (1 + most)
