"""The cadences that suit a rider, as the campaign states them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from ridelab.campaign import load
from ridelab.errors import CampaignError

if TYPE_CHECKING:
    from pathlib import Path

    from ridelab.campaign import Campaign


def read(tmp_path: Path, line: str) -> Campaign:
    """A campaign of one vehicle with one line more."""
    file = tmp_path / "campaign.toml"
    file.write_text(
        f'[campaign]\n[vehicles.heron]\nkind = "trike"\nrides = ["*.fit"]\n{line}\n',
        encoding="utf-8",
    )
    return load(file)


def test_two_cadences_are_kept(tmp_path: Path) -> None:
    """Whole or not; where nobody says, None."""
    stated = read(tmp_path, "comfortable_rpm = [55, 92.5]").vehicles["heron"]
    assert stated.comfortable_rpm == (55.0, 92.5)
    assert read(tmp_path, "").vehicles["heron"].comfortable_rpm is None


@pytest.mark.parametrize("value", ["[]", "[55]", "[95, 55]", "[55, 75, 95]", "[5, 90]", '"55-95"'])
def test_anything_else_is_refused_by_its_key(tmp_path: Path, value: str) -> None:
    """With what was found, and what would be accepted."""
    with pytest.raises(CampaignError, match="comfortable_rpm") as refused:
        read(tmp_path, f"comfortable_rpm = {value}")
    assert "such as [55, 95]" in str(refused.value)
