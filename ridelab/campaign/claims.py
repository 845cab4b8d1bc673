"""Reads the claims of campaign.toml and checks each against the published ladder it speaks of."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, get_args

from ridelab.campaign.model import Claim, ClaimQuantity
from ridelab.campaign.table import shown
from ridelab.errors import nearest

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ridelab import units
    from ridelab.campaign.table import Table
    from ridelab.drivetrain.ladder import Ladder

Which = Literal["mean", "largest", "smallest"]
End = Literal["lowest", "highest"]

_KEYS = (
    "id", "drivetrain", "quantity", "value", "tolerance", "source", "gear", "which",
    "at_cadence_rpm",
)  # fmt: skip
_QUANTITIES: dict[str, ClaimQuantity] = {word: word for word in get_args(ClaimQuantity)}
_WHICH: dict[str, Which] = {word: word for word in get_args(Which)}
_ENDS: dict[str, End] = {word: word for word in get_args(End)}
_TOLERANCE = "relative to the value, above 0 and below 1: '2 %' or 0.02"


@dataclass(frozen=True)
class _Form:
    """How a quantity is printed, between which values it can lie, and which keys go with it."""

    dimension: units.Dimension
    low: float
    high: float
    accepted: str
    keys: tuple[str, ...] = ()


_FORMS: dict[ClaimQuantity, _Form] = {
    "range": _Form(
        "ratio", 1, 50, "highest ratio over lowest, above 1 and below 50: '540 %' or 5.4"
    ),
    "gears": _Form("ratio", 0, 1000, "a whole number of gears below 1000, such as 14"),
    "ratio": _Form(
        "ratio", 0.01, 100, "wheel turns per crank turn, between 0.01 and 100: 1.142", ("gear",)
    ),
    "step": _Form("percent", 0, 3, "above 0 and below 300 %: '13.6 %' or 0.136", ("gear", "which")),
    "speed": _Form(
        "speed",
        0,
        100,
        "below 360 km/h: '25 km/h', '28 mph' or 7.8 (m/s)",
        ("gear", "at_cadence_rpm"),
    ),
    "development": _Form(
        "length", 0, 100, "metres per crank turn, below 100: '8.5 m' or 8.5", ("gear",)
    ),
}


def read_claims(top: Table, ladders: Mapping[str, Ladder]) -> tuple[Claim, ...]:
    """Return the claims in file order; those without an id are called c1, c2, … by their place.

    Raises:
        CampaignError: a claim that no ride could test, or two of one id.
    """
    if "claims" not in top:
        return ()
    claims: dict[str, Claim] = {}
    for place, table in enumerate(top.tables("claims", _KEYS, "tables, each [[claims]]"), 1):
        claim = _claim(table, f"c{place}", ladders)
        if claim.id in claims:
            table.fail("id", f"found {shown(claim.id)} twice", "an id of its own for each claim")
        claims[claim.id] = claim
    return tuple(claims.values())


def _claim(table: Table, default_id: str, ladders: Mapping[str, Ladder]) -> Claim:
    drivetrain = table.text("drivetrain", accepted=f"a drivetrain; {nearest('', ladders)}")
    if drivetrain not in ladders:
        table.undefined("drivetrain", drivetrain, ladders)
    quantity = table.choice("quantity", _QUANTITIES)
    form, ladder = _FORMS[quantity], ladders[drivetrain]
    for key in ("gear", "which", "at_cadence_rpm"):
        if key in table and key not in form.keys:
            table.fail(key, f"does not go with quantity = '{quantity}'", _goes_with(key))
    if ladder.stepless and quantity in ("gears", "step"):
        table.fail(
            "quantity",
            f"{shown(drivetrain)} is stepless and has no gears to count",
            "range, ratio, speed or development",
        )
    value = _value(table, quantity, form)
    return Claim(
        id=table.text("id", default_id),
        drivetrain=drivetrain,
        quantity=quantity,
        value=value.value_si,
        tolerance=table.positive(
            "tolerance", "percent", _TOLERANCE, below=1, default=value.half_digit / value.value_si
        ),
        printed=value.printed,
        source=table.text("source", ""),
        gear=_gear(table, quantity, ladder),
        which=_which(table, quantity),
        at_cadence_rpm=_cadence_rpm(table, quantity),
    )


def _goes_with(key: str) -> str:
    return f"{key} only with " + ", ".join(
        name for name, form in _FORMS.items() if key in form.keys
    )


def _value(table: Table, quantity: ClaimQuantity, form: _Form) -> units.Quantity:
    raw = table.raw.get("value")
    if quantity == "gears" and isinstance(raw, str) and not raw.strip().isdecimal():
        table.fail("value", f"found {shown(raw)}", form.accepted)
    value = table.quantity("value", form.dimension, form.accepted)
    whole = quantity != "gears" or value.value_si.is_integer()
    if not (form.low < value.value_si < form.high and whole):
        table.fail("value", f"found {value.printed}", _percent_meant(value, quantity, form))
    return value


def _percent_meant(value: units.Quantity, quantity: ClaimQuantity, form: _Form) -> str:
    """Return what is accepted, after the same number in percent if that would be."""
    if quantity in ("range", "step") and form.low < value.value_si / 100 < form.high:
        return f'did you mean "{value.printed} %"? {form.accepted}'
    return form.accepted


def _gear(table: Table, quantity: ClaimQuantity, ladder: Ladder) -> int | End | None:
    if "gear" not in _FORMS[quantity].keys or (quantity == "step" and "gear" not in table):
        return None
    lowest = 2 if quantity == "step" else 1
    accepted = _accepted_gear(quantity, ladder, lowest)
    word = table.raw.get("gear")
    if isinstance(word, str) and quantity != "step":
        if word not in _ENDS:
            table.fail("gear", f"found {shown(word)}", accepted)
        return _ENDS[word]
    number = table.integer("gear", accepted)
    if not lowest <= number <= len(ladder.gears):
        table.fail("gear", f"found {number}", accepted)
    return number


def _accepted_gear(quantity: ClaimQuantity, ladder: Ladder, lowest: int) -> str:
    if ladder.stepless:
        return "'lowest' or 'highest', for a stepless drivetrain has no numbered gears"
    numbers = f"a number from {lowest} to {len(ladder.gears)}"
    if quantity == "step":
        return f"{numbers}, the step into it from the gear below"
    return f"'lowest', 'highest' or {numbers}"


def _which(table: Table, quantity: ClaimQuantity) -> Which | None:
    if quantity != "step":
        return None
    if "gear" not in table:
        return table.choice("which", _WHICH, "mean")
    if "which" in table:
        table.fail(
            "which", "is there beside gear", "one of the two: one step, or which of all steps"
        )
    return None


def _cadence_rpm(table: Table, quantity: ClaimQuantity) -> float | None:
    if quantity != "speed":
        return None
    return table.positive(
        "at_cadence_rpm",
        "cadence",
        "the cadence that the speed is claimed for, such as 80",
        below=300,
    )
