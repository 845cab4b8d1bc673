"""The wheel carries all that the program needs: built, installed in a fresh environment, run."""

from __future__ import annotations

import subprocess
import sys
import venv
import zipfile
from pathlib import Path

import pytest

TOP = Path(__file__).resolve().parents[1]


def run(*command: object, folder: Path) -> str:
    """Run a command outside the checkout and return what it printed."""
    done = subprocess.run(
        [str(part) for part in command], cwd=folder, capture_output=True, text=True, check=False
    )
    assert done.returncode in (0, 3), f"{command}\n{done.stdout}\n{done.stderr}"
    return done.stdout


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the wheel of this checkout, built as a user's pip builds it."""
    out = tmp_path_factory.mktemp("wheel")
    run(sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "-w", out, TOP, folder=out)
    (built,) = out.glob("ridelab-*.whl")
    return built


def test_wheel_holds_every_sql_and_pipeline_file(wheel: Path) -> None:
    """What lies in ``sql/`` and ``pipelines/`` of the checkout lies in the wheel, nothing more."""
    packed = set(zipfile.ZipFile(wheel).namelist())
    for name in ("sql", "pipelines"):
        here = {
            f"ridelab/_{name}/{path.relative_to(TOP / name).as_posix()}"
            for path in (TOP / name).rglob("*")
            if path.is_file()
        }
        assert here
        assert {entry for entry in packed if entry.startswith(f"ridelab/_{name}/")} == here
    assert not any(entry.startswith(("tests/", "fixtures/")) for entry in packed)


def test_demo_runs_from_the_installed_wheel(wheel: Path, tmp_path: Path) -> None:
    """With nothing but the wheel and what it declares, the demo writes its report."""
    home = tmp_path / "env"
    venv.create(home, with_pip=True)
    programs = home / ("Scripts" if sys.platform == "win32" else "bin")
    run(programs / "python", "-m", "pip", "install", "--quiet", wheel, folder=tmp_path)
    printed = run(programs / "ridelab", "demo", "fleet", folder=tmp_path)
    assert "fleet/report/index.html" in printed
    assert (tmp_path / "fleet" / "report" / "index.html").stat().st_size > 500_000
    where = run(
        programs / "python", "-c", "import ridelab; print(ridelab.__file__)", folder=tmp_path
    )
    assert str(home) in where
