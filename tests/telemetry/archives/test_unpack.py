"""Archives are opened in memory, whatever is in them; what cannot be had is refused alone."""

from __future__ import annotations

import gzip
import hashlib
import io
import os
import stat
import struct
import zipfile
import zlib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ridelab.telemetry.archives import Content, bounds, gz, unpack, zipped
from ridelab.telemetry.archives.names import apart
from tests.telemetry.archives.packing import zip_of

RIDE = bytes(range(256)) * 40
OTHER = b"another ride entirely" * 50
_PATH = Path("rides/heron/week.zip")
#: Contents that are no archive themselves.
PLAIN = st.binary(max_size=300).filter(lambda content: content[:2] not in (b"PK", b"\x1f\x8b"))


def opened(content: bytes, path: Path = _PATH) -> list[Content]:
    """All contents of a file."""
    return list(unpack(path, content))


def told(content: Content) -> list[str]:
    """What was odd about it."""
    return [problem.message for problem in content.problems]


def test_plain_file_is_its_own_content() -> None:
    """Path and bytes as they are, nothing inside."""
    assert opened(RIDE) == [Content(_PATH, RIDE)]


@settings(deadline=None)
@given(st.dictionaries(st.text("abc/é", min_size=1, max_size=9), PLAIN, max_size=5))
def test_what_the_standard_library_packs_comes_out_again(members: dict[str, bytes]) -> None:
    """Reference: the zipfile module writes and lists; folders are passed over."""
    packed = zip_of(members)
    with zipfile.ZipFile(io.BytesIO(packed)) as archive:
        files = [info for info in archive.infolist() if not info.is_dir()]
        expected = [archive.read(info) for info in files]
    assert [found.data for found in opened(packed) if not found.refusal] == expected


@settings(deadline=None)
@given(st.lists(PLAIN, min_size=1, max_size=4))
def test_gzip_streams_in_a_row_are_one_content(parts: list[bytes]) -> None:
    """RFC 1952, section 2.2: members follow each other; packed by the standard library."""
    [found] = opened(b"".join(map(gzip.compress, parts)), Path("ride.fit.gz"))
    assert found.data == b"".join(parts)
    assert (found.inside, told(found)) == ("ride.fit", [])


def test_contents_are_known_by_place_and_hash() -> None:
    """The path goes on inside the archive; the SHA-256 is of the unpacked bytes."""
    [found] = opened(zip_of({"may/monday.fit": RIDE}))
    assert found.path == _PATH / "may/monday.fit"
    assert found.inside == "may/monday.fit"
    assert found.sha256 == hashlib.sha256(RIDE).hexdigest()


def test_archives_in_archives_are_opened() -> None:
    """A packed ride and a folder of them, in one archive."""
    inner = zip_of({"b.fit": OTHER})
    packed = zip_of({"a.fit.gz": gzip.compress(RIDE), "sub/inner.zip": inner})
    found = {one.inside: one.data for one in opened(packed)}
    assert found == {"a.fit.gz/a.fit": RIDE, "sub/inner.zip/b.fit": OTHER}


def test_archive_is_known_by_its_content_not_its_name() -> None:
    """A packed file under the name of a ride."""
    [found] = opened(gzip.compress(RIDE), Path("ride.fit"))
    assert found.data == RIDE


def test_nesting_has_an_end() -> None:
    """The innermost archive is not opened, and that is said."""
    packed = RIDE
    for _ in range(bounds.MAX_DEPTH + 1):
        packed = gzip.compress(packed)
    [found] = opened(packed)
    assert found.refusal == bounds.TOO_DEEP


def test_hidden_files_and_folders_are_passed_over() -> None:
    """What copying on some systems leaves beside each real file."""
    packed = zip_of({"a/": b"", "a/.b.fit": OTHER, "__MACOSX/a/._b.fit": OTHER, "a/b.fit": RIDE})
    assert [found.inside for found in opened(packed)] == ["a/b.fit"]


