"""A store of its own for each test."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from ridelab.store import Store

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """An empty store, open to write."""
    with Store.open(tmp_path / "ridelab.duckdb") as opened:
        yield opened
