"""``ridelab forget``: rides out of the store, shown before, and only if that is meant."""

from __future__ import annotations

import sys
from dataclasses import asdict
from typing import TYPE_CHECKING

from ridelab.cli.exits import DONE, FAILED
from ridelab.cli.output import emit, print_objects, say, say_prose, tell
from ridelab.cli.text import counted, printable
from ridelab.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridelab.cli.place import Place
    from ridelab.pipeline import Forgettable, Wanted

_LEFT = {"there": "there", "gone": "gone", "other": "holds another ride"}


def forget(here: Place, wanted: Wanted, *, yes: bool, dry_run: bool, as_json: bool) -> int:
    """Forget rides and say so; return the exit code.

    ``yes``: nobody is asked; ``dry_run``: nothing is forgotten.

    Raises:
        UsageError: nothing matches, or nobody is there to be asked.
        StoreError: there is no store, or it cannot be written; StoreBusy where a run does.
    """
    from ridelab.cli.stored import open_to_read
    from ridelab.pipeline import forgettable
    from ridelab.store import Store

    if as_json and not (yes or dry_run):
        raise UsageError("--json asks nobody; accepted: with it --yes or --dry-run")
    with open_to_read(here.store) as store:
        found = forgettable(store, here.campaign, wanted)
    if dry_run or not yes:
        _show(found, here, as_json=as_json)
    if dry_run:
        if not as_json:
            names = sorted({one.vehicle for one in found if one.vehicle})
            anew = f", and measured anew: {printable(', '.join(names))}" if names else ""
            say_prose(f"{counted(len(found), 'ride')} would be forgotten{anew}; nothing was done")
        return DONE
    if not (yes or _is_meant(len(found))):
        tell("nothing was forgotten")
        return FAILED
    with Store.open(here.store) as store:
        vehicles = store.forget([one.ride for one in found])
    if as_json:
        _print(found, forgotten=True)
    else:
        _tell(found, vehicles, here)
    return DONE


def _show(found: Sequence[Forgettable], here: Place, *, as_json: bool) -> None:
    """Print what would be forgotten."""
    import polars as pl

    if as_json:
        _print(found, forgotten=False)
    else:
        rows = [asdict(one) | {"file": _LEFT[one.file]} for one in found]
        emit(pl.DataFrame(rows), "table", here.campaign.units)


def _print(found: Sequence[Forgettable], *, forgotten: bool) -> None:
    rows = [asdict(one) | {"forgotten": forgotten} for one in found]
    print_objects(row | {"started_at": row["started_at"].isoformat()} for row in rows)


def _is_meant(rides: int) -> bool:
    """Ask whoever sits at the terminal.

    Raises:
        UsageError: nobody does.
    """
    what = counted(rides, "ride")
    if not sys.stdin.isatty():
        raise UsageError(
            f"nobody is here to be asked whether {what} shall be forgotten; --yes forgets, "
            "--dry-run only shows"
        )
    sys.stderr.write(f"Forget {what}, and what was measured by them? [y/N] ")
    sys.stderr.flush()
    return sys.stdin.readline().strip().lower() in ("y", "yes")


def _tell(found: Sequence[Forgettable], vehicles: Sequence[str], here: Place) -> None:
    say(f"{counted(len(found), 'ride')} forgotten")
    if vehicles:
        names = printable(", ".join(vehicles))
        say_prose(
            f"what was measured of {names} is gone with them; the next run measures anew: "
            f"ridelab run fleet{here.again}"
        )
    there = sum(one.file == "there" for one in found)
    if there:
        say_prose(
            f"{there} of them still {'has its' if there == 1 else 'have their'} file: a run that "
            "finds a file reads it again; move it away, or take it out of `rides`"
        )
