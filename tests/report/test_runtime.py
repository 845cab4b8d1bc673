"""The script that draws charts: made once, kept, and never taken for whole when it is not."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from ridelab.report import runtime

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def made(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Keep scripts in a folder of the test's own; list those that are made, short ones."""
    every: list[str] = []

    def short() -> str:
        every.append(f"draw('\r\n \u2603', {len(every)});")
        return every[-1]

    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setattr(runtime, "_made", short)
    return every


def test_it_is_made_once(made: list[str]) -> None:
    """The second page has the same script to the last character, whatever ends its lines."""
    first = runtime.chart_runtime()
    assert runtime.chart_runtime() == first
    assert made == [first]


def test_another_version_of_the_package_makes_its_own(
    made: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """What an older one made stays, for whoever has that."""
    first = runtime.chart_runtime()
    with monkeypatch.context() as newer:
        newer.setattr(runtime, "version", lambda _: "99.0")
        assert runtime.chart_runtime() != first
    assert runtime.chart_runtime() == first
    assert len(made) == 2


@pytest.mark.parametrize("damage", [b"draw(", b"\xff\xfe", b""])
def test_a_script_that_is_not_whole_is_made_anew(
    made: list[str], tmp_path: Path, damage: bytes
) -> None:
    """Cut off, not even text, or nothing at all."""
    runtime.chart_runtime()
    (file,) = (tmp_path / "cache" / "ridelab").iterdir()
    file.write_bytes(damage)
    assert runtime.chart_runtime() == made[1]
    assert runtime.chart_runtime() == made[1]
    assert len(made) == 2


def test_nothing_is_kept_where_nothing_can_be_written(
    made: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file stands where the folder should be: each page makes the script itself."""
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "file"))
    assert [runtime.chart_runtime(), runtime.chart_runtime()] == made
    assert len(made) == 2
