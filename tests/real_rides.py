"""Where the real ride files lie, if they lie anywhere: beside the repository, never inside it."""

from __future__ import annotations

from pathlib import Path

import pytest

REAL_RIDES = Path(__file__).resolve().parents[2] / "shared" / "rides"

needs_real_rides = pytest.mark.skipif(
    not REAL_RIDES.is_dir(), reason=f"no real ride files at {REAL_RIDES}"
)
