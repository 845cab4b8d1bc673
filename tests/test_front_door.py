"""The front door: short, complete, and light."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import ridelab
from ridelab.resources import data_dir


def test_every_exported_name_exists() -> None:
    """``__all__`` promises nothing that is not there, and hides nothing that is offered."""
    for name in ridelab.__all__:
        assert getattr(ridelab, name) is not None
    assert sorted(ridelab.__all__) == sorted(ridelab._HOME)


def test_a_name_nobody_offers_is_an_attribute_error() -> None:
    """A misspelt name is told as Python tells it."""
    assert not hasattr(ridelab, "read_rides")


def test_importing_the_package_loads_nothing_heavy() -> None:
    """``import ridelab`` alone brings neither polars nor duckdb nor altair."""
    code = "import sys, ridelab; print({'polars', 'duckdb', 'altair', 'scipy'} & set(sys.modules))"
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "set()"


def test_version_is_the_one_in_pyproject() -> None:
    """The package and its metadata state one version."""
    text = (Path(__file__).parents[1] / "pyproject.toml").read_text(encoding="utf-8")
    assert f'version = "{ridelab.__version__}"' in text


def test_data_folders_are_found_beside_the_package() -> None:
    """In a checkout ``sql`` and ``pipelines`` are the live folders at the top level."""
    for name in ("sql", "pipelines"):
        assert str(data_dir(name)) == str(Path(__file__).parents[1] / name)
