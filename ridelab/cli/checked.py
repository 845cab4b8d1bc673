"""``ridelab check``: what a campaign says before any ride is read."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridelab.cli.columns import shown
from ridelab.cli.exits import DONE, USAGE
from ridelab.cli.output import print_table, say, tell, tell_problem
from ridelab.cli.text import counted, printable

if TYPE_CHECKING:
    from ridelab.campaign import Campaign

#: Columns of a claim that a person need not see: "printed" says the value.
_SPARED = {"value", "vehicles"}


def print_check(campaign: Campaign) -> int:
    """Print what was understood of a campaign, warn of globs in vain, and return the exit code.

    A campaign that gives one file to two vehicles, or names what is no file, is a wrong one.
    """
    import polars as pl

    from ridelab.campaign import describe, find_rides

    found = find_rides(campaign)
    say(f"{printable(campaign.name)}: {counted(len(found.files), 'ride file')}")
    for rows in describe(campaign, found).values():
        if rows:
            frame = pl.DataFrame(rows, infer_schema_length=None)
            known = [name for name in frame.columns if frame[name].count() and name not in _SPARED]
            say()
            print_table(shown(frame.select(known), campaign.units))
    for problem in found.problems:
        tell_problem(problem)
    if not campaign.vehicles:
        accepted = "a table for each, such as [vehicles.heron]"
        tell(f"warning: {printable(str(campaign.file))}: no vehicle; accepted: {accepted}")
    return USAGE if any(problem.severity == "error" for problem in found.problems) else DONE
