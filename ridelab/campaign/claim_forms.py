"""What each claimed quantity looks like: its unit, its bounds, and the keys that go with it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ridelab.campaign.model import ClaimQuantity
    from ridelab.units import Dimension


@dataclass(frozen=True)
class Form:
    """How a quantity is printed, between which values it lies, and which keys go with it.

    Attributes:
        dimension: the kind of its unit.
        low: it lies above this, SI.
        high: it lies below this, SI.
        accepted: what is accepted, for people.
        keys: of gear, which, at_cadence_rpm and within, those that go with it.
        of_steps: it takes gears, so a stepless drivetrain has none of it.
        in_percent: it is printed in percent, though a bare number is a factor or fraction.
        cadence: what at_cadence_rpm means for it, for people.
    """

    dimension: Dimension
    low: float
    high: float
    accepted: str
    keys: tuple[str, ...] = ()
    of_steps: bool = False
    in_percent: bool = False
    cadence: str = ""

    @property
    def needs_unit(self) -> bool:
        """Whether a text without a unit could be meant in several: "28" is mph to some."""
        return self.dimension in {"speed", "length", "cadence"}


# value, at_least and at_most of these are text that nobody computes with
_STATED = Form("ratio", 0, 0, "the claim as it is printed")

FORMS: dict[ClaimQuantity, Form] = {
    "range": Form(
        "ratio",
        1,
        50,
        "highest ratio over lowest, above 1 and below 50: '540 %' or 5.4",
        in_percent=True,
    ),
    "gears": Form(
        "ratio", 0, 1000, "a whole number of gears below 1000, such as 14", ("within",), True
    ),
    "overlap": Form(
        "ratio",
        -1,
        1_000_000,
        "a whole number of combinations that only repeat a gear, such as 0 or 12",
        ("within",),
        True,
    ),
    "ratio": Form(
        "ratio", 0.01, 100, "wheel turns per crank turn, between 0.01 and 100: 1.142", ("gear",)
    ),
    "step": Form(
        "percent",
        0,
        3,
        "above 0 and below 300 %: '13.6 %' or 0.136",
        ("gear", "which"),
        of_steps=True,
        in_percent=True,
    ),
    "evenness": Form(
        "percent",
        0,
        3,
        "by how much the ratio of two gears of the largest step exceeds that of the smallest, "
        "above 0 and below 300 %: at_most = '1 %' or 0.01; where all steps are said to be alike, "
        "quantity = 'step' with which = 'every'",
        of_steps=True,
        in_percent=True,
    ),
    "cadence change": Form(
        "cadence",
        0,
        300,
        "turns a minute below 300: '11 rpm' or 11",
        ("gear", "which", "at_cadence_rpm"),
        of_steps=True,
        cadence="the cadence in the higher of the two gears, from which it rises at a shift down "
        "and to which it falls at a shift up, such as 80",
    ),
    "speed": Form(
        "speed",
        0,
        100,
        "below 360 km/h: '25 km/h', '28 mph' or 7.8 (m/s)",
        ("gear", "at_cadence_rpm"),
        cadence="the cadence that the speed is claimed for, such as 80",
    ),
    "development": Form(
        "length", 0, 100, "metres per crank turn, below 100: '8.5 m' or 8.5", ("gear",)
    ),
    "rollout": Form(
        "length",
        0.3,
        4,
        "metres a turn of the driven wheel, above 0.3 and below 4: '1563 mm' or 1.563",
    ),
    "efficiency": Form(
        "ratio",
        0.2,
        1.000001,
        "the share of the power at the crank that reaches the wheel, above 20 and up to 100 %: "
        "'96 %' or 0.96",
        ("gear",),
        in_percent=True,
    ),
    "noise": _STATED,
    "durability": _STATED,
    "weight": _STATED,
}
