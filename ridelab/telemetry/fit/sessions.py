"""Session messages -> which records are a cycling ride."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl
from polars import col

from ridelab.errors import NotARide

if TYPE_CHECKING:
    from ridelab.telemetry.notes import Notes

CYCLING_SPORTS = ("cycling", "e_biking")
CYCLING_SUB_SPORTS = ("indoor_cycling", "spin")
TOLD_SCHEMA = {"sport": pl.String, "kind": pl.String, "start_s": pl.Float64}
UNSAID = ("generic", "all", "multisport")


def cycling_records(
    records: pl.DataFrame, sessions: pl.DataFrame, sports: pl.DataFrame, notes: Notes
) -> pl.DataFrame:
    """The records of the cycling sessions; of a file that names no sport, all of them.

    Sessions follow one another, so a record belongs to the last session that began at or before
    it. That holds up better than start and length: a unit may write the start of its first session
    late, and lengths leave gaps of a second. A recording that broke off has no session message for
    what was going on; there the sport message tells.

    Raises:
        NotARide: only other sports are named.
    """
    told = _told(sessions, sports)
    kinds = set(told["kind"])
    if not kinds & {"cycling", "unsaid"} and kinds:
        raise NotARide(f"{notes.path}: no cycling session, only {_names(told['sport'])}")
    wanted = "cycling" if "cycling" in kinds else "unsaid"
    if wanted == "unsaid":
        notes.note("nothing says which sport this is: read as a ride")
    if len(kinds) <= 1:
        return records
    if told["start_s"].has_nulls():
        notes.warn(f"no telling which records are which sport: all kept ({_names(told['sport'])})")
        return records
    return _of_kind(wanted, told.sort("start_s"), records, notes)


def _of_kind(wanted: str, told: pl.DataFrame, records: pl.DataFrame, notes: Notes) -> pl.DataFrame:
    at = np.searchsorted(told["start_s"].to_numpy(), records["timestamp"].to_numpy(), "right") - 1
    of_record = told[at.clip(0)]
    others = of_record.filter(col("kind") != wanted)["sport"].value_counts()
    others = others.sort("count", "sport", descending=[True, False])
    listed = ", ".join(f"{sport or 'sport not named'}: {n}" for sport, n in others.iter_rows())
    notes.note(f"records of other sessions set aside ({listed.replace('_', ' ')})")
    kept = records.filter(of_record["kind"] == wanted)
    if kept.is_empty():
        raise NotARide(f"{notes.path}: no record in its {wanted} session")
    return kept


def _told(sessions: pl.DataFrame, sports: pl.DataFrame) -> pl.DataFrame:
    """Sport, kind (cycling, unsaid, other) and start of each session, finished or not."""
    rows: list[tuple[str | None, str | None, float | None]] = []
    ends_s: list[float] = []
    for row in sessions.iter_rows(named=True):
        start_s, end_s, length_s = row["start_time"], row["timestamp"], row["total_elapsed_time"]
        if start_s is None and None not in (end_s, length_s):
            start_s = end_s - length_s
        elif end_s is None and None not in (start_s, length_s):
            end_s = start_s + length_s
        rows.append((row["sport"], row["sub_sport"], start_s))
        ends_s += [] if end_s is None else [end_s]
    unfinished = sports.slice(len(sessions)).select("sport", "sub_sport").iter_rows()
    rows += [(sport, sub_sport, max(ends_s, default=None)) for sport, sub_sport in unfinished]
    told = [(sport, _kind(sport, sub_sport), start_s) for sport, sub_sport, start_s in rows]
    return pl.DataFrame(told, schema=TOLD_SCHEMA, orient="row")


def _kind(sport: str | None, sub_sport: str | None) -> str:
    if sport in CYCLING_SPORTS or sub_sport in CYCLING_SUB_SPORTS:
        return "cycling"
    return "unsaid" if sport is None or sport in UNSAID else "other"


def _names(sports: pl.Series) -> str:
    names = list(dict.fromkeys(sports.fill_null("sport not named")))
    return ", ".join(names).replace("_", " ")
