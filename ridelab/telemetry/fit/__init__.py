"""FIT: decode, then interpret, one module for each kind of message.

A FIT file is one or more parts, each a header, messages and a checksum. A message is a row of one
of the tables that the FIT profile defines; the same table may be laid out anew at any point of the
file. Decoding goes from ``framing`` (where which message stands; ``layout``, ``frames``, and
``regain`` behind damage) over ``values`` and ``headertime`` (bytes to columns) and ``table`` to
``messages``: one data frame a table. The modules that interpret see nothing but these.
"""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

from ridelab.errors import DamagedFile, NotARide, RideError
from ridelab.telemetry import channels, clock
from ridelab.telemetry.fit import devices, events, records, sessions
from ridelab.telemetry.fit.messages import FIT_EPOCH_S, FitMessages, decode
from ridelab.telemetry.notes import Notes, counted
from ridelab.telemetry.ride import Ride

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    import polars as pl
    from numpy.typing import NDArray

    from ridelab.telemetry.fit.frames import Damage

#: A file with more damage than this gets the rest in one line.
DAMAGE_TOLD = 8

#: Kinds of file whose name in the profile says nothing to people.
KIND_WORDS = {
    "monitoring_a": "monitoring",
    "monitoring_b": "monitoring",
    "monitoring_daily": "daily monitoring",
    "exd_configuration": "display configuration",
    "mfg_range_min": "manufacturer's own",
    "mfg_range_max": "manufacturer's own",
}


def sniff(content: bytes) -> bool:
    """Whether the content begins as a FIT header does: its sign stands at byte 8."""
    return content[8:12] == b".FIT"


def read(path: Path, content: bytes) -> Ride:
    """Interpret the content of a FIT file as one ride.

    Chained activities become one ride; parts that are no activity are left out. Everything before
    a damage is kept, and what stands behind it as far as its messages can be found again.

    Raises:
        NotARide: no activity, no cycling session, or no record with a time.
        DamagedFile: the format breaks before the first record.
    """
    notes = Notes(path)
    found = decode(content)
    _tell(found.damage, notes)
    found = _activities(found, notes)
    timed = records.with_time(found["record"], notes, damaged=bool(found.damage))
    if timed.is_empty():
        raise _no_record(path, found)
    timed = sessions.cycling_records(timed, found["session"], found["sport"], notes)
    return _ride(path, content, found, timed, notes)


def _ride(
    path: Path, content: bytes, found: FitMessages, timed: pl.DataFrame, notes: Notes
) -> Ride:
    timeline = clock.settled(
        timed,
        lambda: records.travelled_m(timed),
        lambda: _broken(timed, found["event"]),
        notes,
        set_from_s=records.CLOCK_SET_FROM_S,
    )
    kept, told = timeline.records, found["event"]
    told = told.with_columns(timestamp=timeline.moved(told["timestamp"]))
    origin_s = kept["timestamp"][0]
    samples = records.samples(kept)
    stops = events.timer_stops(told, origin_s)
    pauses = events.pauses(stops, samples["t_s"][-1])
    records.tell_clock(kept, notes)
    channels.tell_missing(samples, notes)
    clock.tell_silences(samples["t_s"], pauses, notes)
    sensors = devices.paired_sensors(found["device_info"])
    return Ride(
        path=path,
        sha256=hashlib.sha256(content).hexdigest(),
        format="fit",
        started_at=datetime.fromtimestamp(FIT_EPOCH_S, UTC) + timedelta(seconds=origin_s),
        samples=samples.with_columns(timer_running=events.running(samples["t_s"], stops)),
        pauses=pauses,
        gear_changes=events.gear_changes(told, origin_s),
        extra_fields=records.extra_fields(kept),
        sensors=sensors,
        speed_source=devices.speed_source(samples, sensors, found, notes),
        cadence_resolution_rpm=records.cadence_resolution_rpm(kept),
        wheel_rollout_m=devices.wheel_rollout_m(found["bike_profile"]),
        problems=tuple(notes.problems),
        barometer=devices.has_barometer(found["device_info"]),
        device=devices.serial_number(found["file_id"]),
    )


def _broken(timed: pl.DataFrame, told: pl.DataFrame) -> NDArray[np.bool_]:
    """Whether another part begins with a record, or the timer stopped since the one before."""
    times = timed["timestamp"].to_numpy()
    stopped = clock.paused_steps(times, events.timer_stops(told, 0.0)) & (np.diff(times) > 0)
    broken: NDArray[np.bool_] = np.insert(stopped, 0, False)
    broken |= np.diff(timed["part"].to_numpy(), prepend=-1) != 0
    return broken


def _tell(damage: Sequence[Damage], notes: Notes) -> None:
    """One warning a damage; of a file full of them the first few, and what the others cost."""
    for one in damage[:DAMAGE_TOLD]:
        notes.warn(f"at byte {one.offset}: {one.text}")
    more = damage[DAMAGE_TOLD:]
    if more:
        lost = counted(sum(one.lost_bytes for one in more), "byte")
        places = counted(len(more), "more damaged place")
        notes.warn(f"{places} from byte {more[0].offset} to {more[-1].offset}: {lost} skipped")


def _activities(found: FitMessages, notes: Notes) -> FitMessages:
    """Leave out the parts that say they are something else; a part that says nothing is kept."""
    told = found["file_id"]
    kinds = dict(zip(told["part"].to_list(), told["type"].to_list(), strict=True))
    others = {part: kind for part, kind in kinds.items() if kind not in ("activity", None)}
    kept = found.without_parts(others)
    words = {KIND_WORDS.get(kind, kind.replace("_", " ")) for kind in others.values()}
    names = " and ".join(sorted(words))
    if others and kept["record"].is_empty() and "activity" not in kinds.values():
        article = "an" if names[0] in "aeiou" else "a"
        raise NotARide(f"{notes.path}: {article} {names} file, not an activity")
    if others:
        notes.note(f"the file also holds {names}: left out")
    activities = sum(kind == "activity" for kind in kinds.values())
    if activities > 1:
        notes.note(f"{activities} activities are chained in this file: read as one ride")
    if not activities and not kept["record"].is_empty():
        notes.note("nothing says what kind of file this is: read as an activity")
    return kept


def _no_record(path: Path, found: FitMessages) -> RideError:
    if len(found["record"]):
        return NotARide(f"{path}: none of its {len(found['record'])} records has a time")
    if found.broken_at is not None:
        damage = found.broken_at
        return DamagedFile(f"{path} @ {damage.offset}: {damage.text}; no record before that")
    return NotARide(f"{path}: an activity without a single record")
