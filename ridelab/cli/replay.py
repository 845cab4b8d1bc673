"""``ridelab replay``: a rider's own road on another drivetrain."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ridelab.analysis.replay import relations, words
from ridelab.cli.columns import clock
from ridelab.cli.output import emit, print_table, say, say_prose
from ridelab.cli.text import Column, counted, printable
from ridelab.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from ridelab.analysis.replay.vehicle import Replays
    from ridelab.cli.output import Form
    from ridelab.cli.place import Place
    from ridelab.units import UnitSystem

    Row = Mapping[str, Any]

_OTHERWISE = "--constant-effort keeps the effort instead."
_PARTS = ("replays", "differences", "gears")


@dataclass(frozen=True)
class Wanted:
    """What is asked for: ``part`` of the answer, cadences and tyre instead of the usual ones."""

    vehicle: str
    onto: tuple[str, ...]
    low_rpm: float | None = None
    high_rpm: float | None = None
    tyre: str | None = None
    constant_effort: bool = False
    part: str | None = None


def print_replay(here: Place, wanted: Wanted, how: Form) -> None:
    """Replay the rides of a vehicle and print what that comes to.

    Raises:
        UsageError: what cannot be replayed, or an unknown part.
        StoreError: there is no store yet.
    """
    if wanted.part not in (None, *_PARTS):
        raise UsageError(f"--part: found {wanted.part!r}; accepted: {', '.join(_PARTS)}")
    found = _replayed(here, wanted)
    if how == "table" and wanted.part is None:
        _print_answer(found, here.campaign.units)
        return
    rows = {
        "replays": relations.replay_rows,
        "differences": relations.difference_rows,
        "gears": relations.gear_use_rows,
    }
    emit(rows[wanted.part or "replays"]([found]), how, here.campaign.units)


def _replayed(here: Place, wanted: Wanted) -> Replays:
    from ridelab.analysis.replay.asking import ask
    from ridelab.analysis.replay.vehicle import replay_vehicle
    from ridelab.cli.place import told_of
    from ridelab.cli.stored import open_to_read
    from ridelab.drivetrain.wheel import Tyre

    with told_of("--tyre"):
        tyre = Tyre.parse(wanted.tyre) if wanted.tyre else None
    with open_to_read(here.store) as store:
        asked = ask(
            store,
            here.campaign,
            wanted.vehicle,
            wanted.onto,
            wanted.low_rpm,
            wanted.high_rpm,
            tyre,
        )
        return replay_vehicle(store, asked, constant_effort=wanted.constant_effort)


def say_replayed(replays: Sequence[Row], differences: Sequence[Row], units: UnitSystem) -> None:
    """Say what other drivetrains would have changed for one vehicle, by its rows in the store."""
    _say(words.Told.of(replays, differences), units)


def _say(told: words.Told, units: UnitSystem) -> None:
    first = told.replays[0]
    say_prose(
        f"{printable(first['vehicle'])}: {counted(first['rides'], 'ride')}, "
        f"{first['distance_m'] / 1000.0:.1f} km, {clock(first['seconds'])} of driving, on other "
        "drivetrains"
    )
    for sentence in (words.in_short(told), *words.said(told, units)):
        say_prose(printable(sentence))


def _print_answer(found: Replays, units: UnitSystem) -> None:
    replays, differences = (
        of([found]).to_dicts() for of in (relations.replay_rows, relations.difference_rows)
    )
    told = words.Told.of(replays, differences)
    _say(told, units)
    say()
    print_table(_columns(told.replays))
    say()
    effort = told.replays[-1]["assumption"] == words.EFFORT
    say_prose(words.EFFORT_KEPT if effort else f"{words.SPEED_KEPT} {_OTHERWISE}")
    say_prose(words.NO_MORE)


def _columns(rows: Sequence[Row]) -> list[Column]:
    low_rpm, high_rpm = (f"{rows[0][end]:.0f} rpm" for end in ("low_rpm", "high_rpm"))
    return [
        Column("drivetrain", [printable(row["drivetrain"] or "–") for row in rows]),
        Column("shifted", ["–" if row["gears"] is None else row["policy"] for row in rows]),
        _shares(rows, "below", f"below {low_rpm}"),
        _shares(rows, "above", f"above {high_rpm}"),
        Column("both", [_pm(row) for row in rows], unit="%", right=True),
        _shares(rows, "spread", "spread"),
        Column("shifts per km", [_shifts(row) for row in rows], right=True),
        Column("no gear left", [_none_left(row) for row in rows], unit="min", right=True),
    ]


def _shifts(row: Row) -> str:
    return "–" if row["gears"] is None else f"{row['shifts_per_km']:.1f}"


def _shares(rows: Sequence[Row], quantity: str, title: str) -> Column:
    return Column(title, [f"{100 * row[quantity]:.1f}" for row in rows], unit="%", right=True)


def _pm(row: Row) -> str:
    """Print a share as "3.1±0.4" percent, alone where one ride tells no interval."""
    shown, high = f"{100 * row['outside']:.1f}", row["outside_high"]
    return shown if high is None else f"{shown}±{100 * (high - row['outside']):.1f}"


def _none_left(row: Row) -> str:
    """Print the minutes too slow in the lowest gear and too fast in the highest one."""
    return f"{(row['bottom_s'] + row['top_s']) / 60:.1f}"