@pytest.mark.parametrize("packed", [zip_of({}), zip_of({"folder/": b""}), zip_of({".x": RIDE})])
def test_archive_without_files_says_so(packed: bytes) -> None:
    """One refusal for the archive itself."""
    [found] = opened(packed)
    assert (found.path, found.refusal) == (_PATH, "an archive without a file in it")


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("../../etc/a.fit", "etc/a.fit"),
        ("/a.fit", "a.fit"),
        ("C:\\rides\\a.fit", "rides/a.fit"),
        ("..\\a.fit", "a.fit"),
        ("..", "member 1"),
    ],
)
def test_name_that_leads_outside_is_shown_inside(name: str, shown: str) -> None:
    """Read all the same, as names are for display only; and told."""
    info = zipfile.ZipInfo("x" * len(name))
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr(info, RIDE)
    [found] = opened(out.getvalue().replace(b"x" * len(name), name.encode()))
    assert (found.inside, found.data) == (shown, RIDE)
    assert f"leads outside of it: shown as {shown}" in told(found)[0]


def test_signs_in_a_name_cannot_reach_a_terminal() -> None:
    """Control characters are replaced; equal names are told apart."""
    packed = zip_of({"a\x1b[31m.fit": RIDE, "a\x07[31m.fit": OTHER})
    assert [found.inside for found in opened(packed)] == ["a\ufffd[31m.fit", "a\ufffd[31m.fit (2)"]


def test_same_name_many_times_is_numbered() -> None:
    """Each member has a path of its own, whatever the archive does."""
    taken: dict[str, int] = {}
    names = [apart(name, taken) for name in ("a", "a (2)", "a", "a", "a (2)")]
    assert names == ["a", "a (2)", "a (3)", "a (4)", "a (2) (2)"]


def test_gzip_streams_are_bounded_in_number(monkeypatch: pytest.MonkeyPatch) -> None:
    """Those before are read, and the rest is told of."""
    monkeypatch.setattr(gz, "MAX_MEMBERS", 3)
    [found] = opened(gzip.compress(b"part") * 5)
    assert found.data == b"part" * 3
    assert told(found) == ["more than 3 gzip streams: those after them are left out"]


def test_link_is_not_followed() -> None:
    """A symbolic link as archives of Unix systems hold one."""
    link = zipfile.ZipInfo("link.fit")
    link.create_system = 3
    link.external_attr = (stat.S_IFLNK | 0o777) << 16
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr(link, "/etc/passwd")
        archive.writestr("a.fit", RIDE)
    first, second = opened(out.getvalue())
    assert first.refusal == "is a link to another file: not followed"
    assert (first.data, second.data) == (b"", RIDE)


def with_flag(packed: bytes, flag: int) -> bytes:
    """A one-member archive with a general purpose bit set in both its headers."""
    changed = bytearray(packed)
    changed[6] |= flag
    changed[packed.index(b"PK\x01\x02") + 8] |= flag
    return bytes(changed)


def test_encrypted_member_is_refused() -> None:
    """Bit 0 of the general purpose flags (APPNOTE 6.3, section 4.4.4)."""
    [found] = opened(with_flag(zip_of({"a.fit": RIDE}), 1))
    assert found.refusal.startswith("is encrypted; accepted: ")


