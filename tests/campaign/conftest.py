"""A small campaign file that tests bend to their purpose."""

from collections.abc import Callable
from pathlib import Path

import pytest

from ridelab.campaign import Campaign, load
from ridelab.errors import CampaignError

Write = Callable[[str], Path]
Refused = Callable[[str], CampaignError]


@pytest.fixture
def write(tmp_path: Path) -> Write:
    """Return a function that writes a text as campaign.toml and returns its path."""

    def write_text(text: str) -> Path:
        path = tmp_path / "campaign.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return write_text


@pytest.fixture
def read(write: Write) -> Callable[[str], Campaign]:
    """Return a function that reads a text as a campaign."""
    return lambda text: load(write(text))


@pytest.fixture
def refused(write: Write) -> Refused:
    """Return a function that reads a text that must be refused, and returns the error."""

    def refuse(text: str) -> CampaignError:
        path = write(text)
        with pytest.raises(CampaignError) as refusal:
            load(path)
        assert refusal.value.file == str(path)
        assert str(refusal.value).startswith(f"{path}: ")
        return refusal.value

    return refuse
