"""Packed rides through the one door: the same ride as unpacked, and several of them."""

from __future__ import annotations

import gzip
from typing import TYPE_CHECKING

import pytest

from ridelab.errors import DamagedFile, NotARide, UnknownFormat
from ridelab.telemetry import Ride, read_ride, read_rides
from tests.telemetry.archives.packing import zip_of
from tests.telemetry.fitbytes import fit_file, ride

if TYPE_CHECKING:
    from pathlib import Path


def written(tmp_path: Path, content: bytes, name: str) -> Path:
    """A file of that content."""
    path = tmp_path / name
    path.write_bytes(content)
    return path


def test_packed_ride_is_the_same_ride(tmp_path: Path) -> None:
    """Samples and identity; the path goes on inside the archive."""
    plain = read_ride(written(tmp_path, ride(), "a.fit"))
    for name, content in (
        ("a.fit.gz", gzip.compress(ride())),
        ("a.zip", zip_of({"a.fit": ride()})),
    ):
        packed = read_ride(written(tmp_path, content, name))
        assert packed.samples.equals(plain.samples)
        assert packed.sha256 == plain.sha256
        assert packed.path == tmp_path / name / "a.fit"


def test_archive_of_several_rides_is_read_by_read_rides(tmp_path: Path) -> None:
    """In the order of the archive, errors in their places; ``read_ride`` says what to use."""
    content = zip_of({"a.fit": ride(), "note.txt": b"words", "b.fit": ride(seconds=9)})
    path = written(tmp_path, content, "a.zip")
    first, words, second = read_rides(path)
    assert isinstance(first, Ride)
    assert isinstance(second, Ride)
    assert isinstance(words, UnknownFormat)
    assert len(second.samples) > len(first.samples)
    with pytest.raises(NotARide, match="archive of 2 rides; read_rides reads them all"):
        read_ride(path)


def test_what_is_left_out_beside_the_one_ride_is_told(tmp_path: Path) -> None:
    """The ride is read; its problems name the rest."""
    content = zip_of({"a.fit": ride(), "note.txt": b"words"})
    found = read_ride(written(tmp_path, content, "a.zip"))
    assert "left out: " in found.problems[-1].message
    assert "note.txt: not a ride file" in found.problems[-1].message


def test_archive_without_a_ride_is_its_first_error(tmp_path: Path) -> None:
    """The message names file, member and reason."""
    path = written(tmp_path, zip_of({"broken.fit": fit_file(b"\x07rest")}), "a.zip")
    with pytest.raises(DamagedFile, match=r"a\.zip/broken\.fit @ \d+: "):
        read_ride(path)
    with pytest.raises(DamagedFile, match=r"a\.zip: an archive without a file in it"):
        read_ride(written(tmp_path, zip_of({}), "a.zip"))


def test_damage_of_the_archive_is_told_with_the_ride(tmp_path: Path) -> None:
    """Before what the reader of the format says."""
    packed = gzip.compress(ride())
    found = read_ride(written(tmp_path, packed[:-8] + bytes(8), "a.fit.gz"))
    assert found.problems[0].path == str(tmp_path / "a.fit.gz" / "a.fit")
    assert found.problems[0].message.startswith("the checksum of the gzip stream is wrong")
    assert len(found.samples) == 5


def test_nothing_is_written(tmp_path: Path) -> None:
    """Reading leaves the folder as it was, whatever names an archive uses."""
    path = written(tmp_path, zip_of({"sub/a.fit": ride(), "../b.fit": ride()}), "a.zip")
    read_rides(path)
    assert list(tmp_path.rglob("*")) == [path]
