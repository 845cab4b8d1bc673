"""Rows of the three relations of replays, made up: three drivetrains, shifted in two ways."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tests.report.fabricated import FabricatedStore

Row = dict[str, Any]
WAYS = ("looking ahead", "by habit")
_SHARES = ((0.05, 0.12), (0.01, 0.08), (0.05, 0.11))
GEARS = {"nine": 3, "four": 4, "twelve": 2}


def replay(
    drivetrain: str | None,
    policy: str,
    outside: float,
    *,
    vehicle: str = "heron",
    **more: float | str | None,
) -> Row:
    """A row of ``replays``: an hour of five rides, 2 points of the share either way."""
    figures = {"below": outside, "above": 0.0, "outside": outside, "spread": 0.1}
    figures["shifts_per_km"] = 4.0
    row: Row = {
        "vehicle": vehicle,
        "drivetrain": drivetrain,
        "policy": policy,
        "assumption": "speed as ridden",
        "rides": 5,
        "low_rpm": 70.0,
        "high_rpm": 90.0,
        "seconds": 3600.0,
        "distance_m": 20_000.0,
        "moving_s": 3700.0,
        "gears": GEARS.get(drivetrain or "", 3),
        "unneeded": "1",
        "alike": 0.9 if policy != "as ridden" else 1.0,
        "shift_price": None,
    }
    for name, value in figures.items():
        half = 0.02 if value else 0.0
        row |= {name: value, f"{name}_low": max(0.0, value - half), f"{name}_high": value + half}
    for side in ("bottom", "top", "lower", "higher"):
        row |= {f"{side}_s": 0.0, f"{side}_low_s": 0.0, f"{side}_high_s": 0.0}
    return row | more


def difference(
    one: str, versus: str | None, policy: str, ends: tuple[float, float] | None, quantity: str
) -> Row:
    """A row of ``replay_differences``, in the middle of its interval."""
    low, high = ends or (None, None)
    return {
        "vehicle": "heron",
        "drivetrain": one,
        "versus": versus,
        "policy": policy,
        "assumption": "speed as ridden",
        "quantity": quantity,
        "difference": -0.04 if ends is None else sum(ends) / 2,
        "difference_low": low,
        "difference_high": high,
    }


def rows(own: str | None = "nine", names: Sequence[str] = ("four", "twelve")) -> list[Row]:
    """The replays of heron: ridden 10 % outside; by habit 12, 8 and 11 %, ahead 5, 1 and 5 %."""
    found = [replay(own, "as ridden", 0.10, unneeded="")]
    for drivetrain, shares in zip((own, *names), _SHARES, strict=False):
        found += [replay(drivetrain, way, share) for way, share in zip(WAYS, shares, strict=True)]
    return found


def differences(
    own: str | None = "nine", names: Sequence[str] = ("four", "twelve"), one_ride: bool = False
) -> list[Row]:
    """The first candidate is clearly better either way, of the second nothing can be told."""
    ends = ((-0.05, -0.03), (-0.03, 0.02))
    pairs = [(name, own, each) for name, each in zip(names, ends, strict=False)]
    if len(names) > 1:
        pairs.append((names[1], names[0], (0.01, 0.06)))
    return [
        difference(one, versus, policy, None if one_ride else each, quantity)
        for quantity in ("outside", "spread", "shifts_per_km", "moving_s")
        for policy in WAYS
        for one, versus, each in pairs
    ]


def gear_use(own: str | None = "nine", names: Sequence[str] = ("four", "twelve")) -> list[Row]:
    """The time in each gear: most of it in the second, none in the first."""
    found = []
    for place, drivetrain in enumerate((own, *names)):
        gears = (3, 4, 2)[place]
        for policy in ("as ridden", *WAYS) if place == 0 else WAYS:
            shares = [0.0, 0.75, 0.25, 0.0][:gears] if gears > 2 else [0.0, 1.0]
            for gear, share in enumerate(shares, 1):
                found.append(
                    {
                        "vehicle": "heron",
                        "drivetrain": drivetrain,
                        "policy": policy,
                        "assumption": "speed as ridden",
                        "gear": gear,
                        "label": str(gear),
                        "development_m": 2.0 * 1.4**gear,
                        "seconds": 3600.0 * share,
                        "share": share,
                    }
                )
    return found


def replayed(
    store: FabricatedStore, own: str | None = "nine", names: Sequence[str] = ("four", "twelve")
) -> None:
    """Fill the relations of replays for heron."""
    store.add("replays", *rows(own, names))
    store.add("replay_differences", *differences(own, names))
    store.add("replayed_gear_use", *gear_use(own, names))
