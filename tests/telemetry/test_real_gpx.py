"""One real ride in three files: as the unit wrote it, and as two programs exported it to GPX.

The folder ``shared/rides`` lies beside the checkout, not in it; without it these tests skip.
"""

from __future__ import annotations

import numpy as np
import pytest

from ridelab.telemetry import gpx, read_ride
from tests.real_rides import REAL_RIDES

pytestmark = pytest.mark.skipif(
    not REAL_RIDES.is_dir(), reason=f"real ride files are not at {REAL_RIDES}"
)

#: Largest differences from the FIT file: half a unit of the last digit written, a of 7 decimals of
#: a degree and 1 of a metre, b of a 32-bit float. Distance and speed are our own, from positions
#: every second; the unit's speed is smoothed, its distance that of positions of full resolution.
TOLERANCES = {
    "a": {"lat_deg": 5.1e-7, "lon_deg": 5.1e-7, "altitude_m": 1e-9, "cadence_rpm": 0.0},
    "b": {"lat_deg": 1e-12, "lon_deg": 1e-12, "altitude_m": 3e-5, "cadence_rpm": 0.0},
}


@pytest.mark.parametrize("export", ["a", "b"])
def test_the_same_ride_is_read_from_gpx_as_from_fit(export: str) -> None:
    """Time by time: every second, positions, altitude and cadence as exact as they were written."""
    unit = read_ride(REAL_RIDES / "good" / "satellite-hilly.fit")
    found = read_ride(REAL_RIDES / "good" / f"satellite-hilly-{export}.gpx")
    assert found.started_at == unit.started_at
    assert found.samples["t_s"].equals(unit.samples["t_s"])
    assert found.speed_source == unit.speed_source == "satellite"
    assert (found.format, found.problems, len(found.pauses)) == ("gpx", (), 0)
    for column, tolerance in TOLERANCES[export].items():
        difference = (found.samples[column] - unit.samples[column]).abs().to_numpy()
        assert difference.max() <= tolerance, column


@pytest.mark.parametrize("export", ["a", "b"])
def test_distance_and_speed_along_positions_are_those_of_the_unit(export: str) -> None:
    """Distance within 0.2 %, and 8 cm in nine seconds of ten; speed within 0.2 m/s in half."""
    unit = read_ride(REAL_RIDES / "good" / "satellite-hilly.fit").samples
    found = read_ride(REAL_RIDES / "good" / f"satellite-hilly-{export}.gpx").samples
    assert found["distance_m"][-1] == pytest.approx(unit["distance_m"][-1], rel=2e-3)
    steps = np.abs(np.diff(found["distance_m"]) - np.diff(unit["distance_m"]))
    assert np.quantile(steps, 0.9) < 0.08
    speed = (found["speed_mps"] - unit["speed_mps"]).abs().to_numpy()
    assert np.median(speed) < 0.2
    assert np.quantile(speed, 0.95) < 0.7


def test_power_is_read_where_it_was_exported() -> None:
    """One of the two programs wrote it."""
    unit, a, b = (
        read_ride(REAL_RIDES / "good" / f"satellite-hilly{name}").samples["power_w"]
        for name in (".fit", "-a.gpx", "-b.gpx")
    )
    assert a.equals(unit)
    assert b.null_count() == len(b)


def test_a_real_file_cut_in_the_middle_keeps_its_points() -> None:
    """Every complete one: counted by their closing tags."""
    path = REAL_RIDES / "good" / "satellite-hilly-b.gpx"
    content = path.read_bytes()[:3_000_000]
    found = gpx.read(path, content)
    assert len(found.samples) == content.count(b"</trkpt>")
    assert "the file breaks off" in found.problems[0].message
