"""Every field of every message, beside what fitdecode reads from the same bytes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

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
        ours = found[name]
        if found.damage:
            assert len(ours) >= len(theirs), name
            ours = ours.head(len(theirs))
        assert ours.equals(theirs), name