@pytest.mark.parametrize("method", [zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_other_packing_methods_are_refused_by_number(method: int) -> None:
    """And the message says which are accepted."""
    [found] = opened(zip_of({"a.fit": RIDE}, method))
    assert found.refusal == f"is packed by method {method}; accepted: stored or deflated"


@pytest.mark.parametrize("method", [zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED])
def test_wrong_checksum_is_told_and_the_content_read(method: int) -> None:
    """Most of it is right; a format with a checksum of its own will say more."""
    packed = bytearray(zip_of({"a.fit": RIDE, "b.fit": OTHER}, method))
    struct.pack_into("<I", packed, packed.index(b"PK\x01\x02") + 16, zlib.crc32(RIDE) ^ 1)
    first, second = opened(bytes(packed))
    assert first.data == RIDE
    assert told(first) == ["its checksum in the archive is wrong: some of the content may be"]
    assert (second.data, told(second)) == (OTHER, [])


def test_damaged_member_keeps_what_is_before_the_damage() -> None:
    """Incompressible bytes, so that the damage lies where it was made."""
    noise = os.urandom(200_000)
    packed = bytearray(gzip.compress(noise))
    # a stored block of deflate begins with its length and the complement of it; break the last one
    at = len(packed) - 8 - (200_000 % 65535) // 2
    broken = bytes(packed[:at])
    [found] = opened(broken, Path("a.fit.gz"))
    assert len(found.data) > 100_000
    assert noise.startswith(found.data)
    assert told(found) == ["the gzip stream breaks off: what is before that is read"]


def test_flipped_bytes_in_a_stream_cost_what_follows() -> None:
    """The library finds the damage; everything that it gave before stays."""
    text = b"".join(b"%d;%d\n" % (n, n * n % 97) for n in range(60_000))
    packed = bytearray(gzip.compress(text))
    half = len(packed) // 2
    packed[half : half + 40] = bytes(40)
    [found] = opened(bytes(packed), Path("a.csv.gz"))
    assert found.problems
    assert found.data[: len(text) // 4] == text[: len(text) // 4]


@pytest.mark.parametrize("cut", [30, 200, 9_000])
def test_cut_archive_yields_its_whole_members_and_part_of_the_last(cut: int) -> None:
    """A ZIP archive has its directory at the end: without it members are looked for."""
    noise = os.urandom(10_000)
    packed = zip_of({"a.fit": RIDE, "b.fit": noise})
    begin = packed.index(b"b.fit") + 5
    found = opened(packed[: begin + cut])
    assert [one.inside for one in found] == ["a.fit", "b.fit"]
    assert found[0].data == RIDE
    assert found[1].refusal or noise.startswith(found[1].data)
    assert "the archive's directory is damaged or missing" in told(found[0])[0]
    if cut == 9_000:
        assert len(found[1].data) > 8_000


def test_gzip_oddities_are_told() -> None:
    """Wrong checksum, none, and bytes behind: the content is there in each case."""
    packed = gzip.compress(RIDE)
    wrong = packed[:-8] + bytes(8)
    for content, words in (
        (wrong, "the checksum of the gzip stream is wrong"),
        (packed[:-3], "breaks off in its checksum"),
        (packed + b"trailing", "8 bytes behind the gzip stream are no gzip"),
    ):
        [found] = opened(content)
        assert found.data == RIDE
        assert words in told(found)[0]
    assert told(opened(packed + bytes(512))[0]) == []


def test_gzip_header_with_every_field_is_passed() -> None:
    """RFC 1952, section 2.3: extra field, name, comment and header checksum."""
    stream = zlib.compressobj(wbits=-15)
    deflated = stream.compress(RIDE) + stream.flush()
    header = b"\x1f\x8b\x08" + bytes([2 | 4 | 8 | 16]) + bytes(6)
    header += b"\x03\x00abc" + b"name.fit\0" + b"a comment\0" + b"\x12\x34"
    [found] = opened(header + deflated + struct.pack("<II", zlib.crc32(RIDE), len(RIDE)))
    assert (found.data, told(found)) == (RIDE, [])


def test_member_that_expands_too_far_is_refused_and_the_others_read() -> None:
    """Zeros deflate about a thousand times, which no ride does."""
    bomb = bytes(40 << 20)
    packed = zip_of({"bomb.fit": bomb, "a.fit": RIDE, "bomb.gz": gzip.compress(bomb)})
    first, second, third = opened(packed)
    assert first.refusal == third.refusal == bounds.TOO_LARGE
    assert second.data == RIDE


def test_size_that_is_announced_too_small_does_not_deceive() -> None:
    """The declared size is a promise; the bound is on what really comes out."""
    packed = bytearray(zip_of({"bomb.fit": bytes(40 << 20)}))
    struct.pack_into("<I", packed, packed.index(b"PK\x01\x02") + 24, 100)
    [found] = opened(bytes(packed))
    assert found.refusal == bounds.TOO_LARGE


def test_many_members_on_the_same_bytes_share_one_budget(monkeypatch: pytest.MonkeyPatch) -> None:
    """A directory may list one member a thousand times; here the budget is that of three."""
    monkeypatch.setattr(bounds, "FREE_TOTAL_BYTES", 3 * len(RIDE))
    monkeypatch.setattr(bounds, "MAX_RATIO", 0)
    packed = zip_of({"a.fit": RIDE})
    directory = packed.index(b"PK\x01\x02")
    entry, end = packed[directory:-22], bytearray(packed[-22:])
    struct.pack_into("<HHI", end, 8, 10, 10, 10 * len(entry))
    found = opened(packed[:directory] + entry * 10 + bytes(end))
    assert [bool(one.refusal) for one in found] == [False] * 3 + [True] * 7


def test_members_that_expand_to_nothing_are_bounded_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """Empty stored blocks (RFC 1951, 3.2.4) take time and yield no byte; here for three members."""
    blocks = b"\0\0\0\xff\xff" * 1000 + b"\1\0\0\xff\xff"
    packed = zip_of({"a.fit": blocks}, zipfile.ZIP_STORED)
    directory = packed.index(b"PK\x01\x02")
    entry, end = bytearray(packed[directory:-22]), bytearray(packed[-22:])
    struct.pack_into("<HHI", end, 8, 10, 10, 10 * len(entry))
    struct.pack_into("<H", entry, 10, zipfile.ZIP_DEFLATED)
    monkeypatch.setattr(
        bounds.Budget, "of_file", lambda _: bounds.Budget(1 << 30, 3 * len(blocks) + 9)
    )
    found = opened(packed[:directory] + bytes(entry) * 10 + bytes(end))
    assert [one.refusal == bounds.TOO_LARGE for one in found] == [False] * 3 + [True] * 7


def test_nameless_member_is_read() -> None:
    """It is called by its place."""
    info = zipfile.ZipInfo("x")
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr(info, RIDE)
    packed = out.getvalue()
    directory = packed.index(b"PK\x01\x02")
    entry = bytearray(packed[directory:-22])
    del entry[46]
    struct.pack_into("<H", entry, 28, 0)
    end = bytearray(packed[-22:])
    struct.pack_into("<I", end, 12, len(entry))
    [found] = opened(packed[:directory] + bytes(entry) + bytes(end))
    assert (found.inside, found.data) == ("member 1", RIDE)


def test_members_are_bounded_in_number(monkeypatch: pytest.MonkeyPatch) -> None:
    """Those before are read; one refusal stands for the rest."""
    monkeypatch.setattr(bounds.Budget, "of_file", lambda _: bounds.Budget(1 << 30, 1 << 30, 2))
    found = opened(zip_of({f"{n}.fit": RIDE for n in range(5)}))
    assert [one.refusal for one in found] == ["", "", bounds.TOO_MANY]


def test_directory_that_is_too_long_is_not_loaded(monkeypatch: pytest.MonkeyPatch) -> None:
    """The members are found one by one instead."""
    monkeypatch.setattr(zipped, "_MOST_ENTRIES", 1)
    found = opened(zip_of({"a.fit": RIDE, "b.fit": OTHER}))
    assert [one.data for one in found] == [RIDE, OTHER]
    assert told(found[0]) == ["the archive's directory is too long to be read"]


@settings(deadline=None)
@given(st.data())
def test_damaged_archive_is_contents_and_refusals(data: st.DataObject) -> None:
    """Flipped bytes and cuts anywhere: no other error, and never more than the bounds allow."""
    content = bytearray(zip_of({"a.fit.gz": gzip.compress(RIDE), "b.fit": OTHER}))
    for _ in range(data.draw(st.integers(1, 4))):
        content[data.draw(st.integers(0, len(content) - 1))] = data.draw(st.integers(0, 255))
    cut = data.draw(st.integers(0, len(content)))
    found = opened(bytes(content[:cut]))
    assert found
    assert sum(len(one.data) for one in found) <= bounds.FREE_TOTAL_BYTES
