"""Every field of every message, beside what fitdecode reads from the same bytes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from ridelab.telemetry.fit.developer import PREFIX
from ridelab.telemetry.fit.messages import decode
from tests.real_rides import REAL_RIDES, needs_real_rides
from tests.telemetry.fit import reference

if TYPE_CHECKING:
    from pathlib import Path

FILES = sorted(REAL_RIDES.glob("*/*.fit")) if REAL_RIDES.is_dir() else []


@needs_real_rides
@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_field_is_the_one_that_fitdecode_reads(path: Path) -> None:
    """All numeric fields of all messages of the profile, to the last bit, in file order.

    Behind the first damage fitdecode reads nothing; there may be more messages, never fewer.
    """
    content = path.read_bytes()
    wanted = reference.every_field()
    found = decode(content, wanted)
    for name, theirs in reference.tables(content, wanted).items():
        ours = found[name].select(theirs.columns)
        if found.damage:
            assert len(ours) >= len(theirs), name
            ours = ours.head(len(theirs))
        assert ours.equals(theirs), name


@needs_real_rides
@pytest.mark.parametrize(
    "name", ["developer-data", "phone-app-2017", "run-developer-types"], ids=str
)
def test_developer_fields_of_records_are_those_that_fitdecode_reads(name: str) -> None:
    """By name, each value; the unit follows in brackets."""
    content = (REAL_RIDES / "odd" / f"{name}.fit").read_bytes()
    theirs = reference.developer_fields(content, "record")
    records = decode(content)["record"]
    found = {label: records[label] for label in records.columns if label.startswith(PREFIX)}
    assert {label.removeprefix(PREFIX).partition(" [")[0] for label in found} == set(theirs)
    for label, values in found.items():
        assert values.to_list() == theirs[label.removeprefix(PREFIX).partition(" [")[0]], label
