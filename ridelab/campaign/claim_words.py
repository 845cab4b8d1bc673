"""Claims in words, without their value: "speed in the highest gear at 100 rpm"."""

from __future__ import annotations


def in_words(
    quantity: str, gear: int | str | None, which: str | None, at_cadence_rpm: float | None
) -> str:
    """Return what is claimed."""
    if quantity in _PLAIN:
        return _PLAIN[quantity]
    if quantity == "step":
        return _step(gear, which)
    if quantity == "cadence change":
        return f"change of cadence at the {_step(gear, which)}, {_at(at_cadence_rpm)} in the higher"
    if gear is None:
        return quantity
    named = f"the {gear} gear" if gear in {"lowest", "highest"} else f"gear {gear}"
    if quantity == "speed":
        return f"speed in {named} at {_at(at_cadence_rpm)}"
    return f"{quantity} of {named}"


_PLAIN = {
    "gears": "number of distinct gears",
    "overlap": "number of combinations that repeat a gear",
    "evenness": "largest step over the smallest",
}


def _step(gear: int | str | None, which: str | None) -> str:
    if gear is not None:
        return f"step from the gear below to gear {gear}"
    return "step everywhere" if which == "every" else f"{which or 'mean'} step"


def _at(cadence_rpm: float | None) -> str:
    return f"{cadence_rpm or 0:g} rpm"
