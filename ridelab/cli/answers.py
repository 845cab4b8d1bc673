"""What a run prints: the answer to the person it was run for first, then what that stands on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridelab.cli.answer import print_ladders, print_problems, rows_by
from ridelab.cli.answer_claims import print_claims
from ridelab.cli.answer_losses import print_losses
from ridelab.cli.output import say, say_prose
from ridelab.cli.text import printable
from ridelab.pipeline import first_part

if TYPE_CHECKING:
    from ridelab.cli.place import Place
    from ridelab.pipeline import Outcome
    from ridelab.store import Store

#: Ladders of more vehicles than this are no answer on a screen.
_FEW = 3


def print_answers(store: Store, here: Place, outcome: Outcome) -> None:
    """Print what the stages that ran have to say, and how many problems there are."""
    ran = outcome.seconds.keys()
    vehicles = len(store.frame("vehicles"))
    for_shop, for_rider = (first_part(ran) == part for part in ("fleet", "use"))
    if for_shop:
        _print_fleet(store, here)
    if for_rider:
        _print_usage(store, here)
    if "verdicts" in ran:
        if for_shop and vehicles > _FEW:
            _print_tally(store, here)
        elif not for_shop or len(store.frame("claims")):
            print_claims(store, here.campaign.units, here.again)
    if "losses" in ran and len(store.frame("gear_losses")):
        print_losses(store, here.campaign.units, here.again)
        say()
    if "measure" in ran:
        if vehicles > _FEW:
            say("ladders, one vehicle below the other, stand in the report:")
            say(f"  ridelab show measured_gears{here.again}")
        else:
            print_ladders(store, here.campaign.units)
    print_problems(store, here.again)


def _print_fleet(store: Store, here: Place) -> None:
    from ridelab.cli.answer_fleet import print_fleet

    print_fleet(store, here.campaign.units, here.again)
    say()


def _print_usage(store: Store, here: Place) -> None:
    """Print the use of gears, and what other drivetrains would have changed, where asked."""
    from ridelab.cli.answer_usage import print_usage
    from ridelab.cli.replay import say_replayed

    print_usage(store, here.campaign.units, here.again)
    say()
    replays, differences = (
        rows_by(store, name, "vehicle") for name in ("replays", "replay_differences")
    )
    for vehicle, rows in replays.items():
        say_replayed(rows, differences.get(vehicle, []), here.campaign.units)
        onto = " ".join(f"--onto {one}" for one in here.campaign.vehicles[vehicle].replay_onto)
        say(f"  ridelab replay --vehicle {printable(vehicle)} {printable(onto)}{here.again}")
        say()


def _print_tally(store: Store, here: Place) -> None:
    from ridelab.report.claims import of_claims

    verdicts = store.frame("pooled_claims")["verdict"].to_list()
    if not verdicts:
        return
    say_prose(of_claims(verdicts))
    say(f"  ridelab run claims{here.again}")
