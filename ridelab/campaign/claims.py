"""Reads the claims of campaign.toml and checks each against the published ladder it speaks of.

A number stands for all that would be printed as it: half a unit of its last digit to either side.
Nobody can see whether the zeros at the end of "20 km/h" or "500 %" were meant as digits; they are
taken as such, ± 0.5 km/h and ± 0.5 %. Where a sheet rounded to tens, ``tolerance`` must say so.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, get_args

from ridelab.campaign.claim_forms import FORMS, Form
from ridelab.campaign.model import (
    BY_TWO_METERS,
    COUNTS,
    UNTESTABLE,
    Bound,
    Claim,
    ClaimQuantity,
    Which,
)
from ridelab.campaign.table import shown
from ridelab.errors import nearest
from ridelab.units import is_bare_number

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ridelab import units
    from ridelab.campaign.model import Vehicle
    from ridelab.campaign.table import Table
    from ridelab.drivetrain.ladder import Ladder

End = Literal["lowest", "highest"]

_KEYS = (
    "id", "drivetrain", "vehicle", "quantity", "value", "at_least", "at_most", "tolerance",
    "source", "gear", "which", "at_cadence_rpm", "within",
)  # fmt: skip
_OWN_KEYS = ("gear", "which", "at_cadence_rpm", "within")
_QUANTITIES: dict[str, ClaimQuantity] = {word: word for word in get_args(ClaimQuantity)}
_WHICH: dict[str, Which] = {word: word for word in get_args(Which)}
_ENDS: dict[str, End] = {word: word for word in get_args(End)}
_BOUNDS: dict[str, Bound] = {"value": "about", "at_least": "at least", "at_most": "at most"}
_ONE_VALUE = "one of value, at_least and at_most; two limits are two claims"
_TOLERANCE = "relative to the value, above 0 and below 1: '2 %' or 0.02"
_WITHIN = "how close two combinations are one gear, above 0 and below 0.2: '5 %' or 0.05"


def read_claims(
    top: Table, ladders: Mapping[str, Ladder], vehicles: Mapping[str, Vehicle]
) -> tuple[Claim, ...]:
    """Return the claims in file order; those without an id are called c1, c2, … by their place.

    Raises:
        CampaignError: a claim that speaks of nothing there is, or two of one id.
    """
    if "claims" not in top:
        return ()
    claims: dict[str, Claim] = {}
    for place, table in enumerate(top.tables("claims", _KEYS, "tables, each [[claims]]"), 1):
        claim = _claim(table, f"c{place}", ladders, vehicles)
        if claim.id in claims:
            table.fail("id", f"found {shown(claim.id)} twice", "an id of its own for each claim")
        claims[claim.id] = claim
    return tuple(claims.values())


def _claim(
    table: Table, default_id: str, ladders: Mapping[str, Ladder], vehicles: Mapping[str, Vehicle]
) -> Claim:
    drivetrain = table.text("drivetrain", accepted=f"a drivetrain; {nearest('', ladders)}")
    if drivetrain not in ladders:
        table.undefined("drivetrain", drivetrain, ladders)
    quantity = table.choice("quantity", _QUANTITIES)
    _check_keys(table, quantity)
    key = _value_key(table)
    bound = _BOUNDS[key]
    if quantity in UNTESTABLE and quantity not in BY_TWO_METERS:
        value, tolerance, printed = float("nan"), float("nan"), _statement(table, key)
    else:
        value, tolerance, printed = _number(table, key, quantity)
    ladder = ladders[drivetrain]
    if ladder.stepless and FORMS[quantity].of_steps:
        table.fail(
            "quantity",
            f"{shown(drivetrain)} is stepless and has no gears to count",
            "range, ratio, speed, development or rollout",
        )
    return Claim(
        id=table.text("id", default_id),
        drivetrain=drivetrain,
        quantity=quantity,
        value=value,
        tolerance=tolerance,
        printed=printed if bound == "about" else f"{bound} {printed}",
        source=table.text("source", ""),
        gear=_gear(table, quantity, ladder),
        which=_which(table, quantity),
        at_cadence_rpm=_cadence_rpm(table, quantity),
        bound=bound,
        within=table.positive("within", "percent", _WITHIN, below=0.2, default=None),
        vehicle=_vehicle(table, drivetrain, vehicles),
    )


def _check_keys(table: Table, quantity: ClaimQuantity) -> None:
    for key in _OWN_KEYS:
        if key in table and key not in FORMS[quantity].keys:
            goes_with = ", ".join(name for name, form in FORMS.items() if key in form.keys)
            table.fail(
                key, f"does not go with quantity = '{quantity}'", f"{key} only with {goes_with}"
            )


def _value_key(table: Table) -> str:
    """Return under which key the claimed value stands."""
    keys = [key for key in _BOUNDS if key in table]
    if not keys:
        table.fail("value", "missing", _ONE_VALUE)
    if len(keys) > 1:
        table.fail(keys[1], f"is there beside {keys[0]}", _ONE_VALUE)
    return keys[0]


def _statement(table: Table, key: str) -> str:
    """Return what is claimed of something that telemetry cannot test, as it is printed."""
    raw = table.raw[key]
    if isinstance(raw, bool) or not isinstance(raw, str | int | float):
        table.fail(key, f"found {shown(raw)}", "the claim as it is printed, such as '97 %'")
    return getattr(raw, "text", str(raw)).strip()


def _number(table: Table, key: str, quantity: ClaimQuantity) -> tuple[float, float, str]:
    """Return value, tolerance and how the value is printed."""
    value = _value(table, key, quantity, FORMS[quantity])
    tolerance = table.positive("tolerance", "percent", _TOLERANCE, below=1, default=None)
    if tolerance is None:
        tolerance = value.half_digit / value.value_si if value.value_si else 0.0
    return value.value_si, tolerance, value.printed


def _value(table: Table, key: str, quantity: ClaimQuantity, form: Form) -> units.Quantity:
    raw = table.raw[key]
    if quantity in COUNTS and isinstance(raw, str) and not raw.strip().isdecimal():
        table.fail(key, f"found {shown(raw)}", form.accepted)
    if form.needs_unit and isinstance(raw, str) and is_bare_number(raw):
        table.fail(key, f"found {shown(raw)}, without a unit", form.accepted)
    value = table.quantity(key, form.dimension, form.accepted)
    whole = quantity not in COUNTS or value.value_si.is_integer()
    if not (form.low < value.value_si < form.high and whole):
        table.fail(key, f"found {value.printed}", _percent_meant(value, form))
    return value


def _percent_meant(value: units.Quantity, form: Form) -> str:
    """Return what is accepted, after the same number in percent if that would be."""
    if form.in_percent and form.low < value.value_si / 100 < form.high:
        return f'did you mean "{value.printed} %"? {form.accepted}'
    return form.accepted


def _gear(table: Table, quantity: ClaimQuantity, ladder: Ladder) -> int | End | None:
    keys = FORMS[quantity].keys
    of_step = "which" in keys
    is_optional = of_step or quantity in BY_TWO_METERS
    if "gear" not in keys or (is_optional and "gear" not in table):
        return None
    lowest = 2 if of_step else 1
    accepted = _accepted_gear(of_step, ladder, lowest)
    word = table.raw.get("gear")
    if isinstance(word, str) and not of_step:
        if word not in _ENDS:
            table.fail("gear", f"found {shown(word)}", accepted)
        return _ENDS[word]
    number = table.integer("gear", accepted)
    if not lowest <= number <= len(ladder.gears):
        table.fail("gear", f"found {number}", accepted)
    return number


def _accepted_gear(of_step: bool, ladder: Ladder, lowest: int) -> str:
    if ladder.stepless:
        return "'lowest' or 'highest', for a stepless drivetrain has no numbered gears"
    numbers = f"a number from {lowest} to {len(ladder.gears)}"
    if of_step:
        return f"{numbers}, the step into it from the gear below"
    return f"'lowest', 'highest' or {numbers}"


def _which(table: Table, quantity: ClaimQuantity) -> Which | None:
    if "which" not in FORMS[quantity].keys:
        return None
    if "gear" not in table:
        return table.choice("which", _WHICH, "mean")
    if "which" in table:
        table.fail(
            "which", "is there beside gear", "one of the two: one step, or which of all steps"
        )
    return None


def _cadence_rpm(table: Table, quantity: ClaimQuantity) -> float | None:
    form = FORMS[quantity]
    if "at_cadence_rpm" not in form.keys:
        return None
    return table.positive("at_cadence_rpm", "cadence", form.cadence, below=300)


def _vehicle(table: Table, drivetrain: str, vehicles: Mapping[str, Vehicle]) -> str | None:
    """Return the one vehicle that a claim speaks of, if it names one."""
    name = table.text("vehicle", None)
    if name is None:
        return None
    if name not in vehicles:
        table.undefined("vehicle", name, vehicles)
    if vehicles[name].drivetrain != drivetrain:
        having = [one.name for one in vehicles.values() if one.drivetrain == drivetrain]
        table.fail(
            "vehicle",
            f"{shown(name)} does not have the drivetrain {shown(drivetrain)}",
            f"a vehicle that has it: {', '.join(having) or 'none does'}",
        )
    return name
