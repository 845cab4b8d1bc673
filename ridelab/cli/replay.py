"""``ridelab replay``: a rider's own road on another drivetrain."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ridelab.cli.columns import clock
from ridelab.cli.output import emit, print_table, say, say_prose
from ridelab.cli.text import Column, counted, printable
from ridelab.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.analysis.replay.tally import Estimate, Tally
    from ridelab.analysis.replay.vehicle import Replays
    from ridelab.campaign import Campaign
    from ridelab.cli.output import Form
    from ridelab.cli.place import Place
    from ridelab.store import Store

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
    from ridelab.analysis.replay import relations

    if wanted.part not in (None, *_PARTS):
        raise UsageError(f"--part: found {wanted.part!r}; accepted: {', '.join(_PARTS)}")
    found = _replayed(here, wanted)
    if how == "table" and wanted.part is None:
        _print_answer(found)
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


def say_replayed(store: Store, campaign: Campaign, vehicle: str) -> None:
    """Say what the drivetrains that a vehicle names would have changed, without the table."""
    from ridelab.analysis.replay.asking import ask
    from ridelab.analysis.replay.vehicle import replay_vehicle

    onto = campaign.vehicles[vehicle].replay_onto
    _say(replay_vehicle(store, ask(store, campaign, vehicle, onto)))


def _say(found: Replays) -> None:
    from ridelab.analysis.replay import words

    first = found.tallies[0]
    way_km = first.total("metres") / 1000.0
    say_prose(
        f"{printable(found.vehicle)}: {counted(first.rides, 'ride')}, {way_km:.1f} km, "
        f"{clock(first.total('seconds'))} of driving, on other drivetrains"
    )
    for sentence in words.said(found):
        say_prose(printable(sentence))


def _print_answer(found: Replays) -> None:
    from ridelab.analysis.replay import words

    _say(found)
    say()
    effort = any(one.assumption == "effort as ridden" for one in found.tallies)
    print_table(_columns(found, "effort as ridden" if effort else "speed as ridden"))
    say()
    say_prose(words.EFFORT_KEPT if effort else words.SPEED_KEPT)
    say_prose(words.NO_MORE)


def _columns(found: Replays, assumption: str) -> list[Column]:
    band = found.band
    tallies = [
        one for one in found.tallies if one.policy == "as ridden" or one.assumption == assumption
    ]
    return [
        Column("drivetrain", [printable(one.gearing.drivetrain or "–") for one in tallies]),
        Column("shifted", [_way(one) for one in tallies]),
        _shares(tallies, "below", f"below {band.low_rpm:.0f} rpm"),
        _shares(tallies, "above", f"above {band.high_rpm:.0f} rpm"),
        Column("both", [_pm(one.estimate("outside")) for one in tallies], unit="%", right=True),
        _shares(tallies, "spread", "spread"),
        Column("shifts per km", [_shifts(one) for one in tallies], right=True),
        Column("no gear left", [_none_left(one) for one in tallies], unit="min", right=True),
    ]


def _way(tally: Tally) -> str:
    return "–" if tally.gearing.span_m is not None else tally.policy


def _shifts(tally: Tally) -> str:
    stepless = tally.gearing.span_m is not None
    return "–" if stepless else f"{tally.estimate('shifts_per_km').value:.1f}"


def _shares(tallies: Sequence[Tally], quantity: str, title: str) -> Column:
    cells = [f"{100 * one.estimate(quantity).value:.1f}" for one in tallies]
    return Column(title, cells, unit="%", right=True)


def _pm(found: Estimate) -> str:
    """Print a share as "3.1±0.4" percent, alone where one ride tells no interval."""
    shown = f"{100 * found.value:.1f}"
    return shown if found.high is None else f"{shown}±{100 * (found.high - found.value):.1f}"


def _none_left(tally: Tally) -> str:
    """Print the minutes too slow in the lowest gear and too fast in the highest one."""
    share = tally.estimate("bottom").value + tally.estimate("top").value
    return f"{share * tally.total('seconds') / 60:.1f}"
