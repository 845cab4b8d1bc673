"""Reads which meters tell a vehicle's power at crank and wheel, and how exact they are."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ridelab.campaign.table import Table

POWER_KEYS = ("wheel_power_field", "power_accuracy")
#: Taken where a campaign states nothing; common practice, no source.
USUAL_ACCURACY = 0.02
_ACCURACY = "what a meter may be off by either way, above 0 and below 20 %: '1.5 %' or 0.015"
_FIELD = "the name that the FIT files give the field, such as 'hub power'"


@dataclass(frozen=True)
class Meters:
    """The power meters of a vehicle.

    Attributes:
        wheel_field: of the fields that its FIT files describe themselves, the one that holds the
            power at the driven wheel or hub; None where none does.
        crank_accuracy: what the meter at the crank may be off by, either way, as a share.
        wheel_accuracy: the same of the meter at the wheel.
        is_assumed: nobody stated how exact they are.
    """

    wheel_field: str | None = None
    crank_accuracy: float = USUAL_ACCURACY
    wheel_accuracy: float = USUAL_ACCURACY
    is_assumed: bool = True

    @property
    def apart(self) -> float:
        """How far the two may read apart, as a share, where both show the same power."""
        return self.crank_accuracy + self.wheel_accuracy


def read_meters(table: Table) -> Meters:
    """Return the meters that the table of a vehicle states; as usual what it leaves out.

    Raises:
        CampaignError: an accuracy that no meter has, or a field without a name.
    """
    field = table.text("wheel_power_field", None, _FIELD)
    if field is not None and not field.strip():
        table.fail("wheel_power_field", "found an empty name", _FIELD)
    if isinstance(table.raw.get("power_accuracy"), dict):
        each = table.table("power_accuracy", ("crank", "wheel"))
        crank, wheel = (_accuracy(each, key) for key in ("crank", "wheel"))
    else:
        crank = wheel = _accuracy(table, "power_accuracy")
    return Meters(
        field,
        USUAL_ACCURACY if crank is None else crank,
        USUAL_ACCURACY if wheel is None else wheel,
        crank is None and wheel is None,
    )


def _accuracy(table: Table, key: str) -> float | None:
    return table.positive(key, "percent", _ACCURACY, below=0.2, default=None)
